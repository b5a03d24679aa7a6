//! Both shafts together: turned through the truth step by step, reported on one schedule, and early where the
//! board's lookout has news.

use std::collections::VecDeque;

use firmware::units::Span;

use super::SensorEvent;
use super::crystal::Crystal;
use super::faults::{FaultKind, Faults};
use super::maths::seconds;
use super::pickup::{Pair, PickupSettings};
use super::truth::{STEP_S, Truth};

/// The two pickups and their schedule.
#[derive(Clone, Debug)]
pub(super) struct Shafts {
    pair: Pair,
    begins: Span,
    /// The next step of the truth to turn through, and the one before which the next regular report is made.
    step: usize,
    report_at: usize,
    steps: usize,
    /// Reports that are made, with their times.
    made: VecDeque<(Span, SensorEvent)>,
}

impl Shafts {
    /// Shafts that begin to be watched at `begins`, where the truth begins.
    pub(super) fn new(settings: &PickupSettings, begins: Span, seed: u64) -> Self {
        let steps = (f64::from(settings.interval_ms) * 1e-3 / STEP_S + 0.5) as usize;
        let steps = steps.max(1);
        Self {
            pair: Pair::new(settings, seed),
            begins,
            step: 0,
            report_at: steps,
            steps,
            made: VecDeque::new(),
        }
    }

    /// When the next report is due: turns both shafts up to it, or as far as the truth is known.
    pub(super) fn due(&mut self, truth: &Truth, crystal: &Crystal, faults: &Faults) -> Option<Span> {
        while self.made.is_empty() && truth.is_known(self.step + 1) {
            self.turn(truth, crystal, faults);
        }
        self.made.front().map(|(at, _)| *at)
    }

    /// The report that was due.
    pub(super) fn take(&mut self) -> Option<SensorEvent> {
        self.made.pop_front().map(|(_, event)| event)
    }

    /// One step of the truth, and what is reported in it.
    fn turn(&mut self, truth: &Truth, crystal: &Crystal, faults: &Faults) {
        let (t, ends) = (self.at(self.step), self.at(self.step + 1));
        let lost = (faults.active(FaultKind::N1Lost, ends), faults.active(FaultKind::N2Lost, ends));
        let speeds = |step| {
            let state = truth.engine_at_step(step);
            (state.n1_pct, state.n2_pct)
        };
        let (from, to) = (speeds(self.step), speeds(self.step + 1));
        self.made.extend(self.pair.step(seconds(t), (from, to), crystal, lost));
        self.step += 1;
        if self.step == self.report_at {
            self.report_at += self.steps;
            self.made.push_back((ends, self.pair.report(lost)));
        }
    }

    /// When a step begins.
    fn at(&self, step: usize) -> Span {
        let steps = i64::try_from(step).unwrap_or(i64::MAX);
        self.begins + Span::from_micros(steps.saturating_mul((STEP_S * 1e6) as i64))
    }

    /// The board lost its power: what it had counted is gone.
    pub(super) fn forget(&mut self) {
        self.pair.forget();
    }
}
