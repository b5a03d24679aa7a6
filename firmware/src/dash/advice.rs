//! What the run-in advises, recorded and said (rules G11 to G13).
//!
//! Knows the run-in's speech, zero and its counts. Views in, decisions out.

use super::Dash;
use crate::output::{Level, Output, Outputs};
use crate::run_in::risk::Advice;
use crate::run_in::speech::{self, Speech};
use crate::units::{Instant, Span};

/// A number is recorded this often, beside every change of the word.
const RECORD_EVERY: Span = Span::from_secs(1);

impl Dash {
    /// A good fix has come, or fixes are missing for too long: the word is settled anew.
    pub(super) fn advise(&mut self, out: &mut Outputs) {
        let now = self.now;
        let ahead = self.clock.zero().is_some() && !self.race.is_started();
        let view = if ahead { self.run_in_view(now, !self.fix_is_lost()) } else { None };
        let Some(view) = view else {
            if self.speech.word() != Advice::NoClock {
                (self.speech, self.advice_due) = (Speech::default(), Instant::BOOT);
            }
            return;
        };
        let changed = self.speech.hear(now, &view);
        let has_number = matches!(self.speech.word(), Advice::Hold | Advice::Go | Advice::Late);
        if changed || (has_number && now >= self.advice_due) {
            self.advice_due = now.plus(RECORD_EVERY);
            let number = |span: Option<Span>| span.filter(|_| has_number).unwrap_or(Span::ZERO);
            out.push(Output::Advice {
                word: self.speech.word(),
                margin: number(view.margin),
                sigma: number(view.sigma),
                hold: number(Some(view.hold)),
            });
        }
    }

    /// Fixes are missing for too long, and no fix comes to settle the word.
    pub(super) fn advise_of_lost_fixes(&mut self, out: &mut Outputs) {
        let numbers = !matches!(self.speech.word(), Advice::NoClock | Advice::NoFix);
        if numbers && self.fix_is_lost() {
            self.advise(out);
        }
    }

    /// Says what is due, between the counts and before zero.
    pub(super) fn speak(&mut self, out: &mut Outputs) {
        let now = self.now;
        if self.speech.due().is_none_or(|due| due > now) {
            return;
        }
        let (Some(zero), Some(tone)) = (self.clock.zero(), self.speech.tone()) else {
            return self.speech.put_off(None);
        };
        let speaks = self.settings.run_in.as_ref().is_some_and(|run_in| run_in.speaks);
        let warned =
            self.alerts.shown().is_some_and(|shown| shown.level == Level::Warning && !shown.acknowledged);
        if !speaks || warned || self.race.is_started() {
            return self.speech.put_off(speaks.then(|| now.plus(speech::AGAIN)));
        }
        match speech::between_counts(now, tone, zero.at, &self.settings.counts_s) {
            Some(from) if from <= now => {
                if let Some(tone) = self.speech.say(now) {
                    out.push(Output::Cue(tone));
                }
            }
            later => self.speech.put_off(later),
        }
    }
}

#[cfg(test)]
#[cfg(feature = "run-in")]
mod tests;
