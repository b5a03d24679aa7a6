//! One pickup's edges, counted where they are stamped, and taken away as reports.
//!
//! The interrupt handler calls [`Counter::edge`] with its stamp; the loop calls [`Counter::report`] when a
//! report to the dash is due. A report's span runs from the last edge of the report before to the last edge
//! of its own, so `count / span` is the frequency and no edge is lost between reports.
//!
//! A spurious pulse cuts one period in two, which gives it away: of the two parts one is short, and together they
//! are as long as the period before. The counter makes one of such two again (rule E17).
//!
//! Twenty reports a second are too slow for a shaft that has lost its load: that is the [`super::lookout`]'s.
//!
//! Stamps in, [`Pulses`] out. This file knows units and inputs; what pulses mean stands in [`crate::engine`].

use crate::input::Pulses;
use crate::units::{Instant, Span};

/// True when a period is shorter than five eighths of the one before. No shaft gains speed like that, and no teeth are
/// cut so unevenly (common practice, no source); but of a period that a spurious pulse cuts in two one part always is.
#[inline(always)]
pub(super) const fn is_short(period: u32, before: u32) -> bool {
    // Shifts alone: this runs in the interrupt handler.
    period < before / 2 + before / 8
}

/// From one edge to the next in microseconds.
#[inline(always)]
pub(super) fn period_us(from: Instant, to: Instant) -> u32 {
    u32::try_from(to.since(from).as_micros()).unwrap_or(u32::MAX)
}

/// What an edge is.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Ends {
    /// It ends a period.
    Period,
    /// It ends the second part of a period that the edge before cut in two.
    SecondPart,
    /// Nothing: it is spurious itself, right behind a true one.
    Nothing,
}

/// The last two periods in microseconds; 0 where there is none.
#[derive(Clone, Copy, Debug, Default)]
struct Periods {
    /// The last but one, if it was like the one before it.
    trusted: u32,
    /// The last.
    newest: u32,
}

impl Periods {
    /// What ended, so long after the edge before.
    #[inline(always)]
    const fn take(&mut self, period: u32) -> Ends {
        let Self { trusted, newest } = *self;
        let both = newest.saturating_add(period);
        if trusted > 0 && both.abs_diff(trusted) <= trusted / 8 {
            if newest.abs_diff(trusted) <= both.abs_diff(trusted) {
                return Ends::Nothing;
            }
            self.newest = both;
            return Ends::SecondPart;
        }
        let is_like = trusted == 0 || !(is_short(newest, trusted) || is_short(trusted, newest));
        *self = Self { trusted: if is_like { newest } else { 0 }, newest: period };
        Ends::Period
    }

    /// True while the newest of `count` may be the first part of one that is cut in two. Where there are few, each is
    /// wanted at once, and shafts at low speed gain it briskly.
    const fn is_doubtful(self, count: u16) -> bool {
        let least = if count > 2 { self.trusted / 32 } else { self.trusted / 8 };
        self.trusted > 0 && self.newest < self.trusted - least
    }
}

/// The edges of one pickup since its last report.
#[derive(Clone, Copy, Debug, Default)]
pub struct Counter {
    /// The last edge of the report before; the first edge ever, while there is no report with an edge.
    from: Option<Instant>,
    /// The last edge counted.
    last: Option<Instant>,
    periods: Periods,
    /// Periods from `from` to `last`.
    count: u16,
    /// True when an edge found the count full.
    is_over: bool,
}

impl Counter {
    /// A pickup not heard yet.
    #[must_use]
    pub const fn new() -> Self {
        Self { from: None, last: None, periods: Periods { trusted: 0, newest: 0 }, count: 0, is_over: false }
    }

    /// An edge came. The first one only begins a period: it counts for nothing yet.
    ///
    /// Edges beyond what a report can count (65,535) are left out of both count and span, so what is reported
    /// stays a true frequency.
    #[inline(always)] // the board's handler stands in RAM and should not call into flash
    pub fn edge(&mut self, at: Instant) {
        let Some(last) = self.last else {
            (self.from, self.last) = (Some(at), Some(at));
            return;
        };
        if self.count == u16::MAX {
            self.is_over = true;
            return;
        }
        match self.periods.take(period_us(last, at)) {
            Ends::Nothing => return,
            Ends::SecondPart => {}
            Ends::Period => self.count += 1,
        }
        self.last = Some(at);
    }

    /// Takes the report away. Without a whole period since the last one it is empty. A last edge of which the next one
    /// may show that it is spurious waits for the next report.
    ///
    /// After a count that was full, the next report begins anew with the next edge: the time between is
    /// unknown.
    pub fn report(&mut self) -> Pulses {
        let (Some(from), Some(last)) = (self.from, self.last) else { return Pulses::default() };
        let waits = self.count > 0 && !self.is_over && self.periods.is_doubtful(self.count);
        let back = if waits { Span::from_micros(i64::from(self.periods.newest)) } else { Span::ZERO };
        let until = last.plus(-back);
        let report = Pulses { count: self.count.saturating_sub(u16::from(waits)), span: until.since(from) };
        *self = if self.is_over {
            Self::new()
        } else {
            Self { from: Some(until), count: u16::from(waits), ..*self }
        };
        report
    }

    /// True once an edge has come: a pickup that is connected, for the self-test.
    #[must_use]
    pub const fn is_heard(&self) -> bool {
        self.from.is_some()
    }
}

#[cfg(test)]
mod tests {
    use std::vec::Vec;

    use proptest::prelude::*;

    use super::*;
    use crate::engine::tach::TachSettings;
    use crate::units::CentiPercent;

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
        /// Any gaps but such as look like a period cut in two: each longer than both together could be.
        #[test]
        fn however_reports_are_taken_their_counts_and_spans_add_up_to_all_edges(
            gaps in proptest::collection::vec((600_000_u64..1_000_000, any::<bool>()), 1..200),
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
            // A doubtful last edge waits for the one after it.
            for more in [950_000, 950_000, 950_000] {
                now += more;
                counter.edge(at(now));
            }
            add(counter.report());
            prop_assert_eq!(counted, gaps.len() + 3);
            prop_assert_eq!(covered, at(now).since(at(7)));
        }

        /// At any steady speed, anywhere in a period, and however reports are taken: each is a true frequency.
        #[test]
        fn a_spurious_pulse_changes_no_report(
            period in 500_u64..100_000, place in 0.0_f64..1.0, every in 2_u64..9,
        ) {
            let spurious = (10 * period + (place * period as f64) as u64).max(10 * period + 1);
            let mut edges: Vec<u64> = (0..40).map(|n| n * period).chain([spurious]).collect();
            edges.sort_unstable();
            let mut counter = Counter::new();
            for (n, edge) in (0_u64..).zip(edges) {
                counter.edge(at(1_000 + edge));
                let report = if n % every == 0 { counter.report() } else { Pulses::default() };
                if report.count > 0 {
                    let off = report.span.as_micros() - i64::from(report.count) * period as i64;
                    prop_assert!(off.unsigned_abs() <= period / 8 + 1, "{report:?} of {period}");
                }
            }
        }
    }
}
