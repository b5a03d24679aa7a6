//! What a dash takes with it through a restart, so that a power blip does not lose the race.
//!
//! A running dash can say at any time what a fresh one would have to know to go on: [`Carried`]. The journal keeps
//! the newest one, and for restarts with the power on eight words that such a restart leaves alone keep the part
//! that matters most: [`Scratch`]. At boot [`plan`] makes of both where the board's clock goes on and what the
//! fresh dash is told first: a [`Resume`]. Zero is never invented: it comes back on the board's clock when that
//! carried on, else from UTC, else not at all.
//!
//! Knows units, outputs and views. Facts of the old dash in, facts for the new one out; decides nothing about the
//! race. The rules are the P group of `docs/timing-logic.md`.

mod plan;
mod scratch;

pub use plan::{Boot, Plan, plan};
pub use scratch::{SCRATCH_WORDS, Scratch};

use serde::{Deserialize, Serialize};

use crate::units::{Instant, Span, Utc};
use crate::view::{CallView, LapView};

/// A zero further past than this is an old heat's: it does not come back from UTC after a cold start. A heat lasts
/// some minutes, a re-start is never so late (common practice, no source).
pub const RESUME_WITHIN: Span = Span::from_secs(30 * 60);

/// How well a board knows how long a restart with the power on took, one standard deviation. The watchdog's period
/// runs on the crystal and is exact; the start of the chip (crystal, boot ROM, second stage) takes some milliseconds
/// that nobody counts (from memory, not measured on a board).
pub const RESTART_SD: Span = Span::from_millis(3);

/// What a fresh dash is told before anything else when the one before it did not end by the driver's will.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Resume {
    /// What the old dash knew.
    pub carried: Carried,
    /// What became of the board's clock meanwhile.
    pub clock: ClockCarried,
}

/// What became of the board's clock in a restart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ClockCarried {
    /// It goes on as if nothing had been, with an error.
    CarriedOn {
        /// One standard deviation of that error.
        sd: Span,
    },
    /// Nobody knows how long it stood: the instants that were carried are on another clock than the stamps to come.
    Unknown,
}

/// What a dash must know to go on. All instants are on one board's clock.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Carried {
    /// When it was said.
    pub at: Instant,
    /// Zero as it was last known; none when the clock was not armed.
    pub known_zero: Option<CarriedZero>,
    /// True while the dash that says it waits for UTC to find that zero again: then all instants here, the one of
    /// saying too, are on a clock that is gone.
    pub is_adrift: bool,
    /// Signals already taken: bit n for signal n of the list by the thumb, bit 8 + n by the contact.
    pub taken: u16,
    /// A schedule that still waits for UTC.
    pub schedule: Option<Utc>,
    /// The heat.
    pub race: CarriedRace,
    /// Units of time owed for running below the speed floor.
    pub floor_units: u8,
}

impl Carried {
    /// Zero on the board's clock that runs now, as [`Scratch`] holds it; none while UTC must find it first.
    #[must_use]
    pub fn zero(&self) -> Option<CarriedZero> {
        self.known_zero.filter(|_| !self.is_adrift)
    }
}

/// Zero, as it is carried.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CarriedZero {
    /// The moment on the board's clock.
    pub at: Instant,
    /// One standard deviation of that moment.
    pub sigma: Span,
    /// The best that it rests on.
    pub rests_on: Basis,
    /// The same moment by the receiver's labels, once they were known.
    pub utc: Option<Labelled>,
}

/// A moment by the receiver's labels.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Labelled {
    /// The label.
    pub utc: Utc,
    /// One standard deviation of the tie between label and board's clock, at that moment.
    pub sigma: Span,
}

/// The best that a zero rests on; what a thumb may overrule hangs on it (rule C5).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Basis {
    /// Presses of the button.
    Thumb,
    /// The gun contact, perhaps with presses.
    Contact,
    /// A schedule, which stands alone.
    Schedule,
}

/// The heat, as it is carried. The default is a heat that has not started.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CarriedRace {
    /// The crossing that counted as the start.
    pub start: Option<CarriedCrossing>,
    /// The start call.
    pub call: Option<CallView>,
    /// The last crossing that counted.
    pub last_counted: Option<CarriedCrossing>,
    /// Laps completed.
    pub laps_done: u16,
    /// The last one.
    pub last_lap: Option<LapView>,
    /// True when the last lap owed was complete.
    pub finished: bool,
}

/// A crossing that counted, as it is carried.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CarriedCrossing {
    /// The moment on the board's clock.
    pub at: Instant,
    /// The moment by the receiver's labels.
    pub utc: Utc,
    /// One standard deviation by the receiver alone.
    pub sigma: Span,
    /// One standard deviation of the tie between the scales.
    pub tie_sigma: Span,
}

#[cfg(test)]
pub(crate) mod tests;
