//! What is asked of a board, and what it answers.
//!
//! Messages are written by postcard. Variants are appended, never reordered; a change of a variant's fields is
//! another protocol. Bytes are borrowed from the frame they came in: nothing is copied.
//!
//! Knows the units and what settings can have wrong. Decides nothing.

use serde::{Deserialize, Serialize};

use crate::bench::BenchFault;
use crate::engine::PROBES_MAX;
use crate::engine::suffered::Accounts;
use crate::gnss::Fix;
use crate::input::{ProbeReading, Pulses};
use crate::output::{Output, Refused};
use crate::run_in::learn::Offer;
use crate::settings::SettingsFault;
use crate::units::{Instant, PartsPerBillion, Span, Utc};

/// What stands before each message, in both directions: an answer bears the head of its request.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Head {
    /// Which conversation. 0 opens one; the board's answer bears the number that it has given it.
    pub session: u32,
    /// Which request: from 1 on, each greater than the one before. An opening bears a drawn number from 2^31 on, so
    /// that nothing else is taken for its answer.
    pub number: u32,
}

/// What the host asks. One at a time: the next one comes when this one is answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Request<'a> {
    /// Who are you? The answer is [`Answer::Hello`].
    Hello,
    /// Keep these settings, as `Settings::encode` writes them. The answer is [`Answer::SettingsKept`] once they
    /// are on the chip, whole and read back, or a [`Refusal`]; until then the old ones are kept.
    KeepSettings(&'a [u8]),
    /// Which settings are in force? The answer is [`Answer::Settings`].
    ReadSettings,
    /// Give a piece of the journal. The answer is [`Answer::Journal`].
    ReadJournal {
        /// From this position on.
        from: u64,
        /// At most so many bytes; the board may give fewer.
        most: u16,
    },
    /// The race office's schedule: zero will be at this moment. The answer is [`Answer::Scheduled`].
    Schedule {
        /// The scheduled zero.
        zero: Utc,
    },
    /// What do the sensors say now, undecoded? On the bench or off it. The answer is [`Answer::Readings`].
    Readings,
    /// Only on the bench: lights the amber lamp and sounds the beeper at once, or says what came of the last time. The
    /// answer is [`Answer::Cued`].
    Cue {
        /// True: light and sound now, and forget the edges before. False: only say.
        sound: bool,
    },
    /// UTC as the host knows it (rule T10). The answer is [`Answer::Done`], or what the dash has against it.
    Utc {
        /// A moment on the board's clock, as a recent answer told it.
        at: Instant,
        /// What UTC was then.
        utc: Utc,
        /// One standard deviation of that, half of the question's way there and back included.
        sd: Span,
    },
    /// What have hot laps taught? The answer is [`Answer::Learned`].
    Learned,
    /// Takes what is offered of that over, or puts it away (rule G16). The answer is [`Answer::Done`].
    Offer {
        /// True to take it over.
        accept: bool,
    },
    /// What has the engine suffered? The answer is [`Answer::Suffered`].
    Suffered,
    /// Sets the account of that to nothing (rule E18). The answer is [`Answer::Done`].
    ForgetSuffered,
    /// Goes on the bench with a fresh dash on these settings, which are not kept; on none, with the kept ones (rule B1).
    /// The answer is [`Answer::Done`].
    EnterBench(&'a [u8]),
    /// Leaves the bench: a fresh dash on the kept settings. The answer is [`Answer::Done`].
    LeaveBench,
    /// On the bench: inputs for the dash, and what came of earlier ones. The answer is [`Answer::Fed`].
    Feed {
        /// The moment on the board's clock from which the first input's time counts.
        base: Instant,
        /// Inputs, each with the time since the one before: see `bench::Bench`. None only fetches.
        inputs: &'a [u8],
    },
    /// Which picture is shown? The answer is [`Answer::Picture`].
    Picture,
}

/// What the board answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Answer<'a> {
    /// Who it is, and how it stands.
    Hello(Standing),
    /// It was not done, and why.
    #[serde(borrow)]
    Refused(Refusal<'a>),
    /// The new settings are on the chip.
    SettingsKept,
    /// The settings in force.
    Settings {
        /// Where they came from.
        from: SettingsFrom,
        /// As `Settings::encode` writes them.
        bytes: &'a [u8],
    },
    /// A piece of the journal.
    Journal {
        /// Where it begins: later than asked for when what was asked for is no longer there.
        from: u64,
        /// Where the next piece begins; where this one does when the end is reached.
        next: u64,
        /// Frames as `journal::Writer` makes them, cut anywhere; none where nothing can be read.
        bytes: &'a [u8],
    },
    /// What the dash made of a schedule.
    Scheduled(Scheduled),
    /// What the sensors say.
    Readings(Readings),
    /// The last cue, and what the button has done since.
    Cued(Cued),
    /// It was done.
    Done,
    /// What hot laps have taught, if they have and it may be offered now.
    Learned(Option<Offer>),
    /// What the engine has suffered.
    Suffered(Accounts),
    /// The bench took the inputs; and what came of it all so far.
    Fed(Fed<'a>),
    /// The picture shown: 1,024 bytes, as the display holds them: eight rows of pixels a page, a byte a column, the
    /// uppermost pixel its lowest bit.
    Picture(&'a [u8]),
}

/// How the bench stands, and what it has to tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fed<'a> {
    /// The board's clock.
    pub now: Instant,
    /// Bytes of inputs that find room now, see `bench::Bench::room`.
    pub room: u16,
    /// Inputs that wait for their moment.
    pub waiting: u16,
    /// What was to be told and found no room since the bench began: the host asked too seldom.
    pub lost: u32,
    /// A row of `bench::Told`, whole ones, each told once.
    pub told: &'a [u8],
}

/// What the sensors say at a moment, as they say it: nothing is decoded or judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Readings {
    /// When this was put together, on the board's clock.
    pub at: Instant,
    /// What each thermocouple chip said last, at most a tenth of a second ago; none where nothing was read.
    pub probes: [Option<ProbeReading>; PROBES_MAX],
    /// The gas generator's last report with a pulse in it.
    pub n1: Option<Turning>,
    /// The power shaft's.
    pub n2: Option<Turning>,
    /// The last fix, and when it had arrived.
    pub fix: Option<(Instant, Fix)>,
    /// When the last pulse per second came.
    pub pulse: Option<Instant>,
    /// The crystal's error by pulses, and one standard deviation of it. None before pulses have measured it, and on the
    /// bench, where the dash hears none.
    pub crystal: Option<(PartsPerBillion, PartsPerBillion)>,
}

/// A shaft's last report with a pulse in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Turning {
    /// When it was made.
    pub at: Instant,
    /// So many periods, and how long they took: some 50 ms.
    pub pulses: Pulses,
    /// Periods in all reports since the start, modulo 2^32.
    pub total: u32,
}

/// So many edges of the button are kept after a cue: four presses without bouncing.
pub const EDGES_MAX: usize = 8;

/// The last cue, and what the button at its pin has done since. The dash hears nothing of either.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Cued {
    /// When lamp and beeper were switched on, on the board's clock; none: there was no cue on this bench yet.
    pub at: Option<Instant>,
    /// The first edges since, stamped like any.
    pub edges: [Option<SeenEdge>; EDGES_MAX],
    /// Edges that found no room.
    pub more: u16,
}

impl Cued {
    /// No cue yet, and no edge.
    pub const NONE: Self = Self { at: None, edges: [None; EDGES_MAX], more: 0 };
}

/// An edge of the button.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SeenEdge {
    /// When.
    pub at: Instant,
    /// True when it went down.
    pub active: bool,
}

/// Who a board is and how it stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Standing {
    /// [`PROTOCOL`](super::PROTOCOL). It stands first in every protocol there will be.
    pub protocol: u8,
    /// The firmware's version: major, minor, patch.
    pub firmware: [u16; 3],
    /// A digest of the program in flash.
    pub program: u32,
    /// A start clock runs: settings are refused.
    pub clock_runs: bool,
    /// Where the settings in force came from.
    pub settings: SettingsFrom,
    /// What the board found when it tested itself.
    pub self_test: SelfTest,
    /// What there is of a journal.
    pub journal: Extent,
}

/// Where a board's settings came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum SettingsFrom {
    /// Its chip.
    Chip,
    /// None were ever kept: the defaults are in force, without a course.
    Defaults,
    /// What the chip holds is damaged: the defaults are in force.
    DefaultsForDamage,
    /// What the chip holds is whole, but of another version: the defaults are in force.
    DefaultsForVersion,
}

/// What a board knows of its parts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SelfTest {
    /// The GNSS receiver.
    pub receiver: Check,
    /// Its pulse per second.
    pub pulse: Check,
    /// The thermocouple chips.
    pub probes: [Check; PROBES_MAX],
    /// The gas generator's pickup.
    pub n1: Check,
    /// The power shaft's pickup.
    pub n2: Check,
    /// The storage chip's JEDEC identity in its lower 24 bits: maker, kind, capacity. `None`: it does not answer.
    pub chip: Option<u32>,
    /// Inputs that found no room since the start.
    pub overflows: u32,
    /// Why it started.
    pub restarted: Restart,
}

/// How a part is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Check {
    /// The settings say that there is none.
    NotFitted,
    /// Nothing has come from it yet.
    Silent,
    /// It says that it is broken, or makes no sense.
    Fault,
    /// It is heard.
    Good,
}

/// Why a board started.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Restart {
    /// It was switched on.
    Power,
    /// Its watchdog bit: the program hung.
    Watchdog,
    /// The program stopped itself at a fault.
    Panic,
}

/// What there is of a journal.
///
/// A position is the board's own count: it grows along the journal and lasts over restarts. Between two positions lie
/// at most so many bytes as they are apart.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Extent {
    /// The first position that can be read.
    pub oldest: u64,
    /// The end of what is acknowledged: programmed and read back.
    pub acknowledged: u64,
    /// Bytes that can be recorded before a clock must be cleared to make room.
    pub room: u32,
    /// Frames that found no room.
    pub lost: u32,
    /// Pages found torn by a cut.
    pub torn: u32,
}

/// Why something was not done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Refusal<'a> {
    /// No conversation has been opened since the board started: say hello first.
    NoSession,
    /// A request that this firmware does not know.
    Unknown,
    /// Not while a start clock runs.
    ClockRuns,
    /// The settings are not in order.
    #[serde(borrow)]
    Settings(Wrong<'a>),
    /// The journal ends before this position: another board's, or its chip was erased.
    NoSuchPosition {
        /// Where it ends.
        acknowledged: u64,
    },
    /// The storage chip does not do its work.
    Chip,
    /// Only on the bench.
    NotOnTheBench,
    /// Not on the bench.
    OnTheBench,
    /// Not while the engine turns.
    EngineTurns,
    /// The inputs were not taken.
    Bench(BenchFault),
    /// The dash has something against it.
    Dash(Refused),
}

/// What is wrong with settings: the first thing found, as [`SettingsFault`] tells it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Wrong<'a> {
    /// They cannot be read: damaged, or of another version.
    Unreadable,
    /// The list of signals.
    Signals,
    /// The list of counts.
    Counts,
    /// A length of time, and which.
    Span(&'a str),
    /// A distance or speed, and which.
    Amount(&'a str),
    /// No laps to run.
    Laps,
    /// The course makes no line.
    Course,
    /// The engine's table, and which part of it.
    Engine(&'a str),
    /// The lane or the boat of the run-in; or this board's program has none.
    RunIn,
    /// A thermocouple's two points.
    Calibration,
}

impl From<SettingsFault> for Wrong<'static> {
    fn from(fault: SettingsFault) -> Self {
        match fault {
            SettingsFault::Version(_) => Self::Unreadable,
            SettingsFault::Signals => Self::Signals,
            SettingsFault::Counts => Self::Counts,
            SettingsFault::Span(name) => Self::Span(name),
            SettingsFault::Amount(name) => Self::Amount(name),
            SettingsFault::Laps => Self::Laps,
            SettingsFault::Course(_) => Self::Course,
            SettingsFault::Engine(fault) => Self::Engine(fault.field),
            SettingsFault::RunIn(_) => Self::RunIn,
            SettingsFault::Calibration => Self::Calibration,
        }
    }
}

/// What the dash made of a schedule.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Scheduled {
    /// The clock runs by it.
    Set,
    /// It waits until UTC is known (rule C8).
    WaitsForUtc,
    /// Its zero is past: nothing was changed.
    Past,
}

impl Scheduled {
    /// What came of feeding `Input::Schedule`, from what the dash decided on it.
    #[must_use]
    pub fn from_decisions(decisions: &[Output]) -> Self {
        let refused = |why| decisions.contains(&Output::Refused(why));
        if refused(Refused::SchedulePast) {
            Self::Past
        } else if refused(Refused::NoUtcYet) {
            Self::WaitsForUtc
        } else {
            Self::Set
        }
    }
}
