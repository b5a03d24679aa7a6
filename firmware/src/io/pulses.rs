//! One pickup's edges, counted where they are stamped, and taken away as reports.
//!
//! The interrupt handler calls [`Counter::edge`] with its stamp; the loop calls [`Counter::report`] when a
//! report to the dash is due. A report's span runs from the last edge of the report before to the last edge
//! of its own, so `count / span` is the frequency and no edge is lost between reports.
//!
//! Stamps in, [`Pulses`] out. This file knows units and inputs; what pulses mean stands in
//! [`crate::engine::tach`].

use crate::input::Pulses;
use crate::units::Instant;

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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::engine::tach::TachSettings;
    use crate::units::{CentiPercent, Span};

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
