//! The picture of many starts: how long before the limit each hot one was said.
//!
//! Knows the tally and the palette.

use std::io;

use crate::report::palette::{self, Axis, RIGHT, Stroke};

use super::tally::tally;
use super::{AHEAD_S, Starts};

/// How wide a bar is, seconds, and where the picture ends.
const BAR_S: f64 = 0.25;
const FIRST: i64 = -8;
const LAST: i64 = 40;

const LEADS: Stroke = Stroke::whole(palette::BLUE, 5);
const WANTED: Stroke = Stroke::dashed(palette::VERMILLION, 4, 18, 8);
const LIMIT: Stroke = Stroke::whole(palette::INK, 3);

/// Draws the histogram: SVG text.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn histogram(starts: &Starts) -> io::Result<String> {
    let tally = tally(starts);
    let title = format!("{} hot starts: seconds from warning to limit", tally.hot);
    palette::picture(760, &title, |area| {
        let (legend, area) = area.split_vertically(44);
        let entries = [("hot starts", LEADS), ("wanted at least", WANTED), ("limit", LIMIT)];
        palette::legend(&legend, (24, 20), &entries)?;
        if tally.leads_s.is_empty() {
            return palette::nothing(&area, "no hot start was warned of");
        }
        let bar = |lead: f64| ((lead / BAR_S).floor() as i64).clamp(FIRST, LAST);
        let all = tally.hot.max(1) as f64;
        let outline: Vec<(f64, f64)> = (FIRST..=LAST)
            .flat_map(|k| {
                let count = tally.leads_s.iter().filter(|lead| bar(**lead) == k).count();
                let share = count as f64 / all * 100.0;
                [(k as f64 * BAR_S, share), ((k + 1) as f64 * BAR_S, share)]
            })
            .collect();
        let most = outline.iter().map(|point| point.1).fold(1.0, f64::max) * 1.08;
        let x = Axis::plain(
            "from warning to limit, s (negative: too late; ends hold what lies beyond)",
            FIRST as f64 * BAR_S..(LAST + 1) as f64 * BAR_S,
        );
        let y = Axis::plain("share of hot starts in 0.25 s, %", 0.0..most);
        let mut chart = palette::panel(&area, x, y, RIGHT)?;
        palette::line(&mut chart, vec![(0.0, 0.0), (0.0, most)], LIMIT)?;
        palette::line(&mut chart, vec![(AHEAD_S, 0.0), (AHEAD_S, most)], WANTED)?;
        palette::line(&mut chart, outline, LEADS)
    })
}
