//! Everything the dash can decide.
//!
//! Decisions leave through [`Outputs`], a list of fixed size. They are what the journal keeps, what the
//! digest is taken over, and what the timeline prints.
//!
//! This room knows the units and the run-in's words; it decides nothing itself.

use heapless::Vec;
use serde::{Deserialize, Serialize};

use crate::gnss::Position;
use crate::run_in::learn::Offer;
use crate::run_in::risk::Advice;
use crate::units::{CentiPercent, Instant, MilliCelsius, Millimetres, MmPerSecond, PartsPerBillion, Span};

/// The most decisions that one input can lead to.
pub const OUTPUTS_MAX: usize = 24;

/// What one input led to, in the order it was decided.
///
/// When the list is full, further decisions are counted in `lost` and reported as [`Output::Lost`] by the
/// next `feed`: an overflow is a decision that says so.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Outputs {
    list: Vec<Output, OUTPUTS_MAX>,
    lost: u16,
}

impl Outputs {
    /// Adds a decision, or counts it as lost when the list is full.
    pub fn push(&mut self, output: Output) {
        if self.list.push(output).is_err() {
            self.lost = self.lost.saturating_add(1);
        }
    }

    /// The decisions, first decided first.
    #[must_use]
    pub fn as_slice(&self) -> &[Output] {
        &self.list
    }

    /// How many decisions found no room.
    #[must_use]
    pub const fn lost(&self) -> u16 {
        self.lost
    }
}

/// One decision. Variants are appended, never reordered: the journal stores their position.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Output {
    /// The start clock was armed, or zero moved. Zero never moves without this.
    Zero {
        /// The observation that decided it.
        source: ZeroSource,
        /// The moment of zero on the board's clock.
        at: Instant,
        /// How far zero moved; `None` when the clock was not armed before.
        moved: Option<Span>,
        /// One standard deviation of the moment of zero.
        sigma: Span,
    },
    /// A press or closure that was not taken for a signal.
    Stray {
        /// The line it came from.
        contact: bool,
        /// Why it was not taken.
        why: Stray,
    },
    /// The start clock was cleared by holding the button; it waits for a new first gun.
    Cleared,
    /// The bow crossed the line.
    Crossing {
        /// When, on the board's clock.
        at: Instant,
        /// One standard deviation of that moment, seen by the receiver alone.
        sigma: Span,
        /// True in racing direction.
        forward: bool,
        /// How far from the left end of the line.
        place: Millimetres,
        /// What it counted as.
        counted: Counted,
    },
    /// Was the start good?
    Call {
        /// The answer.
        call: Call,
        /// Crossing time less zero: negative is early.
        margin: Span,
        /// One standard deviation of the margin.
        sigma: Span,
        /// True when it replaces an earlier call, because zero has moved since.
        revised: bool,
    },
    /// A lap is complete.
    Lap {
        /// Which lap: 1 for the first after the start.
        lap: u16,
        /// From crossing to crossing.
        time: Span,
        /// The official lap length over the time.
        speed: MmPerSecond,
        /// One standard deviation of the time.
        sigma: Span,
    },
    /// Something was owed.
    Penalty {
        /// For what.
        cause: Cause,
        /// Further laps to run, in all, for this cause.
        laps: u16,
        /// Time to be added, in all, for this cause.
        time: Span,
    },
    /// More water has gone by since the last counted crossing than a lap holds: a crossing was missed.
    LapMissed {
        /// The distance run since then.
        run: Millimetres,
    },
    /// The last lap owed is complete.
    Finish {
        /// Laps run.
        laps: u16,
        /// From zero to the finish, without any time penalty.
        time: Span,
        /// Time penalties owed on top.
        penalty: Span,
    },
    /// An alert changed its state.
    Alert {
        /// Which one.
        id: AlertId,
        /// How urgent it is.
        level: Level,
        /// What became of it.
        state: AlertState,
    },
    /// A sound to make now.
    Cue(Tone),
    /// An engine limit was exceeded, or such an exceedance ended.
    Exceedance {
        /// What was too high.
        quantity: Quantity,
        /// The limit that was exceeded.
        threshold: i32,
        /// The highest value so far, in the quantity's own unit.
        peak: i32,
        /// How long it has been above the threshold.
        above: Span,
        /// True when the value has come back down: peak and time are final.
        over: bool,
    },
    /// What is known of UTC changed.
    Clock {
        /// How well the board's clock is tied to UTC.
        tie: Tie,
        /// The crystal's error as measured.
        drift: PartsPerBillion,
        /// One standard deviation of a fix's place on the board's clock.
        sigma: Span,
    },
    /// An input was not used, and why.
    Refused(Refused),
    /// So many decisions of the previous input found no room.
    Lost(u16),
    /// The start was made: what had been forecast when the boat went flat out, against what came of it.
    RunIn {
        /// The margin that was forecast: crossing less zero.
        forecast: Span,
        /// The margin that it became.
        actual: Span,
        /// One standard deviation of the forecast, without that of zero, which both share.
        sigma: Span,
    },
    /// What the run-in advises: when its word changes, and once a second while the start is ahead.
    Advice {
        /// The word, settled (rule G11).
        word: Advice,
        /// The margin: crossing less zero, if he goes flat out now. Nothing where the word has no number.
        margin: Span,
        /// One standard deviation of the margin; likewise.
        sigma: Span,
        /// The margin to hold; likewise.
        hold: Span,
    },
    /// What hot laps have taught is offered to the driver, or he has accepted it.
    Learned {
        /// True when he accepted: the boat is in force from now on, and [`crate::dash::Dash::settings`] has it.
        accepted: bool,
        /// What it changes, and how good the forecasts were.
        offer: Offer,
    },
    /// The engine's start has come to another step.
    StartStep {
        /// The step that it is in now.
        step: StartStep,
        /// How long it was in the step before.
        took: Span,
    },
    /// What the engine suffered: told when a count changes, and as a whole at the end of a heat.
    Suffered {
        /// Of what.
        what: Suffering,
        /// In this heat.
        heat: u32,
        /// Since the owner set it to nothing.
        total: u32,
    },
    /// A mark of the course was taken by a boat at rest (rule Q5).
    Marked {
        /// Its number, 1 for the first since the dash was switched on.
        number: u8,
        /// The mean of its fixes.
        position: Position,
        /// How well that is known: one standard deviation along any direction.
        sd: Millimetres,
        /// Fixes averaged.
        fixes: u16,
        /// Whole seconds over which they came.
        seconds: u16,
    },
}

/// The steps of a supervised start, in the order of the dock. Variants are appended, never reordered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum StartStep {
    /// Nothing turns, nothing burns.
    AtRest,
    /// The igniters are on.
    Igniters,
    /// The starter turns the engine, on its lower voltage where it has two.
    Cranking,
    /// Start fuel is on; light-off is awaited.
    FuelOn,
    /// It burns.
    Lit,
    /// The starter is on its higher voltage, or it is time for it.
    StarterHigh,
    /// The engine helps its starter and comes up to self-sustaining speed.
    Accelerating,
    /// Self-sustaining; starter and start fuel are off.
    StarterOff,
    /// External power is away.
    PowerAway,
    /// It idles by itself.
    Ready,
    /// It gave power.
    Running,
    /// The fire is out: a start was given up, or the engine was shut down or went out.
    Cooling,
}

/// What an engine's account is kept of. Variants are appended, never reordered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Suffering {
    /// Seconds running by itself.
    RunSeconds,
    /// Starts.
    Starts,
    /// Hot starts among them.
    HotStarts,
    /// Seconds in a band of temperature: 0 below the first edge.
    BandSeconds(u8),
    /// Limits exceeded.
    Exceeded(Quantity),
}

/// What the moment of zero rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ZeroSource {
    /// The driver's press at the signal that comes so many seconds before zero.
    Press {
        /// Seconds from the signal to zero.
        before_s: u16,
    },
    /// The gun contact at the signal that comes so many seconds before zero.
    Contact {
        /// Seconds from the signal to zero.
        before_s: u16,
    },
    /// A scheduled UTC start.
    Utc,
    /// No new observation: the crystal's error is better known than when the clock was armed.
    Drift,
    /// What the dash knew before it was restarted.
    Resumed,
}

/// Why a press or closure was not a signal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Stray {
    /// No signal is due near this moment.
    NoSignalDue,
    /// The signal due at this moment has been taken already from this line.
    AlreadyTaken,
    /// The race is on: every signal is past.
    RaceOn,
    /// A press that disagrees with a gun contact or a schedule: a thumb does not overrule them.
    Overruled,
}

/// What a crossing of the line counted as.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Counted {
    /// The clock was not armed, or the boat was milling: nothing.
    Milling,
    /// The start: lap 0.
    Start,
    /// The end of a lap.
    Lap,
    /// Sooner after the last counted crossing than any boat can lap.
    TooSoon,
    /// Against the racing direction.
    WrongWay,
    /// After the finish.
    AfterFinish,
}

/// The verdict on a start. Advice only: the race officials decide.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Call {
    /// The bow crossed before zero.
    Early,
    /// The bow crossed at or after zero.
    Legal,
    /// The error bar reaches across zero.
    TooClose,
}

/// What a penalty is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Cause {
    /// Jumped the gun.
    EarlyStart,
    /// Ran below the speed floor while milling.
    SpeedFloor,
}

/// What an engine limit is about. Values are in 0.001 degrees Celsius for EGT and 0.01 % for shafts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Quantity {
    /// Exhaust gas temperature.
    Egt,
    /// Gas generator speed.
    N1,
    /// Power shaft speed.
    N2,
}

/// How well the board's clock is tied to UTC.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Tie {
    /// Not at all.
    None,
    /// By the arrival of fixes.
    Arrivals,
    /// By the pulse per second.
    Pps,
    /// By the crystal, since the pulse went.
    Holdover,
    /// By what a host told; no receiver has spoken yet.
    Told,
}

/// Why an input was not used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Refused {
    /// Stamped well before an input that was already fed.
    Late,
    /// A fix for a moment that an earlier fix already covered.
    Repeated,
    /// A fix for a moment that has not come yet.
    FromTheFuture,
    /// A pulse that is not a whole second from the others.
    PulseOutOfStep,
    /// A fix whose label disagrees with the running clock; it takes three alike to be believed.
    LabelOutOfStep,
    /// A schedule that came while the clock's tie to UTC was unknown.
    NoUtcYet,
    /// A schedule whose zero has passed.
    SchedulePast,
    /// A resume to a dash whose clock runs, or that was told already.
    NotFresh,
    /// A resume while neither the board's clock nor UTC tells where zero is: it waits for UTC.
    ZeroWaitsForUtc,
    /// A resume that cannot bring zero back: the board's clock did not carry on, and UTC was never known.
    ZeroLost,
    /// A resume whose zero turns out to be of an old heat.
    ZeroTooOld,
    /// UTC told by a host while a receiver tells it.
    UtcKnown,
    /// UTC told by a host for a moment to come, or long past, or with no useful deviation.
    UtcUnusable,
    /// An answer to an offer while there is none; there is none while a clock runs.
    NothingOffered,
    /// What may not be done while a clock runs, or is to come.
    ClockRuns,
}

/// How urgent an alert is, least first. After 14 CFR 25.1322.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Level {
    /// Be aware; acting may come later.
    Advisory,
    /// Be aware now; act soon.
    Caution,
    /// Be aware now; act now.
    Warning,
}

/// What became of an alert.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum AlertState {
    /// Its condition came.
    Raised,
    /// Its condition went (and, if it latches, it was acknowledged).
    Cleared,
    /// The driver has seen it.
    Acknowledged,
}

/// Every alert there is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum AlertId {
    /// EGT has been above a limit for longer than allowed.
    EgtLimit,
    /// EGT is above a limit that allows it for a time.
    EgtHigh,
    /// N1 has been above a limit for longer than allowed.
    N1Limit,
    /// N1 is above a limit that allows it for a time.
    N1High,
    /// N2 is above the speed at which the shaft has lost its load.
    N2Overspeed,
    /// N2 has been above a limit for longer than allowed.
    N2Limit,
    /// N2 is above a limit that allows it for a time.
    N2High,
    /// A thermocouple or its chip is broken.
    ProbeFault,
    /// No fresh temperature.
    ProbeStale,
    /// No pulses from N1 while the engine runs.
    N1Signal,
    /// No pulses from N2 while the engine runs.
    N2Signal,
    /// The start was early: a penalty is owed.
    JumpedGun,
    /// No usable fix.
    FixLost,
    /// No pulse per second any more.
    PpsLost,
    /// Slower than the rules allow while milling.
    SpeedFloor,
    /// A crossing of the line was missed.
    LapMissed,
    /// Zero moved by more than its gate: look at the clock.
    ZeroMoved,
    /// The line is near.
    Approach,
    /// The lap that begins is the last one owed.
    LastLap,
    /// The heat is run.
    Finished,
    /// Fuel is on and nothing has lit.
    NoLightOff,
    /// A start will reach its EGT limit soon at this rate of rise, or has reached it.
    HotStart,
    /// N1 has stopped rising below self-sustaining speed.
    HungStart,
    /// Start fuel came before N1 turned fast enough.
    FuelTooSoon,
    /// The starter has been on for longer than allowed.
    StarterLong,
    /// The starter's duty cycle is used up: it must cool.
    StarterRest,
    /// A start was given up and EGT does not fall: keep cranking without fuel.
    NotCooling,
    /// The fire went out while running.
    FlameOut,
    /// N2 rises as only a shaft without its load can.
    N2Unloaded,
    /// N1 and N2 do not belong together.
    ShaftMismatch,
    /// Two thermocouples disagree.
    ProbeSplit,
    /// A thermocouple follows more slowly than it did, or drifts.
    ProbeAged,
    /// A chip's cold junction is no temperature for a cockpit.
    ColdJunction,
}

/// Sounds, each with its own rhythm.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Tone {
    /// A warning began.
    Warning,
    /// A caution began.
    Caution,
    /// An advisory began.
    Advisory,
    /// A signal was taken: the clock is set.
    Taken,
    /// A press was not taken.
    NotTaken,
    /// A second of the count-down.
    Count,
    /// Zero.
    Zero,
    /// The run-in: flat out now would be too early, by less than half a second.
    HoldOne,
    /// The run-in: too early by half a second to one.
    HoldTwo,
    /// The run-in: too early by one second to two.
    HoldThree,
    /// The run-in: go.
    Go,
    /// The run-in: late.
    Late,
    /// The run-in: there is no number any more.
    NumberGone,
}

/// A measured value with its standing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Reading<T> {
    /// Nothing has come yet, or nothing fresh.
    Absent,
    /// The sensor says it is broken: a fault is never a value.
    Fault,
    /// A value that may be believed.
    Good(T),
}

/// Readings of the three numbers that decide whether the engine lives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Gauges {
    /// Exhaust gas temperature.
    pub egt: Reading<MilliCelsius>,
    /// Gas generator speed.
    pub n1: Reading<CentiPercent>,
    /// Power shaft speed.
    pub n2: Reading<CentiPercent>,
}
