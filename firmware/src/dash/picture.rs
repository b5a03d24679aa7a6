//! The state of the dash at a moment, as plain facts for a screen.
//!
//! Reads all rooms, changes none.

use super::Dash;
use crate::units::{Instant, Span};
use crate::view::{Phase, RunInView, View};

/// So long the driver is shown by how much zero moved; as long as the alert that says so.
const MOVE_SHOWN: Span = Span::from_secs(6);

impl Dash {
    /// What a screen may show at `at`.
    #[must_use]
    pub fn view(&self, at: Instant) -> View {
        let zero = self.clock.zero();
        let race = zero.map(|zero| at.since(zero.at));
        let fresh = self.last_fix.filter(|last| at.since(last.arrived) <= self.settings.fix_lost_after);
        View {
            phase: self.phase(race),
            race,
            zero_sigma: zero.map(|zero| zero.sigma),
            zero_moved: self
                .zero_moved
                .filter(|(when, _)| at.since(*when) <= MOVE_SHOWN)
                .map(|(_, moved)| moved),
            call: self.race.start_call().copied(),
            laps_done: self.race.laps_done(),
            laps_owed: self.race.laps_owed(),
            last_lap: self.race.last_lap().copied(),
            speed: fresh.map(|last| last.fix.speed),
            tie: self.timebase.tie(at),
            gauges: self.engine.gauges(at),
            alert: self.alerts.shown(),
            alerts_waiting: self.alerts.waiting(),
            demo_limits: self.settings.engine.demonstration,
            run_in: self.run_in_view(at, fresh.is_some()),
            resumed: self.resumed,
            finding_zero: self.waiting_zero.is_some(),
            no_course: self.watch.is_none(),
            offer: self.offer(at),
            start: self.engine.start_view(at),
            caution: self.alerts.caution(),
            ahead: self.engine.ahead(at),
            trust: self.engine.trust(at),
            survey: self.survey_view(),
        }
    }

    /// What comes of going flat out now, until the start is made.
    pub(super) fn run_in_view(&self, at: Instant, fresh: bool) -> Option<RunInView> {
        let run_in = self.run_in.as_ref().filter(|_| !self.race.is_started())?;
        match self.timebase.running(at) {
            Some(now) if fresh => Some(run_in.view(now, self.aim(at).as_ref())),
            _ => Some(run_in.blind()),
        }
    }

    fn phase(&self, race: Option<Span>) -> Phase {
        match race {
            None => Phase::Waiting,
            Some(_) if self.race.is_finished() => Phase::Finished,
            Some(_) if self.race.is_started() => Phase::Racing,
            Some(time) if time < -self.settings.race.early_window => Phase::Milling,
            Some(time) if time < Span::ZERO => Phase::Window,
            Some(_) => Phase::Late,
        }
    }
}
