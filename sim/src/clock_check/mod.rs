//! The board's clock against a reference: pairs of moments in, offset and drift with their uncertainty out.
//!
//! The reference is a pulse per second, or a clock filmed together with the board's lamp. The offset (board less
//! reference) is taken as a straight line in time, fitted by least squares; its deviation at any moment is that of the
//! fitted line, or what the readings state, whichever is more.
//!
//! Knows no board and no race. The words are in [`command`], the page in `page`, the files in `read`.

use statrs::distribution::{ContinuousCDF, StudentsT};

pub mod command;
mod page;
pub mod read;

/// One comparison, in seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// What the reference showed.
    pub reference_s: f64,
    /// What the board showed at that moment.
    pub board_s: f64,
}

/// The straight line through all offsets.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// Pairs.
    pub count: usize,
    /// The reference's first and last moment.
    pub first_s: f64,
    /// See there.
    pub last_s: f64,
    /// The offset where the reference shows zero, seconds.
    pub offset_s: f64,
    /// One standard deviation of that.
    pub offset_sd_s: f64,
    /// The drift, seconds a second: positive is fast.
    pub drift: f64,
    /// One standard deviation of that.
    pub drift_sd: f64,
    /// How far single offsets scatter about the line, one standard deviation, seconds.
    pub scatter_s: f64,
    mean_s: f64,
    spread: f64,
    reading_sd_s: f64,
}

/// Why there is no line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoFit {
    /// Three pairs at least: two make a line and say nothing of how good it is.
    #[error("three pairs at least are needed, at different moments")]
    TooFew,
}

/// Fits the line; `reading_sd_s` is what a single reading is stated to be good for.
///
/// Source of the formulas: ordinary least squares of any handbook of statistics.
///
/// # Errors
/// [`NoFit`].
pub fn fit(pairs: &[Pair], reading_sd_s: f64) -> Result<Fit, NoFit> {
    let count = pairs.len();
    if count < 3 {
        return Err(NoFit::TooFew);
    }
    let n = count as f64;
    let offset = |pair: &Pair| pair.board_s - pair.reference_s;
    let mean_s = pairs.iter().map(|pair| pair.reference_s).sum::<f64>() / n;
    let mean_offset = pairs.iter().map(offset).sum::<f64>() / n;
    let spread: f64 = pairs.iter().map(|pair| (pair.reference_s - mean_s).powi(2)).sum();
    if spread <= 0.0 {
        return Err(NoFit::TooFew);
    }
    let shared: f64 =
        pairs.iter().map(|pair| (pair.reference_s - mean_s) * (offset(pair) - mean_offset)).sum();
    let drift = shared / spread;
    let offset_s = mean_offset - drift * mean_s;
    let left: f64 =
        pairs.iter().map(|pair| (offset(pair) - offset_s - drift * pair.reference_s).powi(2)).sum();
    let scatter_s = (left / (n - 2.0)).sqrt();
    let first_s = pairs.iter().map(|pair| pair.reference_s).fold(f64::INFINITY, f64::min);
    let last_s = pairs.iter().map(|pair| pair.reference_s).fold(f64::NEG_INFINITY, f64::max);
    let mut fit = Fit {
        count,
        first_s,
        last_s,
        offset_s,
        offset_sd_s: 0.0,
        drift,
        drift_sd: scatter_s.max(reading_sd_s) / spread.sqrt(),
        scatter_s,
        mean_s,
        spread,
        reading_sd_s,
    };
    fit.offset_sd_s = fit.at(0.0).1;
    Ok(fit)
}

impl Fit {
    /// The offset at a moment of the reference, and one standard deviation of the line there.
    #[must_use]
    pub fn at(&self, reference_s: f64) -> (f64, f64) {
        let sd = self.scatter_s.max(self.reading_sd_s);
        let away = (reference_s - self.mean_s).powi(2) / self.spread;
        (self.offset_s + self.drift * reference_s, sd * (1.0 / self.count as f64 + away).sqrt())
    }

    /// How many standard deviations to either side hold the truth nineteen times in twenty: Student's t for the pairs
    /// less two. With few pairs that is more than two.
    #[must_use]
    pub fn reach(&self) -> f64 {
        let freedom = self.count.saturating_sub(2).max(1) as f64;
        StudentsT::new(0.0, 1.0, freedom).map_or(f64::INFINITY, |t| t.inverse_cdf(0.975))
    }

    /// True when a moment lies outside of what was compared.
    #[must_use]
    pub fn is_beyond(&self, reference_s: f64) -> bool {
        reference_s < self.first_s - 1.0 || reference_s > self.last_s + 1.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: NIST Statistical Reference Datasets, linear regression, "Norris" (36 observations, lower level of
    /// difficulty), certified values. The data are from memory; that they meet the certified values to nine digits shows
    /// that they are right.
    #[test]
    fn the_line_is_that_of_the_certified_dataset() {
        const Y_X: [(f64, f64); 36] = [
            (0.1, 0.2),
            (338.8, 337.4),
            (118.1, 118.2),
            (888.0, 884.6),
            (9.2, 10.1),
            (228.1, 226.5),
            (668.5, 666.3),
            (998.5, 996.3),
            (449.1, 448.6),
            (778.9, 777.0),
            (559.2, 558.2),
            (0.3, 0.4),
            (0.1, 0.6),
            (778.1, 775.5),
            (668.8, 666.9),
            (339.3, 338.0),
            (448.9, 447.5),
            (10.8, 11.6),
            (557.7, 556.0),
            (228.3, 228.1),
            (998.0, 995.8),
            (888.8, 887.6),
            (119.6, 120.2),
            (0.3, 0.3),
            (0.6, 0.3),
            (557.6, 556.8),
            (339.3, 339.1),
            (888.0, 887.2),
            (998.5, 999.0),
            (778.9, 779.0),
            (10.2, 11.1),
            (117.6, 118.3),
            (228.9, 229.2),
            (668.4, 669.1),
            (449.2, 448.9),
            (0.2, 0.5),
        ];
        let pairs = Y_X.map(|(y, x)| Pair { reference_s: x, board_s: y });
        let fit = fit(&pairs, 0.0).unwrap();
        let near = |found: f64, certified: f64| {
            assert!((found - certified).abs() < 1e-9 * certified.abs().max(1.0), "{found} {certified}");
        };
        near(fit.offset_s, -0.262323073774029);
        near(1.0 + fit.drift, 1.00211681802045);
        near(fit.offset_sd_s, 0.232818234301152);
        near(fit.drift_sd, 0.429796848199937e-3);
        near(fit.scatter_s, 0.884796396144373);
    }

    #[test]
    fn two_pairs_and_pairs_of_one_moment_make_no_line() {
        let pair = |s: f64| Pair { reference_s: s, board_s: s };
        assert_eq!(fit(&[pair(0.0), pair(1.0)], 0.0), Err(NoFit::TooFew));
        assert_eq!(fit(&[pair(1.0); 5], 0.0), Err(NoFit::TooFew));
    }

    /// Source: table of Student's t in any handbook of statistics, two-sided 95 %: 12.706 for 1, 2.571 for 5, 2.042 for 30
    /// degrees of freedom.
    #[test]
    fn few_pairs_reach_farther_by_the_table_of_students_t() {
        for (count, t) in [(3, 12.706), (7, 2.571), (32, 2.042)] {
            let pair = |n: usize| Pair { reference_s: n as f64, board_s: n as f64 };
            let fit = fit(&(0..count).map(pair).collect::<Vec<_>>(), 1.0).unwrap();
            assert!((fit.reach() - t).abs() < 6e-4, "{}", fit.reach());
        }
    }

    /// Arithmetic: 20 ppm over 300 s is 6 ms.
    #[test]
    fn twenty_parts_per_million_are_six_milliseconds_in_three_hundred_seconds() {
        let pairs: Vec<Pair> = (0..=300)
            .map(f64::from)
            .map(|s| Pair { reference_s: s, board_s: s * 1.000_02 + 0.001 })
            .collect();
        let fit = fit(&pairs, 2e-6).unwrap();
        assert!((fit.at(300.0).0 - 0.007).abs() < 1e-9 && (fit.at(0.0).0 - 0.001).abs() < 1e-9);
        assert!(fit.at(300.0).1 >= 2e-6 / 301_f64.sqrt(), "what a reading is good for is not forgotten");
    }
}
