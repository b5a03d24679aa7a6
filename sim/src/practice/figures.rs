//! What many starts tell of their driver: how often early, how late, whether he gets better, how fast he reacts.
//!
//! Rows of the history in, figures out, and a proposal for the settings of his board.

use serde::Serialize;
use statrs::statistics::{Data, OrderStatistics, Statistics};

use super::store::Row;

/// Starts taken together for the trend.
const TREND_OF: usize = 10;
/// The width of a bar of the distribution, and its ends, milliseconds.
const BAR_MS: i64 = 100;
const BARS_FROM_MS: i64 = -1_000;
const BARS_TO_MS: i64 = 2_000;
/// So few presses say nothing about a thumb.
const PRESSES_LEAST: usize = 6;

/// The figures of a history.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Figures {
    /// Starts in which the line was crossed.
    pub starts: usize,
    /// Of these the early ones, by the truth.
    pub early: usize,
    /// The median lateness of the others, microseconds.
    pub median_late_us: Option<i64>,
    /// The lateness within which nine of ten of them lie.
    pub nine_of_ten_us: Option<i64>,
    /// Bars of 0.1 s: from where, and how many starts; the first and the last one hold what lies beyond.
    pub bars: Vec<(i64, usize)>,
    /// After each start from the tenth on: its number, the median margin and the share early of the last ten.
    pub trend: Vec<(usize, i64, f64)>,
    /// His thumb.
    pub thumb: Option<Thumb>,
}

/// How late a driver presses, and what that means for his board.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Thumb {
    /// Presses at a gun.
    pub presses: usize,
    /// Their mean lateness, seconds.
    pub mean_s: f64,
    /// Their spread: one standard deviation.
    pub sd_s: f64,
    /// How well the mean is known.
    pub mean_sd_s: f64,
    /// The lines for a settings file.
    pub proposal: String,
}

/// What the page, the screen and the keyboard add to a press is not known better than this, seconds: a picture comes
/// up to two frames late, a keyboard is read every some milliseconds. From memory.
const PAGE_SD_S: f64 = 0.015;

impl Figures {
    /// The figures of these starts, oldest first.
    #[must_use]
    pub fn of(rows: &[Row]) -> Self {
        let margins: Vec<i64> = rows.iter().filter_map(|row| row.margin_us).collect();
        let legal: Vec<f64> = margins.iter().filter(|us| **us >= 0).map(|us| *us as f64).collect();
        let late =
            |share: f64| (!legal.is_empty()).then(|| Data::new(legal.clone()).quantile(share).round() as i64);
        let presses: Vec<f64> =
            rows.iter().flat_map(|row| &row.reactions_us).map(|us| *us as f64 * 1e-6).collect();
        Self {
            starts: margins.len(),
            early: margins.iter().filter(|us| **us < 0).count(),
            median_late_us: late(0.5),
            nine_of_ten_us: late(0.9),
            bars: bars(&margins),
            trend: trend(&margins),
            thumb: Thumb::of(&presses),
        }
    }
}

fn bars(margins: &[i64]) -> Vec<(i64, usize)> {
    let bar = |us: i64| (us.div_euclid(1_000 * BAR_MS) * BAR_MS).clamp(BARS_FROM_MS, BARS_TO_MS);
    (BARS_FROM_MS..=BARS_TO_MS)
        .step_by(BAR_MS as usize)
        .map(|from| (from, margins.iter().filter(|us| bar(**us) == from).count()))
        .collect()
}

fn trend(margins: &[i64]) -> Vec<(usize, i64, f64)> {
    let one = |(first, window): (usize, &[i64])| {
        let early = window.iter().filter(|us| **us < 0).count();
        let mut sorted: Vec<f64> = window.iter().map(|us| *us as f64).collect();
        let median = Data::new(sorted.as_mut_slice()).median().round() as i64;
        (first + TREND_OF, median, early as f64 / TREND_OF as f64)
    };
    margins.windows(TREND_OF).enumerate().map(one).collect()
}

impl Thumb {
    /// From the lateness of presses, seconds; none while there are too few.
    #[must_use]
    pub fn of(presses: &[f64]) -> Option<Self> {
        if presses.len() < PRESSES_LEAST {
            return None;
        }
        let (mean_s, sd_s) = (presses.mean(), presses.std_dev());
        let mean_sd_s = (sd_s * sd_s / presses.len() as f64 + PAGE_SD_S * PAGE_SD_S).sqrt();
        let proposal = format!(
            "[thumb]\n\
             # {} presses at the guns of the practice page. A desk is no boat: measure on the water before you rely on it.\n\
             reaction_mean_s = {mean_s:.3}\nreaction_sd_s = {sd_s:.3}\nreaction_mean_sd_s = {mean_sd_s:.3}\n",
            presses.len()
        );
        Some(Self { presses: presses.len(), mean_s, sd_s, mean_sd_s, proposal })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(margin_us: Option<i64>, reactions_us: &[i64]) -> Row {
        Row { margin_us, reactions_us: reactions_us.to_vec(), ..Row::default() }
    }

    /// Worked by hand: of 0.1, 0.2, 0.3 s late and one early by 0.05 s.
    #[test]
    fn share_early_and_median_are_those_of_the_rows() {
        let rows = [
            row(Some(100_000), &[]),
            row(Some(-50_000), &[]),
            row(None, &[]),
            row(Some(300_000), &[]),
            row(Some(200_000), &[]),
        ];
        let figures = Figures::of(&rows);
        assert_eq!((figures.starts, figures.early, figures.median_late_us), (4, 1, Some(200_000)));
        let bar = |from| figures.bars.iter().find(|(at, _)| *at == from).unwrap().1;
        assert_eq!((bar(-100), bar(100), bar(200), bar(300), bar(0)), (1, 1, 1, 1, 0));
        assert_eq!(figures.trend, []);
    }

    /// The sample 2, 4, 4, 4, 5, 5, 7, 9 has mean 5 and, with n - 1, the variance 32 / 7: the textbook example of the
    /// standard deviation.
    #[test]
    fn a_thumb_is_the_mean_and_deviation_of_its_presses() {
        let presses = [2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0].map(|tenths: f64| tenths / 10.0);
        let thumb = Thumb::of(&presses).unwrap();
        assert!(
            (thumb.mean_s - 0.5).abs() < 1e-12 && (thumb.sd_s - (32.0_f64 / 7.0).sqrt() / 10.0).abs() < 1e-12
        );
        assert!(thumb.proposal.contains("reaction_mean_s = 0.500\n"), "{}", thumb.proposal);
        assert_eq!(Thumb::of(&presses[..5]), None);
    }

    #[test]
    fn a_proposal_is_a_settings_file_that_reads() {
        let thumb = Thumb::of(&[0.2, 0.22, 0.25, 0.19, 0.3, 0.21]).unwrap();
        let settings = super::super::plan::REACH
            .replace("[thumb]\nreaction_mean_s = 0.25\nreaction_sd_s = 0.06\n", &thumb.proposal);
        let read = crate::scenario::parse_settings("reach.toml", &settings).unwrap();
        assert_eq!(read.gun.reaction_mean.as_micros(), (thumb.mean_s * 1e3).round() as i64 * 1_000);
    }
}
