//! The pickups on the two shafts: exact times of their pulses from the shaft's turning, and the reports that
//! the board makes of them.
//!
//! Each shaft's phase is integrated over the steps of the truth; a pulse falls where it passes a whole
//! number. Pulses are stamped on the board's own clock and go through the board's own counter and lookout
//! ([`firmware::io::pulses`]), so that reports, early ones too, are those that a board would make.
//!
//! This room knows the crystal, because only the board's clock times pulses, and chance.

use firmware::engine::tach::Watched;
use firmware::io::lookout::Lookout;
use firmware::io::pulses::Counter;
use firmware::units::{Instant, Span};
use serde::Deserialize;

use super::crystal::Crystal;
use super::draw::{Draw, Purpose};
use super::maths::{seconds, span};
use super::truth::STEP_S;
use super::{SensorEvent, Wire};

/// The pickups' figures.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PickupSettings {
    /// From one report to the next; a whole number of 10 ms.
    pub interval_ms: u32,
    /// Pulses a second at 100 % N1. A two-pole tachometer generator at 4200 rpm gives 70.
    pub n1_hz_at_100_pct: f64,
    /// Pulses a second at 100 % N2.
    pub n2_hz_at_100_pct: f64,
    /// How unsteady a pulse is: one standard deviation.
    pub jitter_us: f64,
    /// What the board looks out for on N2, from the dash's settings; none: nothing.
    #[serde(skip)]
    pub watched: Option<Watched>,
    /// The pulses themselves are events, too.
    #[serde(skip)]
    pub tells: bool,
}

impl Default for PickupSettings {
    fn default() -> Self {
        Self {
            interval_ms: 50,
            n1_hz_at_100_pct: 70.0,
            n2_hz_at_100_pct: 70.0,
            jitter_us: 5.0,
            watched: None,
            tells: false,
        }
    }
}

/// One pickup.
#[derive(Clone, Debug)]
pub struct Pickup {
    hz_per_pct: f64,
    jitter_s: f64,
    draw: Draw,
    /// Turns since the last pulse, in pulses: 0 to 1.
    phase: f64,
    /// The last edge on the board's clock.
    last: Instant,
    counter: Counter,
    lookout: Lookout,
}

/// The pulses within a step that begins at `t`: how far the phase has to grow to the first of them, how many there
/// are, and the rate, in pulses a second, at both ends of the step.
#[derive(Clone, Copy, Debug)]
struct Due {
    t: f64,
    phase: f64,
    count: u16,
    rates: (f64, f64),
}

impl Due {
    /// When each comes, true time.
    fn times(self) -> impl Iterator<Item = f64> {
        (0..self.count).map(move |n| self.time(self.phase + f64::from(n)))
    }

    fn time(&self, phase: f64) -> f64 {
        let (from, to) = self.rates;
        let slope = (to - from) / STEP_S;
        let even = 2.0 * phase / (from + to);
        // One step of Newton's method on from t + slope t^2 / 2 = phase; the guess is right for an even rate.
        self.t + even - (from * even + 0.5 * slope * even * even - phase) / (from + slope * even)
    }
}

impl Pickup {
    /// The pickup of the gas generator.
    #[must_use]
    pub fn n1(settings: &PickupSettings, seed: u64) -> Self {
        Self::new(settings.n1_hz_at_100_pct, settings.jitter_us, Draw::new(seed, Purpose::N1))
    }

    /// The pickup of the power shaft, looked out on.
    #[must_use]
    pub fn n2(settings: &PickupSettings, seed: u64) -> Self {
        let plain = Self::new(settings.n2_hz_at_100_pct, settings.jitter_us, Draw::new(seed, Purpose::N2));
        let lookout = settings.watched.as_ref().map_or(Lookout::idle(), Lookout::new);
        Self { lookout, ..plain }
    }

    fn new(hz_at_100: f64, jitter_us: f64, draw: Draw) -> Self {
        Self {
            hz_per_pct: hz_at_100.max(0.0) / 100.0,
            jitter_s: jitter_us * 1e-6,
            draw,
            phase: 0.0,
            last: Instant::BOOT,
            counter: Counter::new(),
            lookout: Lookout::idle(),
        }
    }

    /// Turns the shaft through one step of the truth, from `t` on, between two speeds in percent.
    fn turn(&mut self, t: f64, from_pct: f64, to_pct: f64) -> Due {
        let (from, to) = (from_pct * self.hz_per_pct, to_pct * self.hz_per_pct);
        let before = self.phase;
        self.phase += 0.5 * (from + to) * STEP_S;
        let count = self.phase as u16;
        self.phase -= f64::from(count);
        Due { t, phase: 1.0 - before, count, rates: (from, to) }
    }

    /// A pulse reaches the board's pin near true time `t`, unless its wire is off; gives when.
    fn edge(&mut self, t: f64, crystal: &Crystal, lost: bool) -> Option<f64> {
        let jitter = self.draw.even(self.jitter_s);
        if lost {
            return None;
        }
        self.last = crystal.board_at_s(t + jitter).max(self.last);
        self.counter.edge(self.last);
        self.lookout.edge(self.last);
        Some(t + jitter)
    }

    /// True time at which the lookout wants to be asked.
    fn due_s(&self, crystal: &Crystal) -> Option<f64> {
        self.lookout.due().map(|due| seconds(crystal.true_at(due)))
    }

    /// The wire is off, or the board: what came is lost, and the next pulse only sets a new mark.
    fn forget(&mut self) {
        (self.counter, self.last) = (Counter::new(), Instant::BOOT);
        self.lookout.forget();
    }
}

/// From a pulse that is news to the report: the board's loop is woken and takes it away (its own turns take a
/// millisecond or two in the emulated chip).
const WOKEN_S: f64 = 0.001;

/// Both pickups as the board counts them.
#[derive(Clone, Debug)]
pub struct Pair {
    n1: Pickup,
    n2: Pickup,
    tells: bool,
}

/// Two speeds in percent, of N1 and N2.
pub type Speeds = (f64, f64);

impl Pair {
    /// Two shafts at rest.
    #[must_use]
    pub fn new(settings: &PickupSettings, seed: u64) -> Self {
        Self { n1: Pickup::n1(settings, seed), n2: Pickup::n2(settings, seed), tells: settings.tells }
    }

    /// Turns both shafts through one step of the truth, from `t` on; gives what the board reports early, and before it,
    /// if they are to be told, the pulses themselves. `lost` says whose wire is off.
    pub fn step(
        &mut self,
        t: f64,
        (from, to): (Speeds, Speeds),
        crystal: &Crystal,
        lost: (bool, bool),
    ) -> Vec<(Span, SensorEvent)> {
        let (of_n1, of_n2) = (self.n1.turn(t, from.0, to.0), self.n2.turn(t, from.1, to.1));
        let (mut of_n1, mut of_n2) = (of_n1.times().peekable(), of_n2.times().peekable());
        let (mut told, ends) = (Vec::new(), t + STEP_S);
        loop {
            let pulses = (of_n1.peek().copied(), of_n2.peek().copied());
            let next = pulses.0.unwrap_or(ends).min(pulses.1.unwrap_or(ends));
            // What the lookout waits for is over before the next pulse comes, or it is told with that pulse.
            if let Some(due) = self.n2.due_s(crystal).filter(|due| *due < next) {
                told.extend(self.early(due.max(t), ends, crystal));
                continue;
            }
            let (wire, at) = match pulses {
                (Some(one), other) if other.is_none_or(|other| one <= other) => {
                    of_n1.next();
                    (Wire::N1, self.n1.edge(one, crystal, lost.0))
                }
                (_, Some(_)) => {
                    of_n2.next();
                    (Wire::N2, self.n2.edge(next, crystal, lost.1))
                }
                _ => break,
            };
            if let Some(at) = at.filter(|_| self.tells) {
                told.push((span(at), SensorEvent::Pulse { wire }));
            }
        }
        told.sort_by_key(|(at, _)| *at);
        told
    }

    /// What the lookout has to tell at true time `due`.
    fn early(&mut self, due: f64, ends: f64, crystal: &Crystal) -> Vec<(Span, SensorEvent)> {
        // A microsecond for rounding, twice.
        let now = crystal.board_at_s(due).plus(Span::from_micros(2));
        let at = span((due + WOKEN_S).min(ends));
        let turns = self.n2.lookout.take(now);
        turns
            .map(|turns| vec![(at, self.counted()), (at, SensorEvent::N2Turns { turns })])
            .unwrap_or_default()
    }

    /// The regular report. A wire that is off is forgotten.
    pub fn report(&mut self, lost: (bool, bool)) -> SensorEvent {
        if lost.0 {
            self.n1.forget();
        }
        if lost.1 {
            self.n2.forget();
        }
        self.n2.lookout.renew();
        self.counted()
    }

    fn counted(&mut self) -> SensorEvent {
        SensorEvent::ShaftPulses { n1: self.n1.counter.report(), n2: self.n2.counter.report() }
    }

    /// The board lost its power: what it had counted is gone.
    pub fn forget(&mut self) {
        self.n1.forget();
        self.n2.forget();
    }
}

#[cfg(test)]
mod tests {
    use firmware::input::Pulses;

    use super::*;
    use crate::world::crystal::CrystalSettings;

    fn perfect() -> Crystal {
        let settings =
            CrystalSettings { error_ppm: 0.0, error_sd_ppm: 0.0, drift_ppb_per_s: 0.0, boots_at_s: -10.0 };
        Crystal::new(&settings, 1)
    }

    fn pair() -> Pair {
        Pair::new(&PickupSettings { jitter_us: 0.0, ..PickupSettings::default() }, 1)
    }

    /// N1's part of a regular report.
    fn counted(pair: &mut Pair) -> Pulses {
        let SensorEvent::ShaftPulses { n1, .. } = pair.report((false, false)) else {
            return Pulses::default();
        };
        n1
    }

    /// Periods of a two-pole tachometer generator, 100 % at 4200 rpm: 14285.7 us at 100 %, 28571.4 us at 50 %.
    #[test]
    fn a_steady_shaft_gives_its_period() {
        for (pct, period_us) in [(100.0, 14_285.7), (50.0, 28_571.4), (10.0, 142_857.1), (120.0, 11_904.8)] {
            let (mut pair, mut pulses, mut micros) = (pair(), 0, 0);
            for step in 0..3_000 {
                pair.step(f64::from(step) * STEP_S, ((pct, 0.0), (pct, 0.0)), &perfect(), (false, false));
                if step % 5 == 4 {
                    let report = counted(&mut pair);
                    pulses += i64::from(report.count);
                    micros += report.span.as_micros();
                }
            }
            let period = micros as f64 / pulses as f64;
            assert!((period - period_us).abs() < 0.1, "{pct}: {period}");
        }
    }

    /// Worked by hand: run up from rest by 100 % each second the phase is 35 t^2, so pulse n comes at (n / 35)^0.5.
    #[test]
    fn an_even_run_up_puts_each_pulse_where_the_square_root_says() {
        let (mut pickup, mut n) = (pair().n1, 0);
        for step in 0..100 {
            let t = f64::from(step) * STEP_S;
            for time in pickup.turn(t, t * 100.0, (t + STEP_S) * 100.0).times() {
                n += 1;
                let off = time - (f64::from(n) / 35.0).sqrt();
                assert!(off.abs() < 2e-7, "pulse {n}: {off}");
            }
        }
        assert_eq!(n, 34);
    }

    #[test]
    fn no_pulse_is_counted_twice_or_lost_between_reports() {
        let (mut pair, mut all) = (pair(), 0);
        for step in 0..10_000 {
            pair.step(f64::from(step) * STEP_S, ((83.0, 83.0), (83.0, 83.0)), &perfect(), (false, false));
            if step % 5 == 4 {
                all += u32::from(counted(&mut pair).count);
            }
        }
        // 100 s at 58.1 Hz are 5,810 pulses; the ones of the first report only set the mark.
        assert!((5_807..=5_809).contains(&all), "{all}");
    }
}
