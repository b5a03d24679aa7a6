//! The course's marks, taken by the board's own button from a boat at rest (rules Q1, Q2, Q5 and Q6).
//!
//! Acknowledge is the button of a survey: held for three seconds it begins one and ends it, pressed shorter it begins a mark
//! and takes it. The start button stays the start button, and the page button chooses the signal: an armed clock ends
//! a survey at once.
//!
//! Knows the averaging of a mark, the acknowledge button and the clock. Fixes and a button in, marks out.

use super::Dash;
use crate::gnss::Fix;
use crate::output::{Output, Outputs, Tone};
use crate::survey::{Averaging, GivenUp, SHORTEST, Step};
use crate::units::{Instant, Millimetres, Span, Utc};
use crate::view::{SurveyStands, SurveyView};

/// So long the button must be held to begin a survey or end it: longer than to accept an offer.
const HOLD: Span = Span::from_secs(3);

/// A survey, while there is one.
#[derive(Clone, Debug, Default)]
pub(super) struct Surveying {
    on: bool,
    /// Marks taken since the dash was switched on.
    taken: u8,
    /// The press that is a survey's, until its meaning is known.
    press: Option<Instant>,
    stands: Stands,
}

#[derive(Clone, Debug, Default)]
enum Stands {
    #[default]
    Ready,
    /// A press has come; the next fix begins the mark.
    Begun,
    Averaging(Averaging),
    Marked(Millimetres),
    Moving,
    Adrift,
    NoFix,
    TooShort,
}

impl Surveying {
    pub(super) const fn is_on(&self) -> bool {
        self.on
    }
}

impl Dash {
    /// No clock runs and none is to come (rule Q1).
    fn may_survey(&self) -> bool {
        self.clock.zero().is_none() && self.waiting_schedule.is_none() && self.waiting_zero.is_none()
    }

    /// The acknowledge button went down or up. A press that silences an alert, or is an offer's, is no survey's.
    pub(super) fn press_on_survey(&mut self, at: Instant, active: bool, out: &mut Outputs) {
        if active {
            let silences = self.alerts.shown().is_some_and(|shown| !shown.acknowledged);
            let other = silences || self.offer(self.now).is_some();
            self.survey.press = (!other && self.may_survey()).then_some(at);
        } else if self.lines.acknowledge.held_since(self.now).is_none() && self.survey.press.take().is_some()
        {
            self.pressed_in_survey(out);
        }
    }

    /// A short press: begins a mark, or takes it as it is.
    fn pressed_in_survey(&mut self, out: &mut Outputs) {
        if !self.survey.on {
            return;
        }
        let says = match &self.survey.stands {
            Stands::Averaging(mark) if mark.time() >= SHORTEST => {
                let mark = *mark;
                return self.mark(&mark, out);
            }
            Stands::Averaging(_) | Stands::Begun => Stands::TooShort,
            _ if self.last_fix.is_none() || self.fix_is_lost() => Stands::NoFix,
            _ => {
                self.survey.stands = Stands::Begun;
                return;
            }
        };
        self.give_up(says, out);
    }

    /// The button has been held for long enough: a survey begins or ends.
    pub(super) fn hold_for_survey(&mut self, out: &mut Outputs) {
        let Some(press) = self.survey.press else { return };
        let held = self.lines.acknowledge.held_since(self.now);
        if held != Some(press) {
            // Let go within the bounce of its own press: no press.
            self.survey.press = None;
        } else if self.now.since(press) >= HOLD {
            self.survey.press = None;
            self.survey.on = !self.survey.on && self.may_survey();
            self.survey.stands = Stands::Ready;
            out.push(Output::Cue(Tone::Taken));
        }
    }

    /// When that will be.
    pub(super) fn survey_due(&self) -> Option<Instant> {
        self.survey.press.map(|press| press.plus(HOLD))
    }

    /// A survey never lives beside a clock (rule Q1).
    pub(super) fn end_survey_with_a_clock(&mut self) {
        if !self.may_survey() {
            (self.survey.on, self.survey.press, self.survey.stands) = (false, None, Stands::Ready);
        }
    }

    /// A good fix has come.
    pub(super) fn survey_fix(&mut self, running: Utc, fix: &Fix, out: &mut Outputs) {
        let sd = fix.position_sd.unwrap_or(self.settings.crossing.position_sd);
        let accuracy = self.settings.survey.accuracy;
        let step = match &mut self.survey.stands {
            Stands::Averaging(mark) => mark.fix(running, fix, sd, accuracy),
            Stands::Begun => match Averaging::begin(running, fix, sd) {
                Ok(mark) => {
                    self.survey.stands = Stands::Averaging(mark);
                    Step::On
                }
                Err(why) => Step::GivenUp(why),
            },
            _ => return,
        };
        match (step, &self.survey.stands) {
            (Step::Taken, Stands::Averaging(mark)) => {
                let mark = *mark;
                self.mark(&mark, out);
            }
            (Step::GivenUp(GivenUp::Moving), _) => self.give_up(Stands::Moving, out),
            (Step::GivenUp(GivenUp::Adrift), _) => self.give_up(Stands::Adrift, out),
            _ => {}
        }
    }

    fn mark(&mut self, mark: &Averaging, out: &mut Outputs) {
        let (position, sd, fixes) = (mark.position(), mark.sd(), mark.fixes());
        let seconds = u16::try_from(mark.time().as_micros() / 1_000_000).unwrap_or(u16::MAX);
        self.survey.taken = self.survey.taken.saturating_add(1);
        self.survey.stands = Stands::Marked(sd);
        out.push(Output::Marked { number: self.survey.taken, position, sd, fixes, seconds });
        out.push(Output::Cue(Tone::Taken));
    }

    fn give_up(&mut self, says: Stands, out: &mut Outputs) {
        self.survey.stands = says;
        out.push(Output::Cue(Tone::NotTaken));
    }

    /// The survey's page.
    pub(super) fn survey_view(&self) -> Option<SurveyView> {
        let stands = match &self.survey.stands {
            Stands::Ready => SurveyStands::Ready,
            Stands::Begun => SurveyStands::Averaging { fixes: 0, time: Span::ZERO, sd: Millimetres::MAX },
            Stands::Averaging(mark) => {
                SurveyStands::Averaging { fixes: mark.fixes(), time: mark.time(), sd: mark.sd() }
            }
            Stands::Marked(sd) => SurveyStands::Marked { sd: *sd },
            Stands::Moving => SurveyStands::Moving,
            Stands::Adrift => SurveyStands::Adrift,
            Stands::NoFix => SurveyStands::NoFix,
            Stands::TooShort => SurveyStands::TooShort,
        };
        let next = u8::from(!matches!(stands, SurveyStands::Marked { .. }));
        let number = self.survey.taken.saturating_add(next);
        self.survey.on.then_some(SurveyView { number, stands, accuracy: self.settings.survey.accuracy })
    }
}

#[cfg(test)]
mod tests;
