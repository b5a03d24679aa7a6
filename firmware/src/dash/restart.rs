//! Through a restart: what the dash would hand over, and how a fresh one goes on with it.
//!
//! Knows all rooms. What is carried out, a resume in, decisions out. Rules of P in `docs/timing-logic.md`.

use super::Dash;
use crate::engine::suffered::Accounts;
use crate::gun::Hand;
use crate::mutant::{Mutant, planted};
use crate::output::{Output, Outputs, Refused, Stray, Tone};
use crate::resume::{Carried, CarriedZero, ClockCarried, Labelled, RESUME_WITHIN, Resume};
use crate::units::{Instant, Span, Utc};

/// A label may be this much earlier than the record it is held against and still come after it: two ties have their
/// errors, and one without pulses is off by tenths of a second at worst.
const LABEL_SLACK: Span = Span::from_secs(1);

/// A deviation is carried anew when it has changed by more than one part in so many: it is renewed with each pulse,
/// and the record would grow for nothing.
const SIGMA_PART: i64 = 256;

/// A label is carried anew when it has moved by this much; zero itself moves by no less (rule C10).
const LABEL_STEP: Span = Span::from_millis(1);

impl Dash {
    /// What a fresh dash would have to know to go on from `at`; nothing while the clock waits for a first signal
    /// and no schedule waits for UTC.
    ///
    /// It stays the same, but for its own time, until something changes that matters.
    #[must_use]
    pub fn carried(&self, at: Instant) -> Option<Carried> {
        if let Some(waiting) = self.waiting_zero {
            return Some(Carried { schedule: self.waiting_schedule, ..waiting });
        }
        let (zero, taken) = self.carried_zero.unzip();
        if zero.is_none() && self.waiting_schedule.is_none() {
            return None;
        }
        Some(Carried {
            at,
            known_zero: zero,
            is_adrift: false,
            taken: taken.unwrap_or_default(),
            schedule: self.waiting_schedule,
            race: self.race.carried(|running| self.timebase.label_of_running(running)),
            floor_units: self.floor.as_ref().map_or(0, |floor| floor.units()),
        })
    }

    /// What the engine suffered; nothing before it has suffered anything.
    #[must_use]
    pub fn accounts(&self) -> Option<&Accounts> {
        let accounts = self.engine.accounts();
        (*accounts != Accounts::default()).then_some(accounts)
    }

    /// Renews what is carried of zero when it has changed in earnest.
    pub(super) fn note_zero(&mut self) {
        let now = self.clock.carried(|at| {
            let sigma = self.timebase.sigma_of(at, self.now);
            self.timebase.running(at).map(|utc| Labelled { utc, sigma })
        });
        let now = now.map(|(zero, taken)| {
            let label = |l: Labelled| Labelled { utc: self.timebase.label_of_running(l.utc), ..l };
            (CarriedZero { utc: zero.utc.map(label), ..zero }, taken)
        });
        let as_before = match (&self.carried_zero, &now) {
            (Some((old, had)), Some((new, has))) => had == has && says_no_more(new, old),
            (old, new) => old.is_none() && new.is_none(),
        };
        if !as_before {
            self.carried_zero = now;
        }
    }

    /// The dash before this one was cut short (rules P1 to P6).
    pub(super) fn resume(&mut self, resume: &Resume, out: &mut Outputs) {
        if self.clock.zero().is_some() || self.waiting_zero.is_some() {
            return out.push(Output::Refused(Refused::NotFresh));
        }
        let carried = &resume.carried;
        let clock = if carried.is_adrift { ClockCarried::Unknown } else { resume.clock };
        match (carried.known_zero, clock) {
            (Some(zero), ClockCarried::CarriedOn { sd }) => {
                let late = if planted(Mutant::ZeroSlips) { Span::from_secs(1) } else { Span::ZERO };
                let zero = CarriedZero { at: zero.at.plus(late), ..zero };
                self.clock.resume(&zero, carried.taken, sd, out);
                if !planted(Mutant::HeatForgotten) {
                    self.go_on(carried, Span::ZERO);
                }
            }
            (Some(CarriedZero { utc: None, .. }), ClockCarried::Unknown) => {
                out.push(Output::Refused(Refused::ZeroLost));
            }
            (Some(zero), ClockCarried::Unknown) => {
                self.waiting_zero = Some(Carried { schedule: None, is_adrift: true, ..*carried });
                self.clock.expect_after(carried.at.since(zero.at));
                if self.timebase.running(self.now).is_none() {
                    out.push(Output::Refused(Refused::ZeroWaitsForUtc));
                }
                self.find_zero(out);
            }
            (None, _) => {}
        }
        if let Some(zero) = carried.schedule {
            self.schedule(zero, out);
        }
    }

    /// UTC may be known now: a zero that waits for it is found again (rule P3).
    pub(super) fn find_zero(&mut self, out: &mut Outputs) {
        let Some(waiting) = self.waiting_zero else { return };
        let (Some(zero), Some(now)) = (waiting.known_zero, self.timebase.running(self.now)) else { return };
        let Some(label) = zero.utc else { return };
        let running = self.timebase.running_of_label(label.utc);
        let written = running.plus(waiting.at.since(zero.at));
        if now.since(written) < -LABEL_SLACK {
            return;
        }
        if now.since(running) > RESUME_WITHIN {
            self.waiting_zero = None;
            return out.push(Output::Refused(Refused::ZeroTooOld));
        }
        let Some(at) = self.timebase.instant(running) else { return };
        self.waiting_zero = None;
        let found = CarriedZero { at, utc: Some(Labelled { utc: running, ..label }), ..zero };
        let tie_sd = self.timebase.sigma_of(at, self.now);
        self.clock.resume_by_utc(&found, waiting.taken, tie_sd, out);
        self.go_on(&waiting, at.since(zero.at));
    }

    /// Zero is back: so is the heat, its instants moved by `shift`.
    fn go_on(&mut self, carried: &Carried, shift: Span) {
        self.resumed = true;
        let timebase = &self.timebase;
        self.race.resume(&carried.race, shift, |label: Utc| timebase.running_of_label(label));
        if let Some(floor) = self.floor.as_mut() {
            floor.resume(carried.floor_units);
            self.race.owe_time(floor.owed());
        }
        self.set_counts();
    }

    /// A press or closure while a zero of before a restart waits for UTC (rule P6). True when it is not a signal.
    pub(super) fn is_stray_while_finding_zero(&mut self, hand: Hand, out: &mut Outputs) -> bool {
        let Some(waiting) = self.waiting_zero else { return false };
        if waiting.race.start.is_none() || waiting.race.finished {
            self.waiting_zero = None;
            return false;
        }
        out.push(Output::Stray { contact: hand == Hand::Contact, why: Stray::RaceOn });
        out.push(Output::Cue(Tone::NotTaken));
        true
    }
}

/// Nothing of a carried zero has changed that would matter after a restart.
fn says_no_more(new: &CarriedZero, old: &CarriedZero) -> bool {
    let changed = (new.sigma - old.sigma).abs().as_micros().saturating_mul(SIGMA_PART);
    let label_stands = match (new.utc, old.utc) {
        (Some(new), Some(old)) => {
            new.utc.since(old.utc).abs() < LABEL_STEP && new.sigma + new.sigma > old.sigma
        }
        (new, old) => new.is_none() && old.is_none(),
    };
    (new.at, new.rests_on) == (old.at, old.rests_on) && changed <= old.sigma.as_micros() && label_stands
}

#[cfg(test)]
mod tests;
