//! What the dash says of the run-in: one settled word, and when the beeper tells it.
//!
//! The screen may change its word with every fix; an ear cannot follow that. So a word is settled before it is said
//! or recorded: a more cautious one at once, a bolder one only after it has stood (rule G11). The beeper then says it
//! in a rhythm: a long note first holds him back, a short one first sends him off, and the short notes after the long
//! one count the half seconds that are missing.
//!
//! Silence says nothing: GO is told again and again for as long as it stands, and a number that goes away says so.
//!
//! Knows views and tones. Views in, a word and the next tone out; what counts sound is the caller's affair.

use super::risk::Advice;
use crate::alerts::cues;
use crate::output::Tone;
use crate::units::{Instant, Span};
use crate::view::RunInView;

/// After a change the word stays at least so long, unless it becomes more cautious.
pub const STAYS: Span = Span::from_secs(1);

/// A bolder word must have stood so long: three fixes.
pub const STANDS: Span = Span::from_millis(300);

/// With this much beyond the margin to hold, GO need not stand first: it is more than noise.
pub const BEYOND: Span = Span::from_millis(30);

/// The word is said again after so long.
pub const AGAIN: Span = Span::from_secs(2);

/// From the end of one rhythm to the beginning of the next: as long as the longest pause within a group of notes.
const APART: Span = Span::from_millis(300);

/// Each short note of a hold is worth this much.
const STEP: Span = Span::from_millis(500);

/// Farther from the margin to hold than this nothing is said: he mills.
pub const NEAR: Span = Span::from_secs(2);

/// A rhythm keeps this far from a count before it and after it.
const CLEAR: Span = Span::from_millis(100);

/// The settled word and what is said of it.
#[derive(Clone, Debug)]
pub struct Speech {
    view: RunInView,
    word: Advice,
    changed: Option<Instant>,
    /// A bolder word that waits, and since when it has stood.
    waits: Option<(Advice, Instant)>,
    /// What was said last, and when.
    said: Option<(Tone, Instant)>,
    /// True while what was said last still stands for something.
    speaking: bool,
    due: Option<Instant>,
}

impl Default for Speech {
    fn default() -> Self {
        Self {
            view: RunInView::without(Advice::NoClock, false),
            word: Advice::NoClock,
            changed: None,
            waits: None,
            said: None,
            speaking: false,
            due: None,
        }
    }
}

impl Speech {
    /// The settled word.
    #[must_use]
    pub const fn word(&self) -> Advice {
        self.word
    }

    /// What the settled word rests on.
    #[must_use]
    pub const fn view(&self) -> &RunInView {
        &self.view
    }

    /// A new view of the run-in. True when the settled word has changed.
    pub fn hear(&mut self, at: Instant, view: &RunInView) -> bool {
        self.view = *view;
        let changed = self.settles(at, view);
        if changed {
            (self.word, self.changed, self.waits) = (view.advice, Some(at), None);
        }
        match self.tone() {
            Some(_) if changed || self.due.is_none() => self.due = Some(self.apart(at)),
            Some(_) => {}
            None => {
                self.due = None;
                self.speaking &= self.word != Advice::Hold || !self.is_far();
            }
        }
        changed
    }

    /// When something is to be said.
    #[must_use]
    pub const fn due(&self) -> Option<Instant> {
        self.due
    }

    /// It cannot be said now: later, then.
    pub fn put_off(&mut self, until: Option<Instant>) {
        self.due = until;
    }

    /// It is said now, or would be: the next time is set.
    pub fn say(&mut self, at: Instant) -> Option<Tone> {
        let tone = self.tone()?;
        self.said = Some((tone, at));
        self.speaking = tone != Tone::NumberGone;
        self.due = self.speaking.then(|| at.plus(AGAIN));
        Some(tone)
    }

    /// The rhythm of what stands.
    #[must_use]
    pub fn tone(&self) -> Option<Tone> {
        match self.word {
            Advice::Go => Some(Tone::Go),
            Advice::Late => Some(Tone::Late),
            Advice::Hold => self.hold(),
            Advice::NoFix | Advice::OffCourse | Advice::TooUncertain => {
                self.speaking.then_some(Tone::NumberGone)
            }
            Advice::NoClock => None,
        }
    }

    /// How much is missing of the margin to hold. Nothing from far off, and nothing when GO may come before the rhythm
    /// is over; but that GO stands no longer is told in any case.
    fn hold(&self) -> Option<Tone> {
        let tone = match self.missing()? {
            missing if missing <= Span::ZERO => return None,
            missing if missing < STEP => Tone::HoldOne,
            missing if missing < STEP + STEP => Tone::HoldTwo,
            _ => Tone::HoldThree,
        };
        let over = cues::sounding(tone) + APART;
        let soon = self.view.wait.is_some_and(|wait| wait <= over);
        (self.spoke_of_go() || !(soon || self.is_far())).then_some(tone)
    }

    fn missing(&self) -> Option<Span> {
        Some(self.view.hold - self.view.margin?)
    }

    fn is_far(&self) -> bool {
        self.missing().is_some_and(|missing| missing > NEAR)
    }

    /// GO or LATE was said last.
    fn spoke_of_go(&self) -> bool {
        self.speaking && self.said.is_some_and(|(tone, _)| matches!(tone, Tone::Go | Tone::Late))
    }

    /// Not before what was said last is over.
    fn apart(&self, at: Instant) -> Instant {
        self.said.map_or(at, |(tone, since)| at.max(since.plus(cues::sounding(tone) + APART)))
    }

    fn settles(&mut self, at: Instant, view: &RunInView) -> bool {
        let new = view.advice;
        if new == self.word {
            self.waits = None;
            return false;
        }
        if boldness(new) < boldness(self.word) || new == Advice::NoFix {
            return true;
        }
        let since = match self.waits {
            Some((word, since)) if word == new => since,
            _ => at,
        };
        self.waits = Some((new, since));
        let beyond = view.margin.is_some_and(|margin| margin >= view.hold + BEYOND);
        let stands = at.since(since) >= STANDS || (beyond && self.word == Advice::Hold);
        stands && self.changed.is_none_or(|changed| at.since(changed) >= STAYS)
    }
}

/// What dares less is believed at once.
const fn boldness(word: Advice) -> u8 {
    match word {
        Advice::NoClock | Advice::NoFix | Advice::OffCourse | Advice::TooUncertain => 0,
        Advice::Hold => 1,
        Advice::Go | Advice::Late => 2,
    }
}

/// The first moment from `at` on at which a rhythm can be heard out between two counts; `None`: not before zero.
///
/// `counts_s` are whole seconds before zero, falling.
#[must_use]
pub fn between_counts(at: Instant, tone: Tone, zero: Instant, counts_s: &[u16]) -> Option<Instant> {
    let (length, after) = (cues::sounding(tone), cues::sounding(Tone::Count) + CLEAR);
    let mut from = at;
    for seconds in counts_s.iter().copied().chain([0]) {
        let count = zero.plus(Span::from_secs(-i64::from(seconds)));
        let hits = from < count.plus(after) && from.plus(length + CLEAR) > count;
        if hits {
            from = count.plus(after);
        }
    }
    (from < zero).then_some(from)
}

#[cfg(test)]
mod tests;
