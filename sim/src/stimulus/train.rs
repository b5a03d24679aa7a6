//! Counted pulses become pulses again.
//!
//! A report says how many pulses came since the last one and how long they took, not when. The first report's last
//! pulse is put where the report before must have been; from there on each report's pulses follow the ones before,
//! evenly spaced. So counts and spans agree to the microsecond, and the train as a whole is early by less than the
//! time between reports.
//!
//! Knows the units. A report in, its pulses out: when each rises and falls.

use firmware::input::Pulses;
use firmware::units::{Instant, Span};

/// How long a pulse is, or half of its period if that is shorter. Only its rise means anything, and a short one
/// has fallen again before the next comes, however fast the shaft gains speed.
const PULSE_US: i64 = 50;

/// The pulses of one pickup.
#[derive(Clone, Debug)]
pub struct Train {
    /// From one report to the next.
    interval: Span,
    /// The last pulse.
    last: Option<Instant>,
}

impl Train {
    /// A pickup that has not been heard, on a board that reports every `interval`.
    pub const fn new(interval: Span) -> Self {
        Self { interval, last: None }
    }

    /// The pulses of the report made at `at`. A train that begins has one more: that from which it is counted.
    pub fn report(
        &mut self,
        at: Instant,
        pulses: Pulses,
    ) -> impl Iterator<Item = (Instant, Instant)> + use<> {
        let (span, last, ends) = (pulses.span, self.last, at.plus(-self.interval));
        // Farther off than a report the train cannot be: the wire was off meanwhile, and a new one begins.
        let follows = last.filter(|last| last.plus(span).since(ends).abs() <= self.interval);
        let from = follows.unwrap_or_else(|| ends.plus(-span).max(last.unwrap_or(Instant::BOOT)));
        // What a train is counted from is a pulse too, unless it stands already.
        let first = i64::from(last.is_some_and(|last| from <= last));
        // A train that was on its way when the board was switched on begins with its first whole report.
        let is_whole = last.is_some() || ends.since(Instant::BOOT) >= span;
        let count = if is_whole { i64::from(pulses.count) } else { 0 };
        if count > 0 {
            self.last = Some(from.plus(span));
        }
        let width = Span::from_micros((span.as_micros() / count.max(1) / 2).clamp(1, PULSE_US));
        (first..=count).filter(move |_| count > 0).map(move |k| {
            let rises = from.plus(Span::from_micros(span.as_micros() * k / count));
            (rises, rises.plus(width))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Moments of pulses and the reports that a board would make of them every 50 ms.
    fn reports(gaps_us: &[i64]) -> (Vec<i64>, Vec<(Instant, Pulses)>) {
        let pulses: Vec<i64> = gaps_us
            .iter()
            .scan(1_000_000, |at, gap| {
                *at += gap;
                Some(*at)
            })
            .collect();
        let (mut mark, mut reports) = (None, Vec::new());
        for at in (1_000_000..pulses.last().unwrap() + 50_000).step_by(50_000) {
            let new: Vec<i64> = pulses.iter().copied().filter(|p| (at - 50_000..at).contains(p)).collect();
            let Some(last) = new.last() else { continue };
            let report = mark.map_or(Pulses::default(), |mark| Pulses {
                count: new.len() as u16,
                span: Span::from_micros(last - mark),
            });
            mark = Some(*last);
            reports.push((Instant::from_micros(at as u64), report));
        }
        (pulses, reports)
    }

    proptest! {
        #[test]
        fn every_report_is_found_again_in_the_train_by_count_and_span(
            gaps_us in prop::collection::vec(200_i64..400_000, 2..200)
        ) {
            let (_, reports) = reports(&gaps_us);
            let mut train = Train::new(Span::from_millis(50));
            let mut mark = None;
            for (at, report) in reports {
                let rises: Vec<Instant> = train.report(at, report).map(|(rises, _)| rises).collect();
                let mark_is_new = usize::from(mark.is_none() && report.count > 0);
                prop_assert_eq!(rises.len(), usize::from(report.count) + mark_is_new);
                let Some(last) = rises.last().copied() else { continue };
                prop_assert_eq!(last.since(mark.unwrap_or(rises[0])), report.span);
                prop_assert!(last <= at && at.since(last) <= Span::from_millis(100));
                mark = Some(last);
            }
        }

        #[test]
        fn pulses_come_one_after_the_other_and_fall_before_the_next(
            gaps_us in prop::collection::vec(200_i64..400_000, 2..200)
        ) {
            let (_, reports) = reports(&gaps_us);
            let mut train = Train::new(Span::from_millis(50));
            let edges: Vec<Instant> = reports
                .iter()
                .flat_map(|(at, report)| train.report(*at, *report))
                .flat_map(|(rises, falls)| [rises, falls])
                .collect();
            prop_assert!(edges.windows(2).all(|pair| pair[0] < pair[1]));
        }
    }

    /// A wire that was off for a second: no pulses are made up for the time between.
    #[test]
    fn a_train_begins_anew_after_a_silence_that_no_report_tells_of() {
        let mut train = Train::new(Span::from_millis(50));
        let ten = Pulses { count: 10, span: Span::from_millis(50) };
        assert_eq!(train.report(Instant::from_micros(1_000_000), ten).count(), 11);
        assert_eq!(train.report(Instant::from_micros(1_050_000), ten).count(), 10);
        let again: Vec<_> = train.report(Instant::from_micros(2_100_000), ten).collect();
        assert_eq!(again.len(), 11);
        assert_eq!(again[0].0, Instant::from_micros(2_000_000));
        assert_eq!(again[10].0, Instant::from_micros(2_050_000));
    }
}
