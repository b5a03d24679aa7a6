//! What came of a heat on the bench: in words, as lines for machines, and as a picture.

use std::fmt::Write as _;
use std::io;

use firmware::units::Span;
use serde::Serialize;

use crate::report::palette::{self, Axis, Stroke};

const DECIDED: Stroke = Stroke::whole(palette::BLUE, 5);
const FED: Stroke = Stroke::dashed(palette::VERMILLION, 4, 18, 8);

/// Upper edges of the histogram's bars, microseconds; what is later than the last is in a bar of its own.
const EDGES_US: [u32; 9] = [200, 500, 1_000, 2_000, 5_000, 10_000, 20_000, 50_000, 100_000];

/// So late an input is fed too late to be compared: the dash may have been woken in between.
pub const TOO_LATE_US: u32 = 100_000;

/// How late things were.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Lateness {
    /// Each of them, microseconds.
    #[serde(skip)]
    pub all_us: Vec<u32>,
}

impl Lateness {
    /// How many stand in each bar.
    #[must_use]
    pub fn bars(&self) -> [usize; EDGES_US.len() + 1] {
        let mut bars = [0; EDGES_US.len() + 1];
        for late in &self.all_us {
            let place = EDGES_US.iter().filter(|edge| late >= *edge).count();
            if let Some(bar) = bars.get_mut(place) {
                *bar += 1;
            }
        }
        bars
    }

    /// The value below which so many in a hundred lie.
    #[must_use]
    pub fn percentile(&self, percent: usize) -> u32 {
        let mut sorted = self.all_us.clone();
        sorted.sort_unstable();
        let place = (sorted.len() * percent).div_ceil(100).saturating_sub(1);
        sorted.get(place).copied().unwrap_or_default()
    }
}

/// Everything that is to be said at the end.
#[derive(Clone, Debug, Default)]
pub struct Verdict {
    /// The heat's title.
    pub title: String,
    /// Decisions in which board and simulator agreed.
    pub agreed: usize,
    /// Differences.
    pub differences: usize,
    /// Inputs fed.
    pub inputs: usize,
    /// How long after the stamp of an input it was fed.
    pub fed: Lateness,
    /// How long after the stamp of what led to it a decision was made.
    pub decided: Lateness,
    /// What the board had no room to tell.
    pub lost: u32,
    /// The board's time that went by, and this machine's.
    pub board: Span,
    /// This machine's.
    pub here: Span,
}

impl Verdict {
    /// True when the board decided as the simulator did, and all of it was heard.
    #[must_use]
    pub const fn is_equal(&self) -> bool {
        self.differences == 0 && self.lost == 0
    }

    /// The board's time over this machine's.
    #[must_use]
    pub fn pace(&self) -> f64 {
        self.board.as_micros() as f64 / (self.here.as_micros() as f64).max(1.0)
    }

    /// In words.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        let _ = writeln!(text, "{}", self.title);
        let _ = writeln!(
            text,
            "{} inputs, {} decisions equal, {} different, {} unheard",
            self.inputs, self.agreed, self.differences, self.lost
        );
        let _ = writeln!(text, "\nlate by              inputs fed   decisions made");
        let (fed, decided) = (self.fed.bars(), self.decided.bars());
        for (place, (fed, decided)) in fed.iter().zip(decided).enumerate() {
            let _ = writeln!(text, "{:<20}{fed:>11}{decided:>17}", label(place));
        }
        for (name, percent) in [("half of them", 50), ("99 in 100", 99), ("the latest", 100)] {
            let ms = |late: &Lateness| f64::from(late.percentile(percent)) / 1e3;
            let _ = writeln!(text, "{name:<20}{:>8.2} ms{:>14.2} ms", ms(&self.fed), ms(&self.decided));
        }
        let late = self.fed.all_us.iter().filter(|late| **late > TOO_LATE_US).count();
        if late > 0 {
            let _ = writeln!(
                text,
                "{late} inputs came to the dash too late to be compared fairly: a slow host or cable"
            );
        }
        let pace = self.pace();
        if !(0.95..1.05).contains(&pace) {
            let _ = writeln!(text, "the board's clock ran at {pace:.2} of real time: it is emulated");
        }
        let word =
            if self.is_equal() { "EQUAL: the board decides as the simulator does" } else { "DIFFERENT" };
        let _ = writeln!(text, "\n{word}");
        text
    }

    /// The last of the lines for machines.
    #[must_use]
    pub fn json(&self) -> serde_json::Value {
        let late = |it: &Lateness| {
            serde_json::json!({
                "median_us": it.percentile(50), "p99_us": it.percentile(99), "max_us": it.percentile(100),
                "edges_us": EDGES_US, "counts": it.bars(),
            })
        };
        serde_json::json!({
            "kind": "verdict", "equal": self.is_equal(), "title": self.title, "inputs": self.inputs,
            "agreed": self.agreed, "differences": self.differences, "unheard": self.lost, "pace": self.pace(),
            "inputs_late": late(&self.fed), "decisions_late": late(&self.decided),
        })
    }

    /// The histogram of both: SVG text.
    ///
    /// # Errors
    /// Whatever the drawing library could not do.
    pub fn histogram(&self) -> io::Result<String> {
        let title = format!("{}: how late after their moment", self.title);
        palette::picture(560, &title, |area| {
            let (legend, area) = area.split_vertically(44);
            palette::legend(&legend, (24, 20), &[("decisions made", DECIDED), ("inputs fed", FED)])?;
            let shares = |it: &Lateness| -> Vec<(f64, f64)> {
                let all = it.all_us.len().max(1) as f64;
                let step = |(place, count): (usize, usize)| {
                    let share = count as f64 / all * 100.0;
                    [(place as f64, share), (place as f64 + 1.0, share)]
                };
                it.bars().into_iter().enumerate().flat_map(step).collect()
            };
            let (decided, fed) = (shares(&self.decided), shares(&self.fed));
            let most = decided.iter().chain(&fed).map(|point| point.1).fold(1.0, f64::max) * 1.08;
            let x = Axis {
                title: "late by, ms (the last bar holds all beyond)",
                range: 0.0..(EDGES_US.len() + 1) as f64,
                ticks: (1..=EDGES_US.len()).map(|place| place as f64).collect(),
                label: edge,
            };
            let y = Axis::plain("share, %", 0.0..most);
            let mut chart = palette::panel(&area, x, y, palette::RIGHT)?;
            palette::line(&mut chart, fed, FED)?;
            palette::line(&mut chart, decided, DECIDED)
        })
    }
}

/// The edge at which a bar ends.
fn edge(place: &f64) -> String {
    let edge = (*place as usize).checked_sub(1).and_then(|place| EDGES_US.get(place));
    edge.map_or_else(String::new, |edge| format!("{}", f64::from(*edge) / 1e3))
}

fn label(place: usize) -> String {
    let ms = |edge: u32| f64::from(edge) / 1e3;
    match (place.checked_sub(1).and_then(|place| EDGES_US.get(place)), EDGES_US.get(place)) {
        (Some(from), Some(to)) => format!("{} to {} ms", ms(*from), ms(*to)),
        (None, Some(to)) => format!("under {} ms", ms(*to)),
        (Some(from), None) => format!("{} ms and more", ms(*from)),
        (None, None) => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_lateness_stands_in_the_bar_that_begins_at_its_lower_edge() {
        let late = Lateness { all_us: vec![0, 199, 200, 999, 1_000, 99_999, 100_000, 5_000_000] };
        assert_eq!(late.bars(), [2, 1, 1, 1, 0, 0, 0, 0, 1, 2]);
        assert_eq!((late.percentile(50), late.percentile(100)), (999, 5_000_000));
    }

    #[test]
    fn what_was_not_heard_is_not_called_equal() {
        assert!(Verdict::default().is_equal());
        assert!(!Verdict { lost: 1, ..Verdict::default() }.is_equal());
        assert!(!Verdict { differences: 1, ..Verdict::default() }.is_equal());
    }
}
