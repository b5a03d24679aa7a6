//! The engine room: EGT, N1 and N2 against the owner's limits.
//!
//! Chip words and pulse counts flow in, exceedances flow out, gauges and alert conditions can be asked for.
//! The rules that keep it honest:
//!
//! * A value is a number only while it is fresh and its sensor is sound. Otherwise the reading says fault or
//!   absent, and no limit is held against it.
//! * Time alone can exceed a limit or age a value: [`Engine::next_wake`] says when. Everything that came due
//!   is settled at its own moment before anything newer is looked at, so a late call decides the same as a
//!   punctual one.
//! * The starting table of EGT limits applies until N1 has been self-sustaining, and again once N1 is seen
//!   below that or EGT says that the fire is out. Losing the N1 signal in a race leaves the running table on.
//!
//! The limits are the owner's, from the engine maker's manual: see [`EngineSettings`].
//!
//! This room knows the units, the inputs and the outputs.

mod held;
pub mod limits;
mod power;
mod probe;
mod settings;
mod start;
mod sudden;
pub mod suffered;
pub mod tach;
pub mod thermocouple;
mod together;
mod trend;
pub mod type_k;
pub mod watch;

use heapless::Vec;

pub use settings::{EGT_HYSTERESIS_MIN, EngineFault, EngineRule, EngineSettings, PROBES_MAX};
pub use start::{START_CONDITIONS, StartSettings, Wired};

use crate::input::{Line, ProbeReading, Pulses, TURNS};
use crate::output::{AlertId, Gauges, Outputs, Quantity, Reading, Suffering};
use crate::units::{CentiPercent, Instant, MilliCelsius, Span};
use crate::view::{Ahead, StartView, Trust};
use held::Held;
use limits::{Limited, Watch, with_room};
use power::Power;
use probe::Probe;
use start::{START_DEADLINES, Start};
use sudden::Sudden;
use suffered::{Accounts, Keeper, State};
use tach::Watched;
use thermocouple::{ProbeFault, Temperatures};
use together::Together;
use trend::Trend;

/// More deadlines than can be open at once: one a probe, one a shaft, two for power, one for N2's rise, one for both
/// shafts together, one a row of five tables, the start's.
const DEADLINES_MAX: usize = PROBES_MAX + 6 + 5 * limits::ROWS_MAX + START_DEADLINES;

/// How many alerts the engine room can ask for.
pub const CONDITIONS: usize = 16;

/// The engine as the dash sees it.
#[derive(Clone, Debug)]
pub struct Engine {
    settings: EngineSettings,
    now: Instant,
    probes: Vec<Probe, PROBES_MAX>,
    n1: Held<CentiPercent>,
    n2: Held<CentiPercent>,
    /// True once N1 has been self-sustaining: the running table applies.
    running: bool,
    power: Power,
    egt_starting: Watch<MilliCelsius>,
    egt_running: Watch<MilliCelsius>,
    n1_limits: Watch<CentiPercent>,
    n2_limits: Watch<CentiPercent>,
    overspeed: Watch<CentiPercent>,
    start: Start,
    sudden: Sudden,
    together: Together,
    /// EGT, N1 and N2, to look ahead.
    trends: [Trend; 3],
    keeper: Keeper,
    /// When time alone will change something, as of the last settling.
    due: Option<Instant>,
}

impl Engine {
    /// An engine of which nothing is known yet, under settings that passed [`EngineSettings::check`].
    #[must_use]
    pub fn new(settings: &EngineSettings) -> Self {
        let probe = Probe::new(settings.egt_stale_after, settings.faults_to_believe);
        Self {
            now: Instant::BOOT,
            probes: with_room((0..settings.probes).map(|_| probe)),
            n1: Held::new(settings.n1_tach.silence()),
            n2: Held::new(settings.n2_tach.silence()),
            running: false,
            power: Power::default(),
            egt_starting: Watch::new(Quantity::Egt, &settings.egt_starting),
            egt_running: Watch::new(Quantity::Egt, &settings.egt_running),
            n1_limits: Watch::new(Quantity::N1, &settings.n1),
            n2_limits: Watch::new(Quantity::N2, &settings.n2),
            overspeed: Watch::new(Quantity::N2, &settings.overspeed()),
            start: Start::new(),
            sudden: Sudden::new(settings),
            together: Together::default(),
            trends: [Trend::default(); 3],
            keeper: Keeper::default(),
            due: None,
            settings: settings.clone(),
        }
    }

    /// A thermocouple chip was read. A probe that the settings do not know is passed over.
    pub fn probe(&mut self, at: Instant, index: u8, reading: ProbeReading, out: &mut Outputs) {
        let at = self.catch_up(at, out);
        let read = thermocouple::decode(reading).map(|read| self.corrected(index, read));
        let result = self.believe(at, read);
        let sound = result.is_ok();
        if let Some(probe) = self.probes.get_mut(usize::from(index)) {
            probe.read(at, result);
        }
        if sound {
            let egt = self.known(at).egt;
            self.start.read(at, egt, &self.settings);
        }
        self.together.read(at, usize::from(index), &self.probes, &self.settings.watch);
        self.settle(at, out);
    }

    /// What the junction is at, by the probe's own calibration (rule K1).
    fn corrected(&self, index: u8, read: Temperatures) -> Temperatures {
        Temperatures { hot: self.settings.calibrated.corrected(usize::from(index), read.hot), ..read }
    }

    /// Pulses were counted on both shafts.
    pub fn shafts(&mut self, at: Instant, n1: Pulses, n2: Pulses, out: &mut Outputs) {
        let at = self.catch_up(at, out);
        if let Some(speed) = self.settings.n1_tach.percent(n1) {
            self.n1.take(at, speed);
        }
        let speed = self.settings.n2_tach.percent(n2);
        if let Some(speed) = speed {
            self.n2.take(at, speed);
        }
        if n2.count > 0 {
            self.sudden.report(at, speed, n2.span);
        }
        self.settle(at, out);
    }

    /// The power shaft's last turns, told early (rules E8 and E9).
    pub fn n2_turns(&mut self, at: Instant, turns: [Span; TURNS], out: &mut Outputs) {
        let at = self.catch_up(at, out);
        if let Some(speed) = self.sudden.turns(at, turns) {
            self.n2.take(at, speed);
        }
        self.settle(at, out);
    }

    /// A switch of the dock moved; other lines are passed over.
    pub fn switch(&mut self, at: Instant, line: Line, active: bool, out: &mut Outputs) {
        let at = self.catch_up(at, out);
        self.start.switch(at, line, active, &self.settings);
        self.settle(at, out);
    }

    /// What whoever counts the power shaft's pulses must look out for.
    #[must_use]
    pub const fn watched(settings: &EngineSettings) -> Watched {
        Watched {
            tach: settings.n2_tach,
            overspeed: settings.n2_overspeed,
            rise_pct_s: settings.watch.unload_rise_pct_s,
        }
    }

    /// Time has passed. Harmless when nothing is due.
    pub fn tick(&mut self, at: Instant, out: &mut Outputs) {
        self.catch_up(at, out);
    }

    /// When time alone will change something: a value ages out, or an allowance runs out.
    #[must_use]
    pub const fn next_wake(&self) -> Option<Instant> {
        self.due
    }

    /// The first of all deadlines.
    fn first_due(&self) -> Option<Instant> {
        let due = [
            self.egt_starting.next_wake(),
            self.egt_running.next_wake(),
            self.n1_limits.next_wake(),
            self.n2_limits.next_wake(),
            self.overspeed.next_wake(),
            self.n1.due(),
            self.n2.due(),
            self.power.due(),
            self.start.due(),
            self.sudden.due(),
            self.together.due(&self.settings.watch),
        ];
        due.iter().flatten().copied().chain(self.probes.iter().filter_map(Probe::due)).min()
    }

    /// The three numbers, or why they are not known.
    #[must_use]
    pub fn gauges(&self, at: Instant) -> Gauges {
        let shaft = |held: &Held<CentiPercent>| held.value(at).map_or(Reading::Absent, Reading::Good);
        let hottest = self.probes.iter().filter_map(|probe| probe.hot(at)).max();
        let egt = match hottest {
            Some(hot) => Reading::Good(hot),
            None if self.probes.iter().any(Probe::is_faulty) => Reading::Fault,
            None => Reading::Absent,
        };
        Gauges { egt, n1: shaft(&self.n1), n2: shaft(&self.n2) }
    }

    /// The limit that will be exceeded first if things go on as they do (rule E10).
    #[must_use]
    pub fn ahead(&self, at: Instant) -> Option<Ahead> {
        let known = self.known(at);
        let [of_egt, of_n1, of_n2] = self.trends.each_ref().map(|trend| trend.slope().unwrap_or(0));
        let far = self.settings.watch.ahead;
        let egt_watch = if self.running { &self.egt_running } else { &self.egt_starting };
        let egt = known.egt.and_then(|egt| egt_watch.ahead(at, egt, of_egt, far));
        let n1 = known.n1.and_then(|n1| self.n1_limits.ahead(at, n1, of_n1, far));
        let n2 = known.n2.and_then(|n2| self.n2_limits.ahead(at, n2, of_n2, far));
        let all = [(Quantity::Egt, egt), (Quantity::N1, n1), (Quantity::N2, n2)];
        let ahead = |(quantity, first): (Quantity, Option<(Span, bool)>)| {
            first.map(|(left, is_extrapolated)| Ahead { quantity, left, is_extrapolated })
        };
        all.into_iter().filter_map(ahead).min_by_key(|ahead| ahead.left)
    }

    /// How far each probe can be trusted (rule E12).
    #[must_use]
    pub fn trust(&self, at: Instant) -> [Trust; PROBES_MAX] {
        core::array::from_fn(|index| match self.probes.get(index) {
            None => Trust::None,
            Some(probe) if probe.is_faulty() || probe.is_stale(at) => Trust::Out,
            Some(probe) if probe.hot(at).is_none() => Trust::None,
            Some(_) if self.together.doubts(index) => Trust::Doubtful,
            Some(_) => Trust::Sound,
        })
    }

    /// What it suffered, as far as it was seen.
    #[must_use]
    pub const fn accounts(&self) -> &Accounts {
        self.keeper.accounts()
    }

    /// A fresh dash is told what the engine suffered before it, or the owner sets that to nothing.
    pub const fn resume(&mut self, accounts: &Accounts) {
        self.keeper.resume(accounts);
    }

    /// A new heat begins.
    pub fn begin_heat(&mut self) {
        self.keeper.begin_heat();
    }

    /// The heat is run: tells its whole account, but for what is nothing.
    pub fn tell_account(&self, out: &mut Outputs) {
        let accounts = self.keeper.accounts();
        let counts = [Suffering::RunSeconds, Suffering::Starts, Suffering::HotStarts];
        let bands = (0_u8..).take(watch::BANDS_MAX).map(Suffering::BandSeconds);
        let excess = [Quantity::Egt, Quantity::N1, Quantity::N2].map(Suffering::Exceeded);
        let all = counts.into_iter().chain(bands).chain(excess);
        all.filter(|what| accounts.heat.figure(*what) > 0)
            .for_each(|what| suffered::tell(accounts, what, out));
    }

    /// Which alerts the engine asks for, the most urgent first.
    #[must_use]
    pub fn conditions(&self, at: Instant) -> [(AlertId, bool); CONDITIONS] {
        let egt = [&self.egt_starting, &self.egt_running];
        [
            (AlertId::N2Overspeed, self.overspeed.is_exceeded()),
            (AlertId::N2Unloaded, self.sudden.is_unloaded(at)),
            (AlertId::EgtLimit, egt.iter().any(|watch| watch.is_exceeded())),
            (AlertId::N2Limit, self.n2_limits.is_exceeded()),
            (AlertId::N1Limit, self.n1_limits.is_exceeded()),
            (AlertId::EgtHigh, egt.iter().any(|watch| watch.is_timed())),
            (AlertId::N2High, self.n2_limits.is_timed()),
            (AlertId::N1High, self.n1_limits.is_timed()),
            (AlertId::ProbeFault, self.probes.iter().any(Probe::is_faulty)),
            (AlertId::ProbeStale, self.probes.iter().any(|probe| probe.is_stale(at))),
            (AlertId::N1Signal, self.n1.is_silent(at) && self.wants_n1(self.known(at))),
            (AlertId::N2Signal, self.n2.is_silent(at) && self.wants_n2(at, self.known(at))),
            (AlertId::ShaftMismatch, self.together.is_mismatch()),
            (AlertId::ProbeSplit, self.together.is_split()),
            (AlertId::ColdJunction, self.together.is_cold_wrong()),
            (AlertId::ProbeAged, self.together.is_aged()),
        ]
    }

    /// Which alerts the start asks for, the gravest first.
    #[must_use]
    pub fn start_conditions(&self) -> [(AlertId, bool); START_CONDITIONS] {
        self.start.conditions()
    }

    /// The start that is going on, if there is one.
    #[must_use]
    pub fn start_view(&self, at: Instant) -> Option<StartView> {
        self.start.view(at, &self.settings)
    }

    /// Settles everything that came due up to `at`, each at its own moment; gives the moment to go on from,
    /// which is never before one already seen.
    fn catch_up(&mut self, at: Instant, out: &mut Outputs) -> Instant {
        for _ in 0..DEADLINES_MAX {
            match self.next_wake() {
                Some(due) if due <= at => self.settle(due, out),
                _ => break,
            }
        }
        self.now = self.now.max(at);
        self.now
    }

    /// The values that may be believed at `at`.
    fn known(&self, at: Instant) -> Known {
        Known::of(&self.gauges(at))
    }

    /// Holds what is known at `at` against the limits.
    fn settle(&mut self, at: Instant, out: &mut Outputs) {
        self.probes.iter_mut().for_each(|probe| probe.age(at));
        self.n1.age(at);
        self.n2.age(at);
        self.sudden.age(at);
        let known = self.known(at);
        let said_before = out.as_slice().len();
        self.power.see(at, known.n1);
        self.expect_sensors(at, known);
        self.running = self.is_running(known);
        let (applies, rests) = if self.running {
            (&mut self.egt_running, &mut self.egt_starting)
        } else {
            (&mut self.egt_starting, &mut self.egt_running)
        };
        rests.release(at, out);
        applies.update(at, known.egt, out);
        self.n1_limits.update(at, known.n1, out);
        self.n2_limits.update(at, known.n2, out);
        self.overspeed.update(at, known.n2, out);
        self.start.see(at, known, &self.settings, out);
        self.look_on(at, known, said_before, out);
        self.due = self.first_due();
    }

    /// Everything that watches what is known without holding limits against it.
    fn look_on(&mut self, at: Instant, known: Known, said_before: usize, out: &mut Outputs) {
        self.together.shafts(at, (known.n1, known.n2), &self.settings.watch);
        let raw = [known.egt.map(Limited::raw), known.n1.map(Limited::raw), known.n2.map(Limited::raw)];
        self.trends.iter_mut().zip(raw).for_each(|(trend, value)| trend.see(at, value));
        let state = State {
            egt: known.egt,
            n1: known.n1,
            n2: known.n2,
            runs: self.running,
            is_lit: self.is_lit(known),
            is_hot: self.egt_starting.is_exceeded(),
        };
        let said = out.as_slice().get(said_before..).unwrap_or_default();
        if let Some(what) = self.keeper.see(at, state, &self.settings.watch, said) {
            suffered::tell(self.keeper.accounts(), what, out);
        }
    }

    /// A temperature that cannot be the exhaust's of a running engine is a fault of the probe: a short to
    /// ground shows a MAX31855's own temperature, crossed wires show less (seen in a support thread, frame
    /// 0x01501790, no fault bit set).
    fn believe(
        &self,
        at: Instant,
        result: Result<Temperatures, ProbeFault>,
    ) -> Result<Temperatures, ProbeFault> {
        let runs = self.n1.value(at).is_some_and(|n1| n1 >= self.settings.self_sustaining);
        match result {
            Ok(temperatures) if runs && temperatures.hot < self.settings.cold_below => {
                Err(ProbeFault::ColdWhileRunning)
            }
            other => other,
        }
    }

    fn is_running(&self, known: Known) -> bool {
        let enough = self.settings.self_sustaining;
        match known.n1 {
            Some(n1) if n1 >= enough => true,
            Some(n1) => self.running && n1 > enough - self.settings.n1.hysteresis,
            None => self.running && known.egt.is_none_or(|_| self.is_lit(known)),
        }
    }

    fn is_lit(&self, known: Known) -> bool {
        known.egt.is_some_and(|egt| egt >= self.settings.lit_above)
    }

    /// Fire, or the other shaft turning, without N1.
    fn wants_n1(&self, known: Known) -> bool {
        known.n1.is_none() && (self.is_lit(known) || known.n2.is_some())
    }

    /// N2 may stand still while starting and at idle, so it is missed only under power.
    fn wants_n2(&self, at: Instant, known: Known) -> bool {
        known.n2.is_none() && self.power.is_on(at)
    }

    /// What turns or burns gives a reason to expect the sensors that were never heard.
    fn expect_sensors(&mut self, at: Instant, known: Known) {
        if known.n1.is_some() || known.n2.is_some() {
            self.probes.iter_mut().for_each(|probe| probe.expect(at));
        }
        if self.wants_n1(known) {
            self.n1.expect(at);
        }
        if self.wants_n2(at, known) {
            self.n2.expect(at);
        }
    }
}

/// The values that may be believed.
#[derive(Clone, Copy)]
struct Known {
    egt: Option<MilliCelsius>,
    n1: Option<CentiPercent>,
    n2: Option<CentiPercent>,
}

impl Known {
    fn of(gauges: &Gauges) -> Self {
        Self { egt: good(gauges.egt), n1: good(gauges.n1), n2: good(gauges.n2) }
    }
}

fn good<T>(reading: Reading<T>) -> Option<T> {
    match reading {
        Reading::Good(value) => Some(value),
        Reading::Absent | Reading::Fault => None,
    }
}

#[cfg(test)]
mod tests;
