//! Start, laps and finish: the rules of groups S and L once more, in floating point.
//!
//! Written from the law book alone. Crossings and zero in, a verdict out. Seconds and metres.

use firmware::laps::EarlyCost;
use firmware::output::Call;
use firmware::resume::{CarriedCrossing, CarriedRace};
use firmware::settings::Settings;

use super::crossing::{Bow, Crossing};
use super::tie::{Moment, micros};
use super::zero::{Rests, Zero};

/// What a crossing counted as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counted {
    /// Nothing: the boat was milling (rule S1).
    Milling,
    /// The start (rules S2, S3).
    Start,
    /// A lap (rule L1).
    Lap,
    /// Nothing: sooner than any boat laps (rule L2).
    TooSoon,
    /// Nothing: against the racing direction (rule L3).
    WrongWay,
    /// Nothing: the heat was over (rule L3).
    AfterFinish,
}

/// A crossing seen.
#[derive(Clone, Copy, Debug)]
pub struct Seen {
    /// The crossing.
    pub crossing: Crossing,
    /// One standard deviation of the tie to the board's clock.
    pub tie_sigma_s: f64,
    /// What it counted as.
    pub counted: Counted,
}

/// The start call.
#[derive(Clone, Copy, Debug)]
pub struct Called {
    /// The answer.
    pub call: Call,
    /// Crossing less zero, seconds.
    pub margin_s: f64,
    /// One standard deviation of that.
    pub sigma_s: f64,
}

/// A lap.
#[derive(Clone, Copy, Debug)]
pub struct Lap {
    /// Crossing to crossing, seconds.
    pub time_s: f64,
    /// One standard deviation of that.
    pub sigma_s: f64,
    /// The official length over the time.
    pub speed_m_s: f64,
}

/// The heat.
#[derive(Clone, Debug)]
pub struct Race {
    /// Every crossing.
    pub crossings: Vec<Seen>,
    /// The call as it stood in the end.
    pub call: Option<Called>,
    /// Laps, in order.
    pub laps: Vec<Lap>,
    /// Laps that were run before what is in the record.
    pub laps_before: u16,
    /// From zero to the finish, seconds.
    pub finish_s: Option<f64>,
    /// Laps that a crossing was missed in (rule L5).
    pub missed: u32,
    zero: Option<Zero>,
    start: Option<Seen>,
    last: Option<Seen>,
    run_m: f64,
    missed_said: bool,
    bow: Option<Bow>,
    rules: Rules,
}

/// The settings that matter here, in seconds and metres.
#[derive(Clone, Copy, Debug)]
struct Rules {
    window_s: f64,
    shortest_s: f64,
    laps: u16,
    cost: EarlyCost,
    sigmas: f64,
    lap_m: f64,
    missed_share: f64,
}

impl Race {
    /// A heat that has not started.
    #[must_use]
    pub fn new(settings: &Settings) -> Self {
        let race = &settings.race;
        let rules = Rules {
            window_s: micros(race.early_window.as_micros()),
            shortest_s: micros(race.lap_shortest.as_micros()),
            laps: race.laps,
            cost: race.early_costs,
            sigmas: f64::from(race.too_close_sigmas),
            lap_m: settings.course.as_ref().map_or(0.0, |course| course.lap_length.as_mm() as f64 / 1e3),
            missed_share: f64::from(race.lap_missed_percent) / 100.0,
        };
        Self {
            crossings: Vec::new(),
            call: None,
            laps: Vec::new(),
            laps_before: 0,
            finish_s: None,
            missed: 0,
            zero: None,
            start: None,
            last: None,
            run_m: 0.0,
            missed_said: false,
            bow: None,
            rules,
        }
    }

    /// Laps done, those before the record among them.
    #[must_use]
    pub fn laps_done(&self) -> u16 {
        self.laps_before.saturating_add(u16::try_from(self.laps.len()).unwrap_or(u16::MAX))
    }

    /// What is owed for the start: laps, and seconds.
    #[must_use]
    pub fn owed(&self) -> (u16, f64) {
        match (self.is_early(), self.rules.cost) {
            (true, EarlyCost::Lap) => (1, 0.0),
            (true, EarlyCost::Time(time)) => (0, micros(time.as_micros())),
            _ => (0, 0.0),
        }
    }

    fn is_early(&self) -> bool {
        self.call.is_some_and(|called| called.call == Call::Early)
    }

    /// Zero stands here now; a start already made is called anew until the finish (rule S7).
    pub fn zero_is(&mut self, zero: Option<Zero>) {
        let moved = zero != self.zero;
        self.zero = zero;
        if moved && self.finish_s.is_none() {
            self.make_call();
        }
    }

    fn make_call(&mut self) {
        let (Some(start), Some(zero)) = (&self.start, &self.zero) else { return };
        let (margin_s, sigma_s) = margin(start, zero);
        let call = if margin_s.abs() < self.rules.sigmas * sigma_s {
            Call::TooClose
        } else if margin_s < 0.0 {
            Call::Early
        } else {
            Call::Legal
        };
        self.call = Some(Called { call, margin_s, sigma_s });
    }

    /// The bow crossed.
    pub fn crossing(&mut self, crossing: Crossing, tie_sigma_s: f64) {
        let counted = self.count(&crossing);
        let seen = Seen { crossing, tie_sigma_s, counted };
        self.crossings.push(seen);
        match counted {
            Counted::Start => {
                self.start = Some(seen);
                self.begin_lap(seen);
                self.make_call();
            }
            Counted::Lap => self.end_lap(seen),
            _ => {}
        }
    }

    fn count(&self, crossing: &Crossing) -> Counted {
        if !crossing.forward {
            return Counted::WrongWay;
        }
        let Some(zero) = &self.zero else { return Counted::Milling };
        if self.finish_s.is_some() {
            return Counted::AfterFinish;
        }
        match &self.last {
            None if crossing.at.s - zero.at.s < -self.rules.window_s => Counted::Milling,
            None => Counted::Start,
            Some(last) if crossing.at.s - last.crossing.at.s < self.rules.shortest_s => Counted::TooSoon,
            Some(_) => Counted::Lap,
        }
    }

    const fn begin_lap(&mut self, seen: Seen) {
        self.last = Some(seen);
        self.run_m = 0.0;
        self.missed_said = false;
    }

    fn end_lap(&mut self, seen: Seen) {
        let Some(last) = self.last else { return };
        let time_s = seen.crossing.at.s - last.crossing.at.s;
        let sigma_s = seen.crossing.at.sigma_s.hypot(last.crossing.at.sigma_s);
        self.laps.push(Lap { time_s, sigma_s, speed_m_s: self.rules.lap_m / time_s });
        self.begin_lap(seen);
        if self.laps_done() >= self.rules.laps.saturating_add(self.owed().0) {
            self.finish_s = self.zero.as_ref().map(|zero| seen.crossing.at.s - zero.at.s);
        }
    }

    /// The boat went on to here; more than a lap holds means that a crossing was missed (rule L5).
    pub fn run_on(&mut self, bow: &Bow) {
        if let Some(before) = self.bow.replace(*bow) {
            self.run_m += 0.5 * (before.speed_m_s + bow.speed_m_s) * (bow.utc_s - before.utc_s);
        }
        let racing = self.start.is_some() && self.finish_s.is_none();
        if racing && !self.missed_said && self.run_m > self.rules.missed_share * self.rules.lap_m {
            self.missed_said = true;
            self.missed += 1;
        }
    }

    /// What was carried through a restart, when what stood before is not in the record.
    pub fn take_over(&mut self, carried: &CarriedRace, relabel_s: f64) {
        let seen = |crossing: CarriedCrossing, counted| Seen {
            crossing: Crossing {
                at: Moment {
                    s: micros(crossing.utc.as_unix_micros()) + relabel_s,
                    sigma_s: micros(crossing.sigma.as_micros()),
                },
                forward: true,
                place_m: 0.0,
                speed_m_s: 0.0,
                sd_m: 0.0,
            },
            tie_sigma_s: micros(crossing.tie_sigma.as_micros()),
            counted,
        };
        self.start = carried.start.map(|start| seen(start, Counted::Start));
        self.last = carried.last_counted.map(|last| seen(last, Counted::Lap));
        self.laps_before = carried.laps_done;
        self.call = carried.call.map(|view| Called {
            call: view.call,
            margin_s: micros(view.margin.as_micros()),
            sigma_s: micros(view.sigma.as_micros()),
        });
    }
}

/// Crossing less zero, and its deviation: a schedule is on the fixes' own scale (rules C8, S6).
fn margin(start: &Seen, zero: &Zero) -> (f64, f64) {
    let at = start.crossing.at;
    let sigma_s = match zero.rests {
        Rests::Schedule => at.sigma_s,
        Rests::Signals(_) | Rests::Carried => at.sigma_s.hypot(start.tie_sigma_s).hypot(zero.at.sigma_s),
    };
    (at.s - zero.at.s, sigma_s)
}
