//! Both shafts together: turned through the truth step by step, reported on one schedule.

use firmware::input::Pulses;
use firmware::units::Span;

use super::SensorEvent;
use super::crystal::Crystal;
use super::faults::{FaultKind, Faults};
use super::maths::seconds;
use super::pickup::{Pickup, PickupSettings};
use super::truth::{STEP_S, Truth};

/// The two pickups and their schedule.
#[derive(Clone, Debug)]
pub(super) struct Shafts {
    n1: Pickup,
    n2: Pickup,
    begins: Span,
    /// The next step of the truth to turn through, and the one before which the next report is made.
    step: usize,
    report_at: usize,
    steps: usize,
}

impl Shafts {
    /// Shafts that begin to be watched at `begins`, where the truth begins.
    pub(super) fn new(settings: &PickupSettings, begins: Span, seed: u64) -> Self {
        let steps = (f64::from(settings.interval_ms) * 1e-3 / STEP_S + 0.5) as usize;
        Self {
            n1: Pickup::n1(settings, seed),
            n2: Pickup::n2(settings, seed),
            begins,
            step: 0,
            report_at: steps.max(1),
            steps: steps.max(1),
        }
    }

    /// When the next report is due.
    pub(super) fn due(&self) -> Span {
        let steps = i64::try_from(self.report_at).unwrap_or(i64::MAX);
        self.begins + Span::from_micros(steps.saturating_mul((STEP_S * 1e6) as i64))
    }

    /// Turns both shafts up to the report and makes it.
    pub(super) fn report(&mut self, truth: &Truth, crystal: &Crystal, faults: &Faults) -> SensorEvent {
        let at = self.due();
        let begins_s = seconds(self.begins);
        let mut from = truth.engine_at_step(self.step);
        while self.step < self.report_at {
            let t = begins_s + self.step as f64 * STEP_S;
            let to = truth.engine_at_step(self.step + 1);
            self.n1.turn(t, from.n1_pct, to.n1_pct);
            self.n2.turn(t, from.n2_pct, to.n2_pct);
            self.step += 1;
            from = to;
        }
        self.report_at += self.steps;
        let one = |pickup: &mut Pickup, lost: FaultKind| {
            let pulses = pickup.report(crystal);
            if !faults.active(lost, at) {
                return pulses;
            }
            pickup.forget();
            Pulses::default()
        };
        SensorEvent::ShaftPulses {
            n1: one(&mut self.n1, FaultKind::N1Lost),
            n2: one(&mut self.n2, FaultKind::N2Lost),
        }
    }

    /// The board lost its power: what it had counted is gone.
    pub(super) fn forget(&mut self) {
        self.n1.forget();
        self.n2.forget();
    }
}
