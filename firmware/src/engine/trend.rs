//! How fast a value rises: the slope over the last second or so, for looking ahead.
//!
//! Three values at least a third of a second apart are kept; the slope runs from the oldest to the newest. A straight
//! line is the honest guess for so short a time; noise of a chip's last bit moves it by less than a degree a second.
//!
//! This file knows the units. Raw values in, raw units a second out.

use crate::units::{Instant, Span, mul_div};

/// Values kept are at least so far apart.
const APART: Span = Span::from_millis(333);

/// A slope over less time than this is none.
const LEAST: Span = Span::from_millis(600);

/// One value over time.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Trend {
    /// Oldest first; none where there is nothing yet.
    kept: [Option<(Instant, i32)>; 3],
    newest: Option<(Instant, i32)>,
}

impl Trend {
    /// The value at `at`; none: what came before says nothing about what comes.
    pub(super) fn see(&mut self, at: Instant, value: Option<i32>) {
        let Some(value) = value else {
            *self = Self::default();
            return;
        };
        self.newest = Some((at, value));
        let [_, second, third] = self.kept;
        if third.is_none_or(|(last, _)| at.since(last) >= APART) {
            self.kept = [second, third, self.newest];
        }
    }

    /// Units a second; nothing while too little is known.
    pub(super) fn slope(&self) -> Option<i64> {
        let (newest, oldest) = (self.newest?, self.kept.iter().flatten().next()?);
        let time = newest.0.since(oldest.0);
        let rise = i64::from(newest.1).saturating_sub(i64::from(oldest.1));
        (time >= LEAST).then(|| mul_div(rise, 1_000_000, time.as_micros()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_even_rise_has_its_own_slope_and_a_gap_has_none() {
        let mut trend = Trend::default();
        for ms in (0..3_000).step_by(100) {
            // 20 degrees a second.
            trend.see(Instant::from_micros(ms * 1_000), Some(700_000 + ms as i32 * 20));
            assert_eq!(trend.slope(), (ms >= 600).then_some(20_000), "{ms}");
        }
        trend.see(Instant::from_micros(3_000_000), None);
        assert_eq!(trend.slope(), None);
    }
}
