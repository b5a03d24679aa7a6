//! From the risk that the driver accepts to the margin that he holds, and to one word of advice.
//!
//! An error bar of one sigma does not say how late to be; how often he may jump does. With a normal error the
//! bow crosses before zero once in a hundred times when he aims 2.326 sigma late. So the margin to hold is the
//! normal quantile of the risk times sigma.
//!
//! Knows outputs' numbers alone. Margins in, advice out.

use serde::{Deserialize, Serialize};

use crate::units::{Span, mul_div};

/// What to do now, in one word. Advice only.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Advice {
    /// The clock is not armed.
    NoClock,
    /// There is no fresh fix.
    NoFix,
    /// The boat is not on its lane.
    OffCourse,
    /// The error bar is too long for any advice.
    TooUncertain,
    /// Flat out now would cross too early, or too near zero for the risk.
    Hold,
    /// Flat out now.
    Go,
    /// Flat out, and still so much too late that there is nothing left to wait for.
    Late,
}

/// Later than this beyond the margin to hold is late: common practice, no source.
const LATE: Span = Span::from_secs(1);

/// The smallest risk that can be asked for: one in a thousand. Beyond that no error is normal.
pub const RISK_LEAST_PPM: u32 = 1_000;

/// The largest: one in two, which is to aim at zero itself.
pub const RISK_MOST_PPM: u32 = 500_000;

/// The margin that holds the risk of being early, in parts per million, for an error of one sigma.
#[must_use]
pub fn hold(sigma: Span, risk_ppm: u32) -> Span {
    Span::from_micros(mul_div(sigma.as_micros(), i64::from(quantile_milli(risk_ppm)), 1_000))
}

/// What a margin, known to one sigma, is worth.
#[must_use]
pub fn advise(margin: Span, sigma: Span, hold: Span, sigma_most: Span) -> Advice {
    if sigma > sigma_most {
        Advice::TooUncertain
    } else if margin < hold {
        Advice::Hold
    } else if margin <= hold + LATE {
        Advice::Go
    } else {
        Advice::Late
    }
}

/// How many thousandths of a sigma late to aim so that no more than the risk is early.
///
/// Between the table's risks the chord is taken. The quantile is convex there, so the chord lies on the safe
/// side of it, by at most 0.011 sigma. Risks beyond the table are taken for its ends.
#[must_use]
pub fn quantile_milli(risk_ppm: u32) -> u32 {
    let risk = risk_ppm.clamp(RISK_LEAST_PPM, RISK_MOST_PPM);
    let above = QUANTILES.partition_point(|(ppm, _)| *ppm <= risk);
    let below = above.checked_sub(1).and_then(|place| QUANTILES.get(place));
    match (below, QUANTILES.get(above)) {
        (Some((ppm0, z0)), Some((ppm1, z1))) => {
            // Both fall together: the quantile as the risk grows.
            let fallen = u64::from(z0 - z1) * u64::from(risk - ppm0);
            let fallen = fallen.checked_div(u64::from(ppm1 - ppm0)).unwrap_or(0);
            z0 - u32::try_from(fallen).unwrap_or(0)
        }
        (Some((_, z)), None) => *z,
        (None, _) => 0,
    }
}

/// Upper quantiles of the standard normal distribution, rounded up to thousandths: computed with the Python
/// library of statistics, NormalDist().inv_cdf(1 - risk).
const QUANTILES: [(u32, u32); 20] = [
    (1_000, 3_091),
    (1_500, 2_968),
    (2_000, 2_879),
    (3_000, 2_748),
    (4_000, 2_653),
    (6_000, 2_513),
    (8_000, 2_409),
    (10_000, 2_327),
    (15_000, 2_171),
    (20_000, 2_054),
    (25_000, 1_960),
    (35_000, 1_812),
    (50_000, 1_645),
    (75_000, 1_440),
    (100_000, 1_282),
    (150_000, 1_037),
    (200_000, 842),
    (300_000, 525),
    (400_000, 254),
    (500_000, 0),
];

#[cfg(test)]
mod tests {
    use super::*;

    /// z of 1 % is 2.326, of 5 % 1.645, of 2.5 % 1.960 (NIST/SEMATECH e-Handbook of Statistical Methods, table
    /// 1.3.6.7.1).
    #[test]
    fn the_margin_to_hold_is_the_normal_quantile_of_the_risk() {
        let sigma = Span::from_millis(100);
        for (ppm, us) in [(10_000, 232_700), (50_000, 164_500), (25_000, 196_000), (500_000, 0)] {
            let off = hold(sigma, ppm).as_micros() - us;
            assert!((0..=100).contains(&off), "{ppm}: {off}");
        }
    }

    #[test]
    fn each_situation_has_its_word() {
        let ms = Span::from_millis;
        let advice = |margin| advise(ms(margin), ms(50), ms(116), ms(400));
        assert_eq!(advice(-2_000), Advice::Hold);
        assert_eq!(advice(115), Advice::Hold);
        assert_eq!(advice(116), Advice::Go);
        assert_eq!(advice(1_116), Advice::Go);
        assert_eq!(advice(1_117), Advice::Late);
        assert_eq!(advise(ms(116), ms(401), ms(116), ms(400)), Advice::TooUncertain);
    }
}
