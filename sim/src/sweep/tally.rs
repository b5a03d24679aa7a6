//! What a sweep comes to: shares with exact intervals, medians, and what was foretold against what came.

use statrs::distribution::{Beta, Binomial, ContinuousCDF, DiscreteCDF};

use super::{ASKED_AT_S, Foretold, Outcome, Sweep, Who};

/// A boat length, metres: the unit in which drivers count. Common practice, no source.
pub const LENGTH_M: f64 = 9.0;

/// How sure the intervals are.
pub const CONFIDENCE: f64 = 0.95;

/// One driver's starts, counted.
#[derive(Clone, Debug, PartialEq)]
pub struct Tally {
    /// Who drove.
    pub who: Who,
    /// Starts driven.
    pub starts: usize,
    /// Those that crossed the line at all.
    pub crossed: usize,
    /// Those that crossed before zero.
    pub early: usize,
    /// Share early of those that crossed, and its interval.
    pub share_early: Interval,
    /// Median lateness of the legal ones, seconds.
    pub lateness_s: Option<Interval>,
    /// The same if he had aimed so as to be early exactly as often as the risk allows: how wide he scatters.
    pub lateness_at_risk_s: Option<f64>,
    /// Median boat lengths behind an ideal start, of the legal ones.
    pub lengths_lost: Option<Interval>,
    /// Margins, in order: for pictures.
    pub margins_s: Vec<f64>,
}

/// A figure, and the interval in which it lies with [`CONFIDENCE`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// The figure.
    pub value: f64,
    /// From here.
    pub low: f64,
    /// To here.
    pub high: f64,
}

/// How often the truth lay within the foretold 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coverage {
    /// Seconds before zero at which the dash was asked.
    pub before_s: f64,
    /// How often it had a number.
    pub asked: usize,
    /// How often, of these, the driver had just opened the throttle.
    pub opening: usize,
    /// Share of all asked within 1.96 sigma.
    pub covered: Interval,
    /// Root mean square of what was foretold less what came, seconds.
    pub error_s: f64,
    /// Root mean square of the stated sigma, seconds.
    pub stated_s: f64,
}

/// Counts one driver's starts.
#[must_use]
pub fn tally(sweep: &Sweep, who: Who) -> Tally {
    let his: Vec<&Outcome> = sweep.outcomes.iter().filter(|outcome| outcome.who == who).collect();
    let margins_s = sorted(his.iter().filter_map(|outcome| outcome.margin_s));
    let early = margins_s.partition_point(|margin| *margin < 0.0);
    let legal = margins_s.get(early..).unwrap_or_default();
    let behind =
        sorted(his.iter().filter(|o| o.margin_s.is_some_and(|m| m >= 0.0)).map(|o| o.behind_m / LENGTH_M));
    let aimed = quantile(&margins_s, sweep.plan.risk);
    Tally {
        who,
        starts: his.len(),
        crossed: margins_s.len(),
        early,
        share_early: share(early, margins_s.len()),
        lateness_s: median(legal),
        lateness_at_risk_s: aimed.and_then(|aimed| Some(quantile(&margins_s, 0.5)? - aimed)),
        lengths_lost: median(&behind),
        margins_s,
    }
}

/// How well the dash foretold, at each of the moments.
#[must_use]
pub fn coverage(sweep: &Sweep) -> Vec<Coverage> {
    /// Within so many sigma lies 95 % of a normal distribution.
    const WITHIN: f64 = 1.959_964;
    (0..ASKED_AT_S.len())
        .map(|k| {
            let told: Vec<_> = asked(sweep, k).collect();
            let off = |f: &Foretold| f.margin_s - f.true_s;
            let covered = told.iter().filter(|f| off(f).abs() <= WITHIN * f.sigma_s).count();
            let mean_square = |sum: f64| (sum / told.len().max(1) as f64).sqrt();
            Coverage {
                before_s: ASKED_AT_S.get(k).copied().unwrap_or_default(),
                asked: asked(sweep, k).count(),
                opening: asked(sweep, k).filter(|foretold| foretold.opening).count(),
                covered: share(covered, told.len()),
                error_s: mean_square(told.iter().map(|f| off(f) * off(f)).sum()),
                stated_s: mean_square(told.iter().map(|f| f.sigma_s * f.sigma_s).sum()),
            }
        })
        .collect()
}

/// What was foretold at one of the moments.
fn asked(sweep: &Sweep, k: usize) -> impl Iterator<Item = Foretold> {
    sweep.outcomes.iter().filter_map(move |outcome| *outcome.foretold.get(k)?)
}

/// A share of counted things with its exact interval (C. J. Clopper and E. S. Pearson, Biometrika 26, 1934), by the
/// quantiles of the beta distribution.
#[must_use]
pub fn share(count: usize, of: usize) -> Interval {
    let (k, n, tail) = (count as f64, of as f64, (1.0 - CONFIDENCE) / 2.0);
    let beta = |a: f64, b: f64, p: f64| Beta::new(a, b).map_or(f64::NAN, |beta| beta.inverse_cdf(p));
    Interval {
        value: if of == 0 { 0.0 } else { k / n },
        low: if count == 0 { 0.0 } else { beta(k, n - k + 1.0, tail) },
        high: if count == of { 1.0 } else { beta(k + 1.0, n - k, 1.0 - tail) },
    }
}

/// The median of values in order, with the exact interval between two of them that the binomial distribution gives
/// (any handbook of order statistics).
#[must_use]
pub fn median(sorted: &[f64]) -> Option<Interval> {
    let value = quantile(sorted, 0.5)?;
    let tail = (1.0 - CONFIDENCE) / 2.0;
    let below = Binomial::new(0.5, sorted.len() as u64).ok()?.inverse_cdf(tail) as usize;
    let below = below.saturating_sub(1).min(sorted.len() / 2);
    let low = sorted.get(below).copied().unwrap_or(value);
    let high = sorted.get(sorted.len() - 1 - below).copied().unwrap_or(value);
    Some(Interval { value, low, high })
}

/// The value below which a share of the values in order lies, straight between two of them.
#[must_use]
pub fn quantile(sorted: &[f64], share: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let x = share.clamp(0.0, 1.0) * last as f64;
    let k = (x as usize).min(last.saturating_sub(1));
    let (low, high) = (sorted.get(k)?, sorted.get((k + 1).min(last))?);
    Some(low + (high - low) * (x - k as f64))
}

fn sorted(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values
}

#[cfg(test)]
mod tests {
    use super::*;

    // By hand, for 0 of n: 1 - (alpha/2)^(1/n).
    #[test]
    fn the_interval_of_no_case_in_a_hundred_is_that_of_clopper_and_pearson() {
        let none = share(0, 100);
        assert_eq!((none.value, none.low), (0.0, 0.0));
        assert!((none.high - (1.0 - 0.025_f64.powf(0.01))).abs() < 1e-9, "{none:?}");
        let all = share(100, 100);
        assert!((all.low - 0.025_f64.powf(0.01)).abs() < 1e-9 && all.high == 1.0);
    }

    // Table of order statistics: for n = 10 the 2nd and the 9th value enclose the median with 97.9 % (from memory).
    #[test]
    fn the_interval_of_a_median_of_ten_reaches_from_the_second_to_the_ninth() {
        let values: Vec<f64> = (1..=10).map(f64::from).collect();
        let interval = median(&values).unwrap();
        assert_eq!((interval.low, interval.value, interval.high), (2.0, 5.5, 9.0));
    }

    #[test]
    fn a_quantile_lies_straight_between_its_neighbours() {
        assert_eq!(quantile(&[], 0.5), None);
        assert_eq!(quantile(&[3.0], 0.01), Some(3.0));
        assert_eq!(quantile(&[0.0, 10.0], 0.25), Some(2.5));
    }
}
