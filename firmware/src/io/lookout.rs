//! Times every turn of one shaft, and says when the newest is news: shorter than at overspeed, or part of a rise that a
//! loaded shaft does not make.
//!
//! Whoever counts then reports at once, first what was counted, then the last three turns one by one. But not before the
//! pulse that ends the turn may be believed: a spurious one cuts a period in two, so the true one follows soon after
//! it, at the latest after what is missing of the period before. If nothing comes for that long, or the next comes
//! later, it is real (rule E17). So news waits for a small part of a period, and a spurious pulse makes none.
//!
//! The lookout only decides when to speak; what the turns mean is decided by the engine room, from the turns alone, so
//! that a record can be played back. Board and simulator use this one file.
//!
//! Stamps in, turns out. This file knows units, inputs and how a pickup is made.

use super::pulses::{is_short, period_us};
use crate::engine::tach::{FASTEST, UNSTEADY, Watched};
use crate::input::TURNS;
use crate::units::{CentiPercent, Instant, Span};

/// Early words between two regular reports: so many may be saved up, and one comes back with each report. A shaft
/// that stays too fast, or a wire full of noise, cannot fill the record.
const WORDS_MOST: u8 = 4;

/// Times every turn of one shaft, and says when the newest is news.
///
/// A turn of the shaft that carries the pickup, not a pulse: teeth are not cut evenly, and only after a whole turn
/// does the same tooth come back.
#[derive(Clone, Copy, Debug, Default)]
pub struct Lookout {
    /// Pulses in a turn; 0 when nothing is to be looked out for.
    cycles: u16,
    /// Pulses of this turn so far.
    counted: u16,
    /// The end of the last whole turn, and the last pulse.
    turned: Option<Instant>,
    pulsed: Option<Instant>,
    /// The last period, between two pulses.
    period_us: u32,
    /// A period of this turn was not like the one before it: a pulse too many, or one too few.
    is_spoilt: bool,
    /// The last turns in microseconds, oldest first; 0 where there is none that may be believed.
    turns_us: [u32; TURNS],
    /// A turn shorter than this is faster than overspeed; one shorter than the other no shaft can make.
    over_us: u32,
    least_us: u32,
    /// How much shorter a turn is than the last but one when the speed rises as steeply as is news.
    drop_us: u32,
    /// A turn at full speed, and the rise, for the line above.
    full_us: u32,
    rise_pct_s: u16,
    words: u8,
    /// The turns that are news, and from when on they may be told if no pulse speaks against it.
    news_us: [u32; TURNS],
    due: Option<Instant>,
}

impl Lookout {
    /// A lookout that says nothing.
    #[must_use]
    pub const fn idle() -> Self {
        Self {
            cycles: 0,
            counted: 0,
            turned: None,
            pulsed: None,
            period_us: 0,
            is_spoilt: false,
            turns_us: [0; TURNS],
            over_us: 0,
            least_us: 0,
            drop_us: 0,
            full_us: 0,
            rise_pct_s: 0,
            words: WORDS_MOST,
            news_us: [0; TURNS],
            due: None,
        }
    }

    /// A lookout over this shaft.
    #[must_use]
    pub fn new(watched: &Watched) -> Self {
        let full_us = 60_000_000_u32.checked_div(watched.tach.rpm_at_100).unwrap_or(0);
        let at = |speed: CentiPercent| {
            let centi = u32::try_from(speed.as_centi()).unwrap_or(0);
            full_us.saturating_mul(100).checked_div(centi / 100).unwrap_or(0)
        };
        Self {
            cycles: watched.tach.cycles_per_turn,
            full_us,
            over_us: at(watched.overspeed),
            least_us: at(FASTEST),
            rise_pct_s: watched.rise_pct_s,
            ..Self::idle()
        }
    }

    /// An edge came, as in [`super::pulses::Counter::edge`]. True when [`Self::due`] has changed: whoever sleeps should
    /// look.
    ///
    /// Called in the interrupt handler, so it divides and multiplies nothing; and inlined there, since a handler that
    /// stands in RAM should not call into flash.
    #[inline(always)]
    pub fn edge(&mut self, at: Instant) -> bool {
        if self.cycles == 0 {
            return false;
        }
        let (Some(turned), Some(pulsed)) = (self.turned, self.pulsed) else {
            (self.turned, self.pulsed) = (Some(at), Some(at));
            return false;
        };
        let (before, period) = (self.period_us, period_us(pulsed, at));
        (self.pulsed, self.period_us) = (Some(at), period);
        let is_first = before == 0;
        let is_too_soon = is_short(period, before);
        self.is_spoilt |= !is_first && (is_too_soon || is_short(before, period));
        let speaks = self.due.is_some_and(|due| at < due);
        if speaks {
            // The last pulse is real, or one of the two is not.
            self.due = if is_too_soon { None } else { Some(at) };
        }
        self.counted = self.counted.saturating_add(1);
        if self.counted < self.cycles {
            return speaks;
        }
        let us = if self.is_spoilt { 0 } else { period_us(turned, at) };
        (self.counted, self.turned, self.is_spoilt) = (0, Some(at), false);
        let [_, second, third] = self.turns_us;
        self.turns_us = [second, third, us];
        // What is not taken away yet goes first.
        if self.due.is_some() || !self.is_remarkable() {
            return speaks;
        }
        self.news_us = self.turns_us;
        self.due = Some(at.plus(Span::from_micros(i64::from(doubted_for(period, before)))));
        true
    }

    /// Faster than overspeed, or faster than one or two turns ago by enough.
    #[inline(always)]
    const fn is_remarkable(&self) -> bool {
        let [before, between, newest] = self.turns_us;
        if newest == 0 || newest < self.least_us || self.words == 0 {
            return false;
        }
        // The last word is kept for overspeed, which may follow on an unloading at once.
        if newest < self.over_us || self.words == 1 {
            return newest < self.over_us;
        }
        let steep = before.saturating_sub(newest) >= self.drop_us && before > between && between > newest;
        let fell = between.saturating_sub(newest);
        self.drop_us > 0 && (steep || (fell >= self.drop_us / 2 && fell > between / UNSTEADY))
    }

    /// From when on there is something to take away.
    #[must_use]
    pub const fn due(&self) -> Option<Instant> {
        self.due
    }

    /// Takes the news away, if it may be believed by now: the last turns, oldest first; zero where there was none.
    pub fn take(&mut self, now: Instant) -> Option<[Span; TURNS]> {
        self.due.filter(|due| *due <= now)?;
        self.due = None;
        self.words = self.words.saturating_sub(1);
        Some(self.news_us.map(|us| Span::from_micros(i64::from(us))))
    }

    /// A regular report was made: one more early word is free, and the rise is measured against the speed of now.
    ///
    /// Speed is 100 times a full turn over a turn, so over two turns of `p` it rises by `rise` percent a second when
    /// the turn shrinks by 2 `rise` p^3 / (100 full), all in seconds.
    pub fn renew(&mut self) {
        self.words = self.words.saturating_add(1).min(WORDS_MOST);
        let [.., turn] = self.turns_us.map(u64::from);
        if turn == 0 {
            return;
        }
        let cube = turn.saturating_mul(turn).saturating_mul(turn);
        let per = u64::from(self.full_us).saturating_mul(50_000_000);
        let drop = cube.saturating_mul(u64::from(self.rise_pct_s)).checked_div(per).unwrap_or(0);
        // A little less: the engine room reckons exactly.
        self.drop_us = u32::try_from(drop - drop / 8).unwrap_or(u32::MAX).max(1);
    }

    /// The wire was off, or the board: the turns so far follow on nothing.
    pub const fn forget(&mut self) {
        (self.counted, self.turned, self.pulsed, self.period_us) = (0, None, None, 0);
        (self.is_spoilt, self.turns_us, self.due) = (false, [0; TURNS], None);
    }
}

/// How long the pulse that ends a period may still turn out to be spurious. The true one then comes when the period
/// before has run out, give or take an eighth for a shaft that slows down; and before five eighths of this period.
#[inline(always)]
const fn doubted_for(period: u32, before: u32) -> u32 {
    let rest = before.saturating_sub(period).saturating_add(before / 8);
    let short = period / 2 + period / 8;
    if rest < short { rest } else { short }
}
