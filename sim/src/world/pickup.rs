//! The pickups on the two shafts: exact times of their pulses from the shaft's turning, and the reports that
//! the board makes of them.
//!
//! Each shaft's phase is integrated over the steps of the truth; a pulse falls where it passes a whole
//! number. A report says how many pulses came and how long they took on the board's own clock.
//!
//! This room knows the crystal, because only the board's clock times pulses, and chance.

use firmware::input::Pulses;
use firmware::units::Instant;
use serde::Deserialize;

use super::crystal::Crystal;
use super::draw::{Draw, Purpose};
use super::truth::STEP_S;

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
}

impl Default for PickupSettings {
    fn default() -> Self {
        Self { interval_ms: 50, n1_hz_at_100_pct: 70.0, n2_hz_at_100_pct: 70.0, jitter_us: 5.0 }
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
    /// The last pulse of the last report on the board's clock; none before the first pulse.
    mark: Option<Instant>,
    /// Pulses since the mark, and the last of them.
    count: u16,
    last: Option<Pulse>,
}

/// A pulse within a step that begins at `t`: how far the phase has to grow from there, and the rate, in pulses
/// a second, at both ends of the step.
#[derive(Clone, Copy, Debug)]
struct Pulse {
    t: f64,
    phase: f64,
    rates: (f64, f64),
}

impl Pulse {
    /// When it comes, true time.
    fn time(&self) -> f64 {
        let (from, to) = self.rates;
        let slope = (to - from) / STEP_S;
        let even = 2.0 * self.phase / (from + to);
        // One step of Newton's method on from t + slope t^2 / 2 = phase; the guess is right for an even rate.
        self.t + even - (from * even + 0.5 * slope * even * even - self.phase) / (from + slope * even)
    }
}

impl Pickup {
    /// The pickup of the gas generator.
    #[must_use]
    pub fn n1(settings: &PickupSettings, seed: u64) -> Self {
        Self::new(settings.n1_hz_at_100_pct, settings.jitter_us, Draw::new(seed, Purpose::N1))
    }

    /// The pickup of the power shaft.
    #[must_use]
    pub fn n2(settings: &PickupSettings, seed: u64) -> Self {
        Self::new(settings.n2_hz_at_100_pct, settings.jitter_us, Draw::new(seed, Purpose::N2))
    }

    fn new(hz_at_100: f64, jitter_us: f64, draw: Draw) -> Self {
        let (hz_per_pct, jitter_s) = (hz_at_100.max(0.0) / 100.0, jitter_us * 1e-6);
        Self { hz_per_pct, jitter_s, draw, phase: 0.0, mark: None, count: 0, last: None }
    }

    /// Turns the shaft through one step of the truth, from `t` on, between two speeds in percent.
    pub fn turn(&mut self, t: f64, from_pct: f64, to_pct: f64) {
        let (from, to) = (from_pct * self.hz_per_pct, to_pct * self.hz_per_pct);
        let before = self.phase;
        self.phase += 0.5 * (from + to) * STEP_S;
        if self.phase < 1.0 {
            return;
        }
        let pulses = self.phase as u16;
        self.phase -= f64::from(pulses);
        self.count = self.count.saturating_add(pulses);
        self.last = Some(Pulse { t, phase: f64::from(pulses) - before, rates: (from, to) });
    }

    /// The report of what came since the last one. The first pulse of all only sets the mark.
    pub fn report(&mut self, crystal: &Crystal) -> Pulses {
        let jitter = self.draw.even(self.jitter_s);
        let Some(last) = self.last.take() else { return Pulses::default() };
        let edge = crystal.board_at_s(last.time() + jitter);
        let count = std::mem::take(&mut self.count);
        match self.mark.replace(edge) {
            Some(mark) => Pulses { count, span: edge.since(mark) },
            None => Pulses::default(),
        }
    }

    /// The wire is off, or the board: what came is lost, and the next pulse only sets a new mark.
    pub fn forget(&mut self) {
        (self.mark, self.count, self.last) = (None, 0, None);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::world::crystal::CrystalSettings;

    fn perfect() -> Crystal {
        let settings =
            CrystalSettings { error_ppm: 0.0, error_sd_ppm: 0.0, drift_ppb_per_s: 0.0, boots_at_s: -10.0 };
        Crystal::new(&settings, 1)
    }

    fn pickup() -> Pickup {
        Pickup::new(70.0, 0.0, Draw::new(1, Purpose::N1))
    }

    /// Periods of a two-pole tachometer generator, 100 % at 4200 rpm: 14285.7 us at 100 %, 28571.4 us at 50 %.
    #[test]
    fn a_steady_shaft_gives_its_period() {
        for (pct, period_us) in [(100.0, 14_285.7), (50.0, 28_571.4), (10.0, 142_857.1), (120.0, 11_904.8)] {
            let (mut pickup, mut pulses, mut micros) = (pickup(), 0, 0);
            for step in 0..3_000 {
                pickup.turn(f64::from(step) * STEP_S, pct, pct);
                if step % 5 == 4 {
                    let report = pickup.report(&perfect());
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
        let (mut pickup, mut n) = (pickup(), 0);
        for step in 0..100 {
            let t = f64::from(step) * STEP_S;
            pickup.turn(t, t * 100.0, (t + STEP_S) * 100.0);
            if pickup.count > n {
                n = pickup.count;
                let off = pickup.last.unwrap().time() - (f64::from(n) / 35.0).sqrt();
                assert!(off.abs() < 2e-7, "pulse {n}: {off}");
            }
        }
        assert_eq!(n, 34);
    }

    #[test]
    fn no_pulse_is_counted_twice_or_lost_between_reports() {
        let mut pickup = pickup();
        let mut counted = 0;
        for step in 0..10_000 {
            pickup.turn(f64::from(step) * STEP_S, 83.0, 83.0);
            if step % 5 == 4 {
                counted += u32::from(pickup.report(&perfect()).count);
            }
        }
        // 100 s at 58.1 Hz are 5,810 pulses; the ones of the first report only set the mark.
        assert!((5_807..=5_809).contains(&counted), "{counted}");
    }
}
