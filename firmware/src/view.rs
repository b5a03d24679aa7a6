//! What the dash would show at a moment: plain facts, no pixels.
//!
//! A view is made by `Dash::view` and drawn by the screen, the simulator's page or a test. It is pure: the
//! same dash at the same moment gives the same view.
//!
//! This room knows units, outputs and the run-in's words.

use serde::{Deserialize, Serialize};

use crate::engine::PROBES_MAX;
use crate::output::{AlertId, Call, Gauges, Level, Quantity, StartStep, Tie};
use crate::run_in::learn::Offer;
use crate::run_in::risk::Advice;
use crate::units::{Millimetres, MmPerSecond, Span};

/// Everything a screen may show.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct View {
    /// Where in the heat the dash believes it is.
    pub phase: Phase,
    /// Time relative to zero, negative before it; `None` until the clock is armed.
    pub race: Option<Span>,
    /// One standard deviation of the moment of zero.
    pub zero_sigma: Option<Span>,
    /// How far zero moved, for as long as the driver should see it: positive when it is later now.
    pub zero_moved: Option<Span>,
    /// The start call, once made.
    pub call: Option<CallView>,
    /// Laps completed since the start.
    pub laps_done: u16,
    /// Laps to run in all, penalty laps included.
    pub laps_owed: u16,
    /// The last completed lap.
    pub last_lap: Option<LapView>,
    /// Speed over ground by the last fresh fix.
    pub speed: Option<MmPerSecond>,
    /// How well the clock is tied to UTC.
    pub tie: Tie,
    /// The engine.
    pub gauges: Gauges,
    /// The alert that deserves the driver's eye, if any.
    pub alert: Option<AlertView>,
    /// Alerts behind the one shown.
    pub alerts_waiting: u8,
    /// True while the engine limits are the demonstration set: the owner has not entered his own.
    pub demo_limits: bool,
    /// What comes of going flat out now, until the start is made; `None` where there is no run-in.
    pub run_in: Option<RunInView>,
    /// True when this start came through a restart of the dash: what happened meanwhile was not seen.
    pub resumed: bool,
    /// True while a zero of before a restart waits for UTC to be found again.
    pub finding_zero: bool,
    /// True when the dash knows no course: it is a clock and an engine watch.
    pub no_course: bool,
    /// What hot laps have taught, for the driver to accept; never beside an alert.
    pub offer: Option<Offer>,
    /// The engine's start, while one is going on.
    pub start: Option<StartView>,
    /// The most urgent caution, shown or behind a warning.
    pub caution: Option<AlertView>,
    /// The engine limit that will be exceeded first if things go on as they do.
    pub ahead: Option<Ahead>,
    /// How far each probe can be trusted.
    pub trust: [Trust; PROBES_MAX],
    /// The survey's page, while it is on; never with an armed clock.
    pub survey: Option<SurveyView>,
}

/// The survey's page as shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SurveyView {
    /// The number of the mark that is averaged, or comes next, or, once it is taken, was just taken.
    pub number: u8,
    /// How it stands.
    pub stands: SurveyStands,
    /// How well a mark is to be known.
    pub accuracy: Millimetres,
}

/// How a survey stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum SurveyStands {
    /// It waits for a press.
    Ready,
    /// A mark is averaged.
    Averaging {
        /// Fixes so far.
        fixes: u16,
        /// Time spent.
        time: Span,
        /// How well the mean is known now.
        sd: Millimetres,
    },
    /// The mark was taken.
    Marked {
        /// How well it is known.
        sd: Millimetres,
    },
    /// No mark: the boat is under way.
    Moving,
    /// No mark: the boat did not stay where it was.
    Adrift,
    /// No mark: there is no fix.
    NoFix,
    /// No mark: given up before it was worth anything.
    TooShort,
}

/// The engine limit at hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Ahead {
    /// What will be too high for too long.
    pub quantity: Quantity,
    /// Until the limit is exceeded: an allowance runs out, or a rising value gets there.
    pub left: Span,
    /// True when the value is not there yet and would have to go on rising.
    pub is_extrapolated: bool,
}

/// How far a sensor can be trusted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Trust {
    /// It is not fitted, or was never expected.
    #[default]
    None,
    /// Nothing speaks against it.
    Sound,
    /// It disagrees with its mate, or its chip is no temperature for a cockpit.
    Doubtful,
    /// It is broken or silent: it has no value.
    Out,
}

/// Where in the heat the dash believes it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Phase {
    /// Waiting for a first signal.
    Waiting,
    /// Armed; crossings count for nothing yet.
    Milling,
    /// Inside the window in which a crossing is an early start.
    Window,
    /// Zero is past, the bow has not crossed yet.
    Late,
    /// The start is made.
    Racing,
    /// The last lap owed is complete.
    Finished,
}

/// The start call as shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CallView {
    /// The answer.
    pub call: Call,
    /// Crossing time less zero.
    pub margin: Span,
    /// One standard deviation of the margin.
    pub sigma: Span,
}

/// A completed lap as shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LapView {
    /// From crossing to crossing.
    pub time: Span,
    /// The official lap length over the time.
    pub speed: MmPerSecond,
}

/// An alert as shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AlertView {
    /// Which one.
    pub id: AlertId,
    /// How urgent it is.
    pub level: Level,
    /// True once the driver has acknowledged it.
    pub acknowledged: bool,
}

/// The run-in as shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RunInView {
    /// The one word.
    pub advice: Advice,
    /// The crossing less zero if he goes flat out now: negative is before it. Nothing while it would be a lie.
    pub margin: Option<Span>,
    /// One standard deviation of the margin.
    pub sigma: Option<Span>,
    /// The margin to hold for the risk of jumping that the driver accepts.
    pub hold: Span,
    /// How long he may still hold his speed before going; `None` when that cannot bring him there in time.
    pub wait: Option<Span>,
    /// The steady speed that brings him to the line at zero and the margin to hold.
    pub steady: Option<MmPerSecond>,
    /// From the bow along the lane to the line.
    pub to_line: Option<Millimetres>,
    /// True while the boat's figures are invented.
    pub demonstration: bool,
}

impl RunInView {
    /// A word without any number.
    #[must_use]
    pub const fn without(advice: Advice, demonstration: bool) -> Self {
        Self {
            advice,
            margin: None,
            sigma: None,
            hold: Span::ZERO,
            wait: None,
            steady: None,
            to_line: None,
            demonstration,
        }
    }
}

/// The engine's start as shown. Advice: the engine maker's manual rules.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct StartView {
    /// The step that is seen.
    pub step: StartStep,
    /// For how long.
    pub in_step: Span,
    /// Until EGT is at its starting limit at this rate of rise; `None` while it is not heading there.
    pub to_limit: Option<Span>,
    /// What may still be asked of the starter.
    pub starter: StarterView,
    /// What to do, while something is wrong.
    pub act: Option<StartAct>,
    /// True while limits or figures of the start are the demonstration set.
    pub demonstration: bool,
}

/// The starter's duty cycle as shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum StarterView {
    /// It is off and may be switched on.
    Free,
    /// It is on.
    On {
        /// For how long it may stay on.
        left: Span,
    },
    /// It is off and must stay so.
    Rests {
        /// For how long.
        left: Span,
    },
}

/// What to do about a start that goes wrong, by general practice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum StartAct {
    /// Shut the fuel off and keep the starter turning the engine.
    FuelOffKeepCranking,
    /// Shut the fuel off.
    FuelOff,
    /// Keep the starter turning the engine, without fuel.
    KeepCranking,
    /// Switch the starter off.
    StarterOff,
    /// Let the starter rest.
    LetStarterRest,
}
