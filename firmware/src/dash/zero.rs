//! About zero itself: the schedule that sets it, the clocks that move it, the counts that lead up to it.
//!
//! Knows clock, timebase and race. Decides nothing that a room could.

use super::Dash;
use crate::gun::Crystal;
use crate::mutant::{Mutant, planted};
use crate::output::{Output, Outputs, Refused, Tone};
use crate::units::{Instant, Span, Utc};

/// A count that was missed by more than this is not sounded any more.
const COUNT_LATE: Span = Span::from_millis(200);

impl Dash {
    pub(super) fn schedule(&mut self, zero: Utc, out: &mut Outputs) {
        let running = self.timebase.running_of_label(zero);
        let Some(at) = self.timebase.instant(running) else {
            self.waiting_schedule = Some(zero);
            return out.push(Output::Refused(Refused::NoUtcYet));
        };
        if at <= self.now {
            return out.push(Output::Refused(Refused::SchedulePast));
        }
        let (sigma, crystal) = (self.timebase.sigma(self.now), self.crystal());
        let before = out.as_slice().len();
        self.clock.schedule(running, at, sigma, crystal, out);
        self.after_zero(before, out);
    }

    /// Zero follows what is known of the crystal and of UTC, as long as it lies ahead (rule C10); after a restart also
    /// when it is past, as long as UTC gets better at placing it (rule P4).
    pub(super) fn retime(&mut self, out: &mut Outputs) {
        let Some(was) = self.clock.zero().map(|zero| zero.at) else { return };
        let (is_past, rests_on_a_restart) = (was <= self.now, self.clock.rests_on_a_restart());
        if is_past && !rests_on_a_restart {
            return;
        }
        let placed = self.clock.by_utc().and_then(|running| {
            let at = self.timebase.instant(running)?;
            let there = if rests_on_a_restart { at } else { self.now };
            Some((at, self.timebase.sigma_of(there, self.now)))
        });
        if is_past && !placed.is_some_and(|(_, sigma)| self.clock.is_better_placed(sigma)) {
            return;
        }
        let (before, crystal) = (out.as_slice().len(), self.crystal());
        self.clock.retime(crystal, placed, out);
        let by = self.clock.zero().map_or(Span::ZERO, |zero| zero.at.since(was));
        if by != Span::ZERO && rests_on_a_restart && self.race.start_goes_with_the_clock(by) {
            self.set_counts();
        } else {
            self.after_zero(before, out);
        }
    }

    /// If zero was set or moved by what was decided since `before`: counts and call follow it.
    pub(super) fn after_zero(&mut self, before: usize, out: &mut Outputs) {
        let decided = out.as_slice().get(before..).unwrap_or_default();
        if !decided.iter().any(|output| matches!(output, Output::Zero { .. })) {
            return;
        }
        let Some(zero) = self.clock.zero().copied() else { return };
        self.race.zero_moved(&zero, out);
        self.set_counts();
    }

    /// The next count is the first that is still to come.
    pub(super) fn set_counts(&mut self) {
        let Some(zero) = self.clock.zero() else { return };
        let counts = self.settings.counts_s.iter();
        self.next_count = counts.filter(|s| count_at(zero.at, **s) <= self.now).count();
        if planted(Mutant::CountAgain) {
            self.next_count = self.next_count.saturating_sub(1);
        }
        if zero.at <= self.now {
            self.next_count = self.next_count.saturating_add(1);
        }
    }

    pub(super) fn crystal(&self) -> Crystal {
        Crystal { drift: self.timebase.drift(), drift_sd: self.timebase.drift_sd() }
    }

    /// Sounds the count that is due; zero itself is the last of them.
    pub(super) fn count(&mut self, out: &mut Outputs) {
        while let Some((due, tone)) = self.count_due().filter(|(due, _)| *due <= self.now) {
            self.next_count = self.next_count.saturating_add(1);
            if self.now.since(due) <= COUNT_LATE {
                out.push(Output::Cue(tone));
            }
        }
    }

    /// When the next count sounds, and how.
    pub(super) fn count_due(&self) -> Option<(Instant, Tone)> {
        let zero = self.clock.zero()?;
        match self.settings.counts_s.get(self.next_count) {
            Some(seconds) => Some((count_at(zero.at, *seconds), Tone::Count)),
            None if self.next_count == self.settings.counts_s.len() => Some((zero.at, Tone::Zero)),
            None => None,
        }
    }
}

fn count_at(zero: Instant, seconds: u16) -> Instant {
    zero.plus(Span::from_secs(-i64::from(seconds)))
}
