//! One pickup's edges, counted where they are stamped, and taken away as reports.
//!
//! The interrupt handler calls [`Counter::edge`] with its stamp; the loop calls [`Counter::report`] when a
//! report to the dash is due. A report's span runs from the last edge of the report before to the last edge
//! of its own, so `count / span` is the frequency and no edge is lost between reports.
//!
//! Twenty reports a second are too slow for a shaft that has lost its load. So a [`Lookout`] times every turn and
//! says when the newest is news: shorter than at overspeed, or part of a rise that a loaded shaft does not make.
//! Whoever counts then reports at once, first what was counted, then the last three turns one by one. The lookout
//! only decides when to speak, and may be wrong; what the turns mean is decided by the engine room, from the turns
//! alone, so that a record can be played back. Board and simulator use this one file.
//!
//! Stamps in, [`Pulses`] and turns out. This file knows units, inputs and how a pickup is made; what they mean
//! stands in [`crate::engine`].

use crate::engine::tach::{FASTEST, Watched};
use crate::input::{Pulses, TURNS};
use crate::units::{CentiPercent, Instant, Span};

/// The edges of one pickup since its last report.
#[derive(Clone, Copy, Debug, Default)]
pub struct Counter {
    /// The last edge of the report before; the first edge ever, while there is no report with an edge.
    from: Option<Instant>,
    /// The last edge counted.
    last: Option<Instant>,
    /// Periods from `from` to `last`.
    count: u16,
    /// True when an edge found the count full.
    is_over: bool,
}

impl Counter {
    /// A pickup not heard yet.
    #[must_use]
    pub const fn new() -> Self {
        Self { from: None, last: None, count: 0, is_over: false }
    }

    /// An edge came. The first one only begins a period: it counts for nothing yet.
    ///
    /// Edges beyond what a report can count (65,535) are left out of both count and span, so what is reported
    /// stays a true frequency.
    pub const fn edge(&mut self, at: Instant) {
        if self.from.is_none() {
            self.from = Some(at);
            self.last = Some(at);
        } else if self.count < u16::MAX {
            self.count += 1;
            self.last = Some(at);
        } else {
            self.is_over = true;
        }
    }

    /// Takes the report away. Without a whole period since the last one it is empty.
    ///
    /// After a count that was full, the next report begins anew with the next edge: the time between is
    /// unknown.
    pub fn report(&mut self) -> Pulses {
        let (Some(from), Some(last)) = (self.from, self.last) else { return Pulses::default() };
        let report = Pulses { count: self.count, span: last.since(from) };
        *self = if self.is_over { Self::new() } else { Self { from: Some(last), count: 0, ..*self } };
        report
    }

    /// True once an edge has come: a pickup that is connected, for the self-test.
    #[must_use]
    pub const fn is_heard(&self) -> bool {
        self.from.is_some()
    }
}

/// Early words between two regular reports: so many may be saved up, and one comes back with each report. A shaft
/// that stays too fast, or a wire full of noise, cannot fill the record.
const WORDS_MOST: u8 = 3;

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
    /// The end of the last whole turn.
    last: Option<Instant>,
    /// The last whole turns in microseconds, oldest first; 0 where there is none.
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
    is_news: bool,
}

impl Lookout {
    /// A lookout that says nothing.
    #[must_use]
    pub const fn idle() -> Self {
        Self {
            cycles: 0,
            counted: 0,
            last: None,
            turns_us: [0; TURNS],
            over_us: 0,
            least_us: 0,
            drop_us: 0,
            full_us: 0,
            rise_pct_s: 0,
            words: WORDS_MOST,
            is_news: false,
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

    /// An edge came, as in [`Counter::edge`]. True when it ends a turn that is news: report at once.
    ///
    /// Called in the interrupt handler, so it divides and multiplies nothing; and inlined there, since a handler that
    /// stands in RAM should not call into flash.
    #[inline(always)]
    pub fn edge(&mut self, at: Instant) -> bool {
        if self.cycles == 0 {
            return false;
        }
        let Some(last) = self.last else {
            self.last = Some(at);
            return false;
        };
        self.counted = self.counted.saturating_add(1);
        if self.counted < self.cycles {
            return false;
        }
        let us = u32::try_from(at.since(last).as_micros()).unwrap_or(u32::MAX);
        (self.counted, self.last) = (0, Some(at));
        let [_, second, third] = self.turns_us;
        self.turns_us = [second, third, us];
        self.is_news = self.words > 0 && self.is_remarkable();
        self.is_news
    }

    /// Faster than overspeed, or faster twice in a row and by enough.
    #[inline(always)]
    const fn is_remarkable(&self) -> bool {
        let [before, between, newest] = self.turns_us;
        if newest < self.least_us {
            return false;
        }
        let steep = self.drop_us > 0 && before.saturating_sub(newest) >= self.drop_us;
        newest < self.over_us || (steep && before > between && between > newest)
    }

    /// Takes the news away: the last turns, oldest first.
    pub fn take(&mut self) -> Option<[Span; TURNS]> {
        if !core::mem::replace(&mut self.is_news, false) {
            return None;
        }
        self.words = self.words.saturating_sub(1);
        Some(self.turns_us.map(|us| Span::from_micros(i64::from(us))))
    }

    /// A regular report was made: one more early word is free, and the rise is measured against the speed of now.
    ///
    /// Speed is 100 times a full turn over a turn, so over two turns of `p` it rises by `rise` percent a second when
    /// the turn shrinks by 2 `rise` p^3 / (100 full), all in seconds.
    pub fn renew(&mut self) {
        self.words = self.words.saturating_add(1).min(WORDS_MOST);
        let [.., turn] = self.turns_us.map(u64::from);
        let cube = turn.saturating_mul(turn).saturating_mul(turn);
        let per = u64::from(self.full_us).saturating_mul(50_000_000);
        let drop = cube.saturating_mul(u64::from(self.rise_pct_s)).checked_div(per).unwrap_or(0);
        self.drop_us = u32::try_from(drop).unwrap_or(u32::MAX).max(1);
    }

    /// The wire was off, or the board: the turns so far follow on nothing.
    pub const fn forget(&mut self) {
        (self.counted, self.last, self.turns_us, self.is_news) = (0, None, [0; TURNS], false);
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::engine::tach::TachSettings;

    fn at(us: u64) -> Instant {
        Instant::from_micros(us)
    }

    fn pulses(count: u16, us: i64) -> Pulses {
        Pulses { count, span: Span::from_micros(us) }
    }

    /// A two-pole tachometer generator: 4,200 turns a minute are 100 % and 70 Hz.
    const TWO_POLE: TachSettings = TachSettings { rpm_at_100: 4_200, cycles_per_turn: 1 };

    #[test]
    fn seventy_edges_a_second_are_100_percent_of_a_two_pole_generator() {
        // MS28054-1 generators are two-pole (TM 55-6680-234-40); 4,200 turns a minute are 100 % (nameplate
        // of an aircraft electric tachometer). 4,200 / 60 = 70 edges a second.
        let mut counter = Counter::new();
        for edge in 0..=70_u64 {
            counter.edge(at(1_000_000 + edge * 1_000_000 / 70));
        }
        let report = counter.report();
        assert_eq!(report, pulses(70, 1_000_000));
        assert_eq!(TWO_POLE.percent(report), Some(CentiPercent::from_centi(10_000)));
    }

    #[test]
    fn the_first_edge_begins_a_period_and_ends_none() {
        let mut counter = Counter::new();
        assert_eq!(counter.report(), Pulses::default());
        counter.edge(at(5));
        assert!(counter.is_heard());
        assert_eq!(counter.report(), Pulses::default());
        counter.edge(at(25));
        assert_eq!(counter.report(), pulses(1, 20));
    }

    #[test]
    fn at_standstill_reports_are_empty_and_the_gap_is_no_speed() {
        let mut counter = Counter::new();
        counter.edge(at(0));
        counter.edge(at(10_000));
        assert_eq!(counter.report(), pulses(1, 10_000));
        for _ in 0..100 {
            assert_eq!(counter.report(), Pulses::default());
        }
        // A minute later the shaft turns again: one period as long as the standstill, which is no speed.
        counter.edge(at(60_010_000));
        let report = counter.report();
        assert_eq!(report, pulses(1, 60_000_000));
        assert_eq!(TWO_POLE.percent(report), None);
    }

    #[test]
    fn nothing_happens_where_32_bits_of_microseconds_end() {
        let wrap = 1_u64 << 32;
        let mut counter = Counter::new();
        for us in [wrap - 15, wrap - 5, wrap + 5] {
            counter.edge(at(us));
        }
        assert_eq!(counter.report(), pulses(2, 20));
    }

    #[test]
    fn a_full_count_stays_a_true_frequency_and_the_next_report_begins_anew() {
        for more in [0, 1, 2] {
            let edges = u64::from(u16::MAX) - 1 + more;
            let mut counter = Counter::new();
            for edge in 0..=edges {
                counter.edge(at(edge * 3));
            }
            let count = u16::try_from(edges).unwrap_or(u16::MAX);
            assert_eq!(counter.report(), pulses(count, i64::from(count) * 3));
            counter.edge(at(10_000_000));
            let gap = 10_000_000 - edges as i64 * 3;
            let expected = if more > 1 { Pulses::default() } else { pulses(1, gap) };
            assert_eq!(counter.report(), expected, "{edges} edges");
        }
    }

    proptest! {
        #[test]
        fn however_reports_are_taken_their_counts_and_spans_add_up_to_all_edges(
            gaps in proptest::collection::vec((1_u64..1_000_000, any::<bool>()), 1..200),
        ) {
            let mut counter = Counter::new();
            counter.edge(at(7));
            let (mut now, mut counted, mut covered) = (7, 0_usize, Span::ZERO);
            let mut add = |report: Pulses| {
                counted += usize::from(report.count);
                covered = covered + report.span;
            };
            for (gap, take) in &gaps {
                now += gap;
                counter.edge(at(now));
                if *take {
                    add(counter.report());
                }
            }
            add(counter.report());
            prop_assert_eq!(counted, gaps.len());
            prop_assert_eq!(covered, at(now).since(at(7)));
        }
    }
}
