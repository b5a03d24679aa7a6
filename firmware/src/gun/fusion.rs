//! Several observations of zero become one, with its uncertainty.
//!
//! A thumb is late by a mean that is not exactly known and by a spread around it. Two presses share the error of
//! the mean, so it does not shrink with more presses; the spread does. Contacts and the schedule have errors of
//! their own. Within a kind observations are weighed by inverse variance; then the kinds are.
//!
//! Knows units only.

use crate::units::{Span, quotient, root};

/// One observation's estimate of zero.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Estimate {
    /// Where it puts zero, relative to some common moment.
    pub zero: Span,
    /// Its own standard deviation, apart from what it shares with others of its kind.
    pub sd: Span,
}

/// Combines the estimates of one kind, whose errors have `shared` in common.
#[must_use]
pub fn of_one_kind(estimates: &[Estimate], shared: Span) -> Option<Estimate> {
    let own = weigh(estimates)?;
    Some(Estimate { zero: own.zero, sd: Span::root_sum_square(&[own.sd, shared]) })
}

/// Combines estimates with independent errors by inverse variance; `None` when there are none.
#[must_use]
pub fn weigh(estimates: &[Estimate]) -> Option<Estimate> {
    let total: u128 = estimates.iter().map(|estimate| weight(estimate.sd)).sum();
    if total == 0 {
        return None;
    }
    let moment = estimates.iter().fold(0_i128, |sum, estimate| {
        let weight = i128::try_from(weight(estimate.sd)).unwrap_or(0);
        sum.saturating_add(weight.saturating_mul(i128::from(estimate.zero.as_micros())))
    });
    let size = quotient(moment.unsigned_abs().saturating_add(total / 2), total);
    let zero = i64::try_from(size).ok()?.saturating_mul(moment.signum() as i64);
    Some(Estimate {
        zero: Span::from_micros(zero),
        sd: Span::from_micros(root(quotient(UNIT_WEIGHT, total))),
    })
}

/// What is left of a standard deviation when an independent part is taken out of it; nothing if that was more.
#[must_use]
pub fn less(whole: Span, part: Span) -> Span {
    let square = |sd: Span| {
        let us = u128::from(sd.as_micros().unsigned_abs());
        us.saturating_mul(us)
    };
    Span::from_micros(root(square(whole).saturating_sub(square(part))))
}

/// The weight of a standard deviation of one microsecond; large enough that 30 minutes still weigh something.
const UNIT_WEIGHT: u128 = 1 << 70;

fn weight(sd: Span) -> u128 {
    let us = u128::from(sd.as_micros().unsigned_abs()).max(1);
    quotient(UNIT_WEIGHT, us.saturating_mul(us)).max(1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn estimate(zero_ms: i64, sd_ms: i64) -> Estimate {
        Estimate { zero: Span::from_millis(zero_ms), sd: Span::from_millis(sd_ms) }
    }

    fn near(a: Span, ms: f64) -> bool {
        (a.as_micros() as f64 / 1e3 - ms).abs() < 0.01
    }

    /// Source: the weighted mean of any handbook of statistics; by hand 0.25 w / (w + w / 4).
    #[test]
    fn the_better_observation_weighs_more() {
        let both = weigh(&[estimate(0, 10), estimate(100, 20)]).unwrap();
        assert!(near(both.zero, 20.0), "{both:?}");
        assert!(near(both.sd, 10.0 * 0.8_f64.sqrt()), "{both:?}");
    }

    #[test]
    fn presses_shrink_their_spread_and_keep_their_shared_error() {
        let two = of_one_kind(&[estimate(10, 60), estimate(-10, 60)], Span::from_millis(15)).unwrap();
        assert!(near(two.zero, 0.0));
        assert!(near(two.sd, (60.0_f64 * 60.0 / 2.0 + 225.0).sqrt()), "{two:?}");
    }

    /// 3, 4 and 5 make a right angle.
    #[test]
    fn a_part_taken_out_of_a_deviation_leaves_the_other_side_of_the_triangle() {
        let us = Span::from_micros;
        assert_eq!(less(us(5), us(4)), us(3));
        assert_eq!(less(us(4), us(5)), Span::ZERO);
        assert_eq!(less(Span::MAX, Span::ZERO), Span::MAX);
    }

    proptest! {
        #[test]
        fn the_fused_zero_lies_between_its_observations_and_is_no_less_certain_than_the_best(
            a in -5_000_000_i64..5_000_000, b in -5_000_000_i64..5_000_000,
            sd_a in 1_i64..3_000_000, sd_b in 1_i64..3_000_000,
        ) {
            let one = Estimate { zero: Span::from_micros(a), sd: Span::from_micros(sd_a) };
            let two = Estimate { zero: Span::from_micros(b), sd: Span::from_micros(sd_b) };
            let both = weigh(&[one, two]).unwrap();
            prop_assert!(both.zero.as_micros() >= a.min(b) && both.zero.as_micros() <= a.max(b));
            prop_assert!(both.sd.as_micros() <= sd_a.min(sd_b));
        }
    }
}
