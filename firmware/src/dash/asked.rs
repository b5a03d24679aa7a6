//! What a host asks of the dash over its cable, in nobody's haste: UTC, the engine's account set to nothing.
//!
//! Each comes as an input like any other, so the record has it and a replay decides the same. Knows timebase, clock and
//! engine. Rules T10 and E18 in `docs/timing-logic.md`; an offer's answer stands in `learned`.

use super::Dash;
use crate::engine::suffered::Accounts;
use crate::output::{Output, Outputs, Refused, Suffering};
use crate::units::{Instant, Span, Utc};

impl Dash {
    /// UTC as a host tells it (rule T10). What waited for UTC goes on, as it does at the first fix.
    pub(super) fn told_utc(&mut self, at: Instant, utc: Utc, sd: Span, out: &mut Outputs) {
        if let Err(why) = self.timebase.tell(self.now, at, utc, sd) {
            return out.push(Output::Refused(why));
        }
        self.find_zero(out);
        if let Some(zero) = self.waiting_schedule.take() {
            self.schedule(zero, out);
        }
        if self.clock.by_utc().is_some() {
            self.retime(out);
        }
    }

    /// A fresh dash is told what the engine suffered; or the owner sets that to nothing (rule E18).
    pub(super) fn suffered(&mut self, accounts: &Accounts, out: &mut Outputs) {
        let is_nothing = *accounts == Accounts::default();
        if is_nothing && !self.is_idle() {
            return out.push(Output::Refused(Refused::ClockRuns));
        }
        self.engine.resume(accounts);
        if is_nothing {
            for what in [Suffering::RunSeconds, Suffering::Starts] {
                out.push(Output::Suffered { what, heat: 0, total: 0 });
            }
        }
    }

    /// No clock runs, and none is to come.
    #[must_use]
    pub fn is_idle(&self) -> bool {
        self.clock.zero().is_none() && self.waiting_schedule.is_none() && self.waiting_zero.is_none()
    }
}

#[cfg(test)]
mod tests;
