//! The picture of a sweep: how both drivers' margins scatter round the line.
//!
//! Knows the tally and the palette.

use std::io;

use crate::report::palette::{self, Axis, RIGHT, Stroke};

use super::tally::{Tally, quantile, tally};
use super::{Sweep, Who};

/// How wide a bar of the histogram is, seconds.
const BAR_S: f64 = 0.05;

const DASH: Stroke = Stroke::whole(palette::BLUE, 5);
const STOPWATCH: Stroke = Stroke::dashed(palette::VERMILLION, 5, 18, 8);
const ZERO: Stroke = Stroke::whole(palette::INK, 3);

/// Draws the histogram: SVG text.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn histogram(sweep: &Sweep) -> io::Result<String> {
    let tallies = [tally(sweep, Who::Dash), tally(sweep, Who::Stopwatch)];
    let title = format!("{} starts, early accepted in {:.1} %", tallies[0].starts, sweep.plan.risk * 100.0);
    palette::picture(760, &title, |area| {
        let (legend, area) = area.split_vertically(44);
        palette::legend(
            &legend,
            (24, 20),
            &[("by the dash", DASH), ("by stopwatch", STOPWATCH), ("zero", ZERO)],
        )?;
        let Some((first, last)) = bars(&tallies) else {
            return palette::nothing(&area, "nobody crossed the line");
        };
        let shares = tallies.each_ref().map(|tally| outline(tally, first, last));
        let most = shares.iter().flatten().map(|point| point.1).fold(1.0, f64::max);
        let x = Axis::plain(
            "crossing less zero, s (negative: jumped)",
            first as f64 * BAR_S..last as f64 * BAR_S,
        );
        let y = Axis::plain("share of starts in 0.05 s, %", 0.0..most * 1.08);
        let mut chart = palette::panel(&area, x, y, RIGHT)?;
        palette::line(&mut chart, vec![(0.0, 0.0), (0.0, most * 1.08)], ZERO)?;
        let [dash, stopwatch] = shares;
        palette::line(&mut chart, stopwatch, STOPWATCH)?;
        palette::line(&mut chart, dash, DASH)
    })
}

/// The first and the last bar that hold all but one start in a thousand, zero among them.
fn bars(tallies: &[Tally; 2]) -> Option<(i64, i64)> {
    let ends = |share: f64| tallies.iter().filter_map(move |tally| quantile(&tally.margins_s, share));
    let low = ends(0.0005).fold(f64::INFINITY, f64::min);
    let high = ends(0.9995).fold(f64::NEG_INFINITY, f64::max);
    let bar = |seconds: f64| (seconds / BAR_S).floor() as i64;
    (low <= high).then(|| (bar(low).min(-2), bar(high).max(2) + 1))
}

/// The histogram's outline: two points for each bar.
fn outline(tally: &Tally, first: i64, last: i64) -> Vec<(f64, f64)> {
    let below = |bar: i64| tally.margins_s.partition_point(|margin| *margin < bar as f64 * BAR_S);
    let all = tally.margins_s.len().max(1) as f64;
    (first..last)
        .flat_map(|bar| {
            let share = (below(bar + 1) - below(bar)) as f64 / all * 100.0;
            [(bar as f64 * BAR_S, share), ((bar + 1) as f64 * BAR_S, share)]
        })
        .collect()
}
