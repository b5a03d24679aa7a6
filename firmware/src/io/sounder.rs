//! The beeper: which tone sounds at a moment, and when that changes.
//!
//! Decisions go in ([`Sounder::hear`]); [`Sounder::sound`] says at any moment whether the beeper sounds and
//! how high, [`Sounder::next_wake`] when that changes by itself. One beeper has one voice, so:
//!
//! * **A count and zero sound at once or not at all**: late, they would say something untrue. Zero
//!   interrupts everything. A count is left out while something more urgent than an advisory sounds; the
//!   next one comes in a second.
//! * **A warning interrupts everything**, zero too: when it comes, zero's first moment, the one that counts,
//!   is over.
//! * Otherwise a tone replaces one that is no more urgent, at once.
//! * **A warning or caution is never lost**: one that zero interrupts, or that finds something more urgent
//!   sounding, waits, and begins from its first note, after a pause that keeps the rhythms apart. For zero
//!   that is 1.3 s at the most. Of two that wait, the more urgent is kept. Any other tone that finds no room
//!   is dropped. The light does not wait.
//! * **What the run-in says gives way to everything**: whatever else sounds, sounds as though it had never spoken.
//! * **Acknowledging silences** the tone of that level, sounding or waiting.
//!
//! This file knows the decisions' words, the rhythms and moments.

use crate::alerts::cues::{self, Pitch, beeps};
use crate::output::{AlertState, Output, Tone};
use crate::units::{Instant, Span};

/// The silence before a tone that had to wait: as long as the longest within a group of notes.
const PAUSE: Span = Span::from_millis(300);

/// The beeper's state.
#[derive(Clone, Copy, Debug, Default)]
pub struct Sounder {
    playing: Option<Playing>,
    /// The warning or caution that sounds when what plays is over.
    waiting: Option<Tone>,
}

/// A tone and its first moment.
#[derive(Clone, Copy, Debug)]
struct Playing {
    tone: Tone,
    since: Instant,
}

impl Sounder {
    /// Silence.
    #[must_use]
    pub const fn new() -> Self {
        Self { playing: None, waiting: None }
    }

    /// The dash decided something at `at`. Most decisions are silent.
    pub fn hear(&mut self, at: Instant, decided: &Output) {
        match *decided {
            Output::Cue(tone) => self.cue(at, tone),
            Output::Alert { level, state: AlertState::Acknowledged, .. } => {
                self.silence(at, cues::tone(level));
            }
            _ => {}
        }
    }

    /// How high the beeper sounds at `at`; `None` for silence.
    #[must_use]
    pub fn sound(&self, at: Instant) -> Option<Pitch> {
        let playing = self.settled(at).playing?;
        playing.notes().find(|note| (note.from..note.until).contains(&at)).map(|note| note.pitch)
    }

    /// When the sound changes next; always later than `at`.
    #[must_use]
    pub fn next_wake(&self, at: Instant) -> Option<Instant> {
        let settled = self.settled(at);
        let playing = settled.playing?;
        let edges = playing.notes().flat_map(|note| [note.from, note.until]);
        edges.chain(settled.waiting.map(|_| playing.end().plus(PAUSE))).find(|edge| *edge > at)
    }

    fn cue(&mut self, at: Instant, tone: Tone) {
        *self = self.settled(at);
        match self.playing {
            Some(playing) if !gives_way(playing.tone, tone) => self.put_off(tone),
            playing => {
                self.playing = Some(Playing { tone, since: at });
                if let Some(interrupted) = playing.filter(|_| tone == Tone::Zero) {
                    self.put_off(interrupted.tone);
                }
                self.waiting = self.waiting.filter(|waiting| *waiting != tone);
            }
        }
    }

    /// Keeps a tone that must not be lost for later; of two, the more urgent.
    fn put_off(&mut self, tone: Tone) {
        if rank(tone) >= rank(Tone::Caution) && tone != Tone::Zero {
            self.waiting = self.waiting.filter(|waiting| rank(*waiting) > rank(tone)).or(Some(tone));
        }
    }

    fn silence(&mut self, at: Instant, tone: Tone) {
        *self = self.settled(at);
        self.waiting = self.waiting.filter(|waiting| *waiting != tone);
        if self.playing.is_some_and(|playing| playing.tone == tone) {
            self.playing = self.waiting.take().map(|tone| Playing { tone, since: at.plus(PAUSE) });
        }
    }

    /// The state at `at`: what is over is over, and what waited has begun when it could.
    fn settled(&self, at: Instant) -> Self {
        let mut state = *self;
        // What plays may be over, and what waited after it too.
        for _ in 0..2 {
            if let Some(playing) = state.playing.filter(|playing| playing.end() <= at) {
                let since = playing.end().plus(PAUSE);
                state.playing = state.waiting.take().map(|tone| Playing { tone, since });
            }
        }
        state
    }
}

/// A note with its moments.
struct Note {
    from: Instant,
    until: Instant,
    pitch: Pitch,
}

impl Playing {
    fn notes(self) -> impl Iterator<Item = Note> {
        beeps(self.tone).iter().scan(self.since, |next, beep| {
            let (from, until) = (*next, next.plus(beep.on));
            *next = until.plus(beep.off);
            Some(Note { from, until, pitch: beep.pitch })
        })
    }

    /// When the last silence of the rhythm is over.
    fn end(self) -> Instant {
        let length = beeps(self.tone).iter().fold(Span::ZERO, |sum, beep| sum + beep.on + beep.off);
        self.since.plus(length)
    }
}

/// Whether what plays makes room for a new tone at once.
fn gives_way(playing: Tone, new: Tone) -> bool {
    rank(new) >= rank(playing)
}

/// How urgent a tone is. Zero and a warning are equal, so the newer one sounds. That a press was taken, or
/// not, is the answer to what the driver just did; a count comes again. What the run-in says gives way to all.
const fn rank(tone: Tone) -> u8 {
    match tone {
        Tone::Warning | Tone::Zero => 5,
        Tone::Caution => 4,
        Tone::Taken | Tone::NotTaken => 3,
        Tone::Count => 2,
        Tone::Advisory => 1,
        Tone::HoldOne | Tone::HoldTwo | Tone::HoldThree | Tone::Go | Tone::Late | Tone::NumberGone => 0,
    }
}

#[cfg(test)]
mod tests;
