//! Everything that can happen to the dash.
//!
//! Inputs come stamped with the board's own clock, by whoever feeds the dash: an interrupt on the board, the
//! rig in the simulator, the journal in a replay. The dash has no other window on the world.
//!
//! This room knows the units, the shape of a receiver's fix and what is carried through a restart; it decides
//! nothing.

use serde::{Deserialize, Serialize};

use crate::engine::suffered::Accounts;
use crate::gnss::{Fix, Reject};
use crate::resume::Resume;
use crate::units::{Instant, Span, Utc};

/// One thing that happened. Variants are appended, never reordered: the journal stores their position.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Input {
    /// Only time has passed. Fed when `next_wake` comes due; harmless at any other time.
    Tick,
    /// An input line changed its level. Stamped at the edge itself.
    Edge {
        /// Which line.
        line: Line,
        /// True when the button went down or the contact closed.
        active: bool,
    },
    /// The rising edge of the receiver's pulse per second: a whole UTC second began here.
    Pps,
    /// The receiver reported where it was. Stamped when the last byte of the report arrived.
    Fix(Fix),
    /// The receiver sent something that could not be used.
    Rejected(Reject),
    /// A thermocouple chip was read.
    Probe {
        /// Which probe: 0 for the first.
        index: u8,
        /// The chip's own words, undecoded, so that the record holds what was measured.
        reading: ProbeReading,
    },
    /// Pulses counted on both shafts since the last report.
    Shafts {
        /// The gas generator's pickup.
        n1: Pulses,
        /// The power shaft's pickup.
        n2: Pulses,
    },
    /// The race office's schedule: zero will be at this moment. No gun is needed then.
    Schedule {
        /// The scheduled zero.
        zero: Utc,
    },
    /// The dash before this one was cut short; this is what it knew. Comes before all other inputs, or not at all.
    Resume(Resume),
    /// The power shaft's last turns, one by one, because the newest is news (see `io::pulses::Lookout`). They are
    /// counted in [`Input::Shafts`] as well.
    N2Turns {
        /// How long each took, oldest first; zero where there was none.
        turns: [Span; TURNS],
    },
    /// What the engine has suffered so far: from the record, when a dash begins; from the owner, when he sets it to
    /// nothing.
    Suffered(Accounts),
    /// A host tells UTC: on the board's clock it was `at` when it was `utc` (rule T10).
    Utc {
        /// A moment on the board's clock, not long past.
        at: Instant,
        /// What UTC was then.
        utc: Utc,
        /// One standard deviation of that, whatever took part in it.
        sd: Span,
    },
    /// A host answers what is offered of hot laps in the driver's place (rule G16).
    Offer {
        /// True to take the boat over, false to put the offer away.
        accept: bool,
    },
}

/// So many turns are told one by one.
pub const TURNS: usize = 3;

/// The input lines that a person or a gun moves. Variants are appended, never reordered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Line {
    /// The driver's start button.
    Button,
    /// The wire or radio receiver that closes when the gun fires.
    GunContact,
    /// The button that silences and acknowledges an alert.
    Acknowledge,
    /// The button that turns the page.
    Page,
    /// The igniters' switch, where it is wired.
    Igniter,
    /// The starter on its lower voltage, where it is wired.
    StarterLow,
    /// The starter on its higher voltage, where it is wired.
    StarterHigh,
    /// The start fuel's switch or valve, where it is wired.
    StartFuel,
    /// External power plugged in, where it is wired.
    ExternalPower,
}

/// What a thermocouple chip answered, as read from its registers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ProbeReading {
    /// The 32-bit frame of a MAX31855, most significant bit first.
    Max31855(u32),
    /// The MAX31856's registers 0x0C to 0x0E, 0x0A to 0x0B, and 0x0F.
    Max31856 {
        /// Linearised thermocouple temperature, 24 bits as read.
        hot: u32,
        /// Cold-junction temperature, 16 bits as read.
        cold: u16,
        /// Fault status.
        faults: u8,
    },
    /// The chip did not answer on its bus.
    NoAnswer,
}

/// Pulses from one pickup: how many edges came, and how long they took.
///
/// `span` runs from the last edge of the previous report to the last edge of this one, so that
/// `count / span` is the frequency with no edge lost between reports. With `count` zero, `span` is zero.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Pulses {
    /// Edges since the last report.
    pub count: u16,
    /// Time covered by exactly `count` periods.
    pub span: Span,
}
