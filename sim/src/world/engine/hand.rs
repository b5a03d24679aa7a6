//! The hand at the dock: somebody follows the start's procedure on switches and gauges, well or badly.
//!
//! The order is that of the maintenance handbooks (rotate, ignition, fuel, light-off, watch temperature, starter off
//! after self-sustaining speed, idle), with the two voltages of this trade (common practice, no source). What is seen
//! becomes a switch after the reaction time. After a cut the starter keeps turning until the engine has cooled.
//!
//! Gauges in, switches out, and a list of what was moved for whoever wires the inputs.

use firmware::input::Line;

use super::settings::DockSettings;

/// The switches as they stand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Switches {
    /// Igniters.
    pub igniter: bool,
    /// Starter on one battery.
    pub low: bool,
    /// Starter on two batteries in series. Never together with the lower one.
    pub high: bool,
    /// Start fuel.
    pub start_fuel: bool,
    /// External power plugged in.
    pub external: bool,
    /// The fuel lever: main fuel may flow. No input of the board's sees it.
    pub open: bool,
}

impl Switches {
    /// Each that an input of the board can see.
    fn lines(self) -> [(Line, bool); 5] {
        [
            (Line::ExternalPower, self.external),
            (Line::Igniter, self.igniter),
            (Line::StarterLow, self.low),
            (Line::StarterHigh, self.high),
            (Line::StartFuel, self.start_fuel),
        ]
    }
}

/// What the hand sees.
#[derive(Clone, Copy, Debug)]
pub struct Gauges {
    /// Temperature, degrees Celsius.
    pub egt_c: f64,
    /// Gas generator, percent.
    pub n1_pct: f64,
}

/// How far the start is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Step {
    /// Before the start.
    Waiting,
    /// Starter on, no fuel yet.
    Rotating,
    /// Fuel on, fire not seen yet.
    Fuelled,
    /// Fire seen.
    Lit,
    /// Starter off, up to idle.
    Sustained,
    /// Power away: it runs.
    Away,
    /// Fuel cut, starter cools the engine.
    Cooling,
    /// All off.
    Off,
}

/// The hand.
#[derive(Clone, Debug)]
pub struct Hand {
    script: DockSettings,
    begins_s: f64,
    away_n1_pct: f64,
    step: Step,
    since_s: f64,
    /// The step that what was seen leads to, and when the hand gets there.
    next: Option<(Step, f64)>,
    starter_done: bool,
    switches: Switches,
    moves: Vec<(f64, Line, bool)>,
}

/// Fire is seen by an EGT above this, degrees (common practice, no source).
const FIRE_C: f64 = 150.0;
/// N1 so near to idle is idle, percent.
const NEAR_PCT: f64 = 1.5;

impl Hand {
    /// A hand that begins at `begins_s`, race time.
    #[must_use]
    pub fn new(script: &DockSettings, begins_s: f64, idle_n1_pct: f64) -> Self {
        Self {
            script: script.clone(),
            begins_s,
            away_n1_pct: idle_n1_pct - NEAR_PCT,
            step: Step::Waiting,
            since_s: begins_s,
            next: None,
            starter_done: false,
            switches: Switches::default(),
            moves: Vec::new(),
        }
    }

    /// The switches.
    #[must_use]
    pub const fn switches(&self) -> Switches {
        self.switches
    }

    /// Every move so far that an input can see: race time, line, on or off.
    #[must_use]
    pub fn moves(&self) -> &[(f64, Line, bool)] {
        &self.moves
    }

    /// True once the start is over and nothing hangs on the engine any more.
    #[must_use]
    pub fn is_away(&self) -> bool {
        self.step == Step::Away
    }

    /// One look at the gauges.
    pub fn look(&mut self, t: f64, gauges: Gauges) {
        if let Some((step, at)) = self.next
            && t >= at
        {
            (self.step, self.since_s, self.next) = (step, t, None);
        }
        let wanted = self.wanted(t, gauges);
        if let Some(step) = wanted
            && self.next.is_none_or(|(next, _)| step == Step::Cooling && next != Step::Cooling)
        {
            // The beginning is no reaction, and neither is what was timed beforehand.
            let timed = self.step == Step::Waiting
                || (self.step == Step::Rotating && self.script.fuel_after_s.is_some());
            self.next = Some((step, t + if timed { 0.0 } else { self.script.reaction_s }));
        }
        self.set(t, gauges);
    }

    /// Which step does what is seen lead to?
    fn wanted(&self, t: f64, gauges: Gauges) -> Option<Step> {
        let (script, run_s) = (&self.script, t - self.begins_s);
        let called_off = script.abort_after_s.is_some_and(|after| run_s >= after);
        let burns = matches!(self.step, Step::Fuelled | Step::Lit | Step::Sustained);
        if burns && (gauges.egt_c >= script.abort_at_c || called_off) {
            return Some(Step::Cooling);
        }
        let stood_s = t - self.since_s;
        match self.step {
            Step::Waiting => (t >= self.begins_s).then_some(Step::Rotating),
            Step::Rotating => {
                let fuel = match script.fuel_after_s {
                    Some(after) => run_s >= after,
                    None => gauges.n1_pct >= script.fuel_at_n1_pct,
                };
                let tired = (stood_s >= script.crank_most_s).then_some(Step::Off);
                fuel.then_some(Step::Fuelled).or(tired)
            }
            Step::Fuelled if gauges.egt_c >= FIRE_C => Some(Step::Lit),
            Step::Fuelled => (stood_s >= script.light_wait_s).then_some(Step::Cooling),
            Step::Lit if gauges.n1_pct >= script.starter_off_at_n1_pct => Some(Step::Sustained),
            Step::Lit => (stood_s >= script.gives_up_s).then_some(Step::Cooling),
            Step::Sustained if self.starter_done && gauges.n1_pct >= self.away_n1_pct => Some(Step::Away),
            Step::Sustained => (stood_s >= script.gives_up_s).then_some(Step::Cooling),
            Step::Cooling => {
                let cold = gauges.egt_c < script.cooled_below_c;
                (cold || stood_s >= script.crank_most_s).then_some(Step::Off)
            }
            Step::Away | Step::Off => None,
        }
    }

    /// Puts the switches where this step wants them.
    fn set(&mut self, t: f64, gauges: Gauges) {
        let run_s = t - self.begins_s;
        let before = self.switches;
        let starting = matches!(self.step, Step::Rotating | Step::Fuelled | Step::Lit);
        self.starter_done = match self.script.starter_off_after_s {
            Some(after) => run_s >= after,
            None => self.starter_done || !(starting || self.step == Step::Waiting),
        };
        let turns = match self.step {
            Step::Rotating | Step::Fuelled | Step::Lit => !self.starter_done,
            Step::Sustained | Step::Away => self.script.starter_off_after_s.is_some() && !self.starter_done,
            Step::Cooling => true,
            Step::Waiting | Step::Off => false,
        };
        let fire = matches!(self.step, Step::Lit | Step::Sustained | Step::Away);
        let high = turns && fire && (before.high || gauges.egt_c >= self.script.starter_high_at_c);
        self.switches = Switches {
            igniter: starting && run_s >= self.script.igniter_after_s,
            low: turns && !high,
            high,
            start_fuel: matches!(self.step, Step::Fuelled | Step::Lit),
            external: matches!(self.step, Step::Sustained | Step::Cooling) || starting,
            open: matches!(self.step, Step::Fuelled | Step::Lit | Step::Sustained | Step::Away),
        };
        let changed = self.switches.lines().into_iter().zip(before.lines()).filter(|(now, was)| now != was);
        self.moves.extend(changed.map(|((line, on), _)| (t, line, on)));
    }
}
