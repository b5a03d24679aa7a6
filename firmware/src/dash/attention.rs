//! What deserves the driver's eye: the alert room hears of conditions, and of what was just decided.
//!
//! Conditions of all rooms and fresh decisions in, alerts out. Decides nothing about the race.

use super::Dash;
use crate::floor::SpeedFloor;
use crate::output::{AlertId, Call, Output, Outputs, Tie, ZeroSource};
use crate::units::{Instant, Span};

/// Zero that moves by more than this is worth the driver's eye: at 160 mph it is 18 m.
const MOVE_WORTH_AN_ALERT: Span = Span::from_millis(250);

impl Dash {
    /// The alert room hears of all conditions, and of what was just decided.
    pub(super) fn tell_alerts(&mut self, out: &mut Outputs) {
        let now = self.now;
        for (id, holds) in self.engine.conditions(now) {
            self.alerts.set(now, id, holds, out);
        }
        for (id, holds) in self.engine.start_conditions() {
            self.alerts.set(now, id, holds, out);
        }
        self.alerts.set(now, AlertId::FixLost, self.fix_is_lost(), out);
        self.alerts.set(now, AlertId::PpsLost, self.last_tie == Tie::Holdover, out);
        // No fix is no evidence: a boat that is not seen is not said to be slow.
        let slow = !self.fix_is_lost() && self.floor.as_ref().is_some_and(SpeedFloor::is_slow);
        self.alerts.set(now, AlertId::SpeedFloor, slow, out);
        let early = self.race.start_call().is_some_and(|view| view.call == Call::Early);
        self.alerts.set(now, AlertId::JumpedGun, early && !self.race.is_finished(), out);
        for place in 0..out.as_slice().len() {
            if let Some(decided) = out.as_slice().get(place).copied() {
                self.tell_alerts_of(&decided, out);
            }
        }
    }

    /// True in the last seconds before zero, until the start is made: only warnings are shown and heard (rule E13).
    pub(super) fn is_quiet(&self) -> bool {
        let quiet = self.settings.alerts.quiet_before_zero;
        let time = self.race_time(self.now).filter(|_| !self.race.is_started());
        time.is_some_and(|time| time >= -quiet && time < Span::ZERO)
    }

    /// When that begins or ends by time alone.
    pub(super) fn quiet_due(&self) -> Option<Instant> {
        let zero = self.clock.zero().filter(|_| !self.race.is_started())?.at;
        let begins = zero.plus(-self.settings.alerts.quiet_before_zero);
        [begins, zero].into_iter().find(|due| *due > self.now)
    }

    fn tell_alerts_of(&mut self, decided: &Output, out: &mut Outputs) {
        let now = self.now;
        match *decided {
            Output::Zero { moved: Some(moved), source, .. }
                if moved.abs() >= MOVE_WORTH_AN_ALERT && source != ZeroSource::Drift =>
            {
                self.zero_moved = Some((now, moved));
                self.alerts.pulse(now, AlertId::ZeroMoved, out);
            }
            Output::LapMissed { .. } => self.alerts.set(now, AlertId::LapMissed, true, out),
            Output::Lap { lap, .. } => {
                self.alerts.set(now, AlertId::LapMissed, false, out);
                if lap.saturating_add(1) == self.race.laps_owed() {
                    self.alerts.pulse(now, AlertId::LastLap, out);
                }
            }
            Output::Finish { .. } => {
                self.offered.finished = Some(now);
                self.alerts.pulse(now, AlertId::Finished, out);
                self.engine.tell_account(out);
            }
            _ => {}
        }
    }

    /// True when there were fixes and there are none now.
    pub(super) fn fix_is_lost(&self) -> bool {
        self.last_fix.is_some_and(|last| self.now.since(last.arrived) > self.settings.fix_lost_after)
    }
}
