//! A heat as a stimulus file: what happens at a board's pins, for an emulated board to be played to.
//!
//! The same sensor events that the rig would stamp and feed to a dash are written down as levels, bytes and chip
//! answers, so that a board meets the very heat that the simulator played. A heat goes in; lines come out.
//!
//! # The file
//!
//! Text, one happening a line, in order of time; `#` begins a comment. Times are whole microseconds of the
//! board's own crystal since it was first switched on, and go on over resets and power cuts.
//!
//! ```text
//! gunline-stimulus 1
//! <t> pin <name> <0|1>      an input by its name in the table of pins; 1 is active (pressed, closed, pulsing)
//! <t> uart <hex>            receiver bytes; the last one's stop bit ends at t, the ones before came back to back
//! <t> probe <index> <hex>   what thermocouple chip <index> answers from now on: a MAX31855 frame, 8 hex digits
//! <t> probe <index> none    the chip no longer answers
//! <t> power off <us>        the supply of the whole board goes for so long
//! <t> reset watchdog        the program hangs, and the watchdog bites
//! <t> look <label>          a look at display, lamps and beeper
//! <t> end
//! ```
//!
//! Inputs rest inactive until they are named. What happens at a pin while the power is off is in the file too:
//! the world does not wait for the board.

mod pen;

use std::fmt;
use std::io::{self, Write};

use firmware::units::{Instant, Span};

use crate::scenario::{BoatSource, Heat};
use crate::sensors::{Part, Sensors};
use crate::world::Bytes;
use crate::world::faults::FaultKind;
use pen::Pen;

/// The rate at which the board listens to its receiver; ten bits a byte.
pub const BAUD: u32 = 115_200;

/// Something that happens to a board from outside.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Happening {
    /// An input changes its level.
    Pin {
        /// Its name in the table of pins.
        name: &'static str,
        /// Pressed, closed, pulsing.
        active: bool,
    },
    /// Bytes from the receiver; the last one's stop bit ends now.
    Uart(Bytes),
    /// What a thermocouple chip answers from now on.
    Probe {
        /// Which chip: 0 for the first.
        index: u8,
        /// A MAX31855 frame; none when it does not answer.
        frame: Option<u32>,
    },
    /// The supply goes, and comes back after so long.
    PowerOff(Span),
    /// The program hangs, and the watchdog bites.
    Watchdog,
    /// Somebody looks at display, lamps and beeper.
    Look(String),
    /// It is over.
    End,
}

impl fmt::Display for Happening {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Pin { name, active } => write!(f, "pin {name} {}", u8::from(*active)),
            Self::Uart(bytes) => {
                f.write_str("uart ")?;
                bytes.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
            }
            Self::Probe { index, frame: Some(frame) } => write!(f, "probe {index} {frame:08x}"),
            Self::Probe { index, frame: None } => write!(f, "probe {index} none"),
            Self::PowerOff(off) => write!(f, "power off {}", off.as_micros()),
            Self::Watchdog => f.write_str("reset watchdog"),
            Self::Look(label) => write!(f, "look {label}"),
            Self::End => f.write_str("end"),
        }
    }
}

/// Why a heat cannot be played to a board's pins.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoStimulus {
    /// Zero is told beforehand.
    #[error(
        "a scheduled zero reaches a board through its USB port, not through a pin: take out \
         `scheduled = true` and let the driver press"
    )]
    Scheduled,
    /// Another line than the board's.
    #[error(
        "the board listens at {BAUD} baud, but this heat's receiver sends at {0}: set receiver.baud = {BAUD}"
    )]
    Baud(u32),
    /// More bytes than the line carries.
    #[error(
        "the receiver sends more than {BAUD} baud can carry: at {at} race time a message of {bytes} bytes begins \
         {early_us} us before the one in front of it has ended. Lower receiver.rate_hz, or thin the recording out"
    )]
    Overrun {
        /// When the second of the two ends, race time as people write it.
        at: String,
        /// How long it is.
        bytes: usize,
        /// By how much they overlap.
        early_us: i64,
    },
    /// A chip that the file has no words for.
    #[error("this heat's thermocouple chip is not a MAX31855: a stimulus file has no words for its answers")]
    OtherChip,
    /// A look when nothing is played.
    #[error("the look at {0} race time lies outside of the part that is played")]
    LookOutside(String),
}

/// A heat as a board meets it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stimulus(Vec<(Instant, Happening)>);

impl Stimulus {
    /// Writes down a part of a heat, with looks at these race times; none: ten, evenly spread.
    ///
    /// # Errors
    /// [`NoStimulus`] when it needs more than the pins.
    pub fn new(heat: &Heat, part: Part, looks: &[Span]) -> Result<Self, NoStimulus> {
        if heat.scheduled {
            return Err(NoStimulus::Scheduled);
        }
        if heat.boat == BoatSource::World && heat.world.receiver.baud != BAUD {
            return Err(NoStimulus::Baud(heat.world.receiver.baud));
        }
        // A restart is the board's own affair: its surroundings go on meanwhile.
        let mut around = heat.clone();
        around.world.faults.retain(|fault| !restarts(fault.kind));
        around.world.pickups.tells = true;
        let sensors = Sensors::new(&around, part);
        let mut pen = Pen::new(sensors.crystal());
        for (t, event) in sensors.events() {
            pen.event(t, event)?;
        }
        let faults = heat.world.faults.iter();
        for fault in faults.filter(|fault| restarts(fault.kind) && part.contains(fault.at)) {
            pen.restart(fault);
        }
        let spread = if looks.is_empty() { pen.spread(10) } else { Vec::new() };
        for look in looks.iter().chain(&spread) {
            pen.look(*look)?;
        }
        Ok(Self(pen.finish()))
    }

    /// What happens, in order of time.
    #[must_use]
    pub fn happenings(&self) -> &[(Instant, Happening)] {
        &self.0
    }

    /// Writes the file.
    ///
    /// # Errors
    /// Whatever the writer says.
    pub fn write(&self, out: &mut impl Write) -> io::Result<()> {
        writeln!(out, "gunline-stimulus 1")?;
        self.0.iter().try_for_each(|(at, happening)| writeln!(out, "{} {happening}", at.as_micros()))
    }
}

const fn restarts(kind: FaultKind) -> bool {
    matches!(kind, FaultKind::PowerBlip | FaultKind::WatchdogReset)
}
