//! Speed against distance run, with a mark at each lap.
//!
//! Distance counts from the start crossing; one lap of the run-up is shown before it. Without a start, from the
//! first sample.
//!
//! Knows the log and the palette. A log in, a picture out.

use std::io;

use firmware::output::Counted;
use firmware::screen::Units;
use firmware::units::Span;
use plotters::style::text_anchor::{HPos, VPos};

use super::palette::{self, Axis, Stroke};
use crate::log::Log;
use crate::summary::Summary;
use crate::words;

const HEIGHT: u32 = 700;

/// Draws speed over distance.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn draw(log: &Log, summary: &Summary) -> io::Result<String> {
    let units = log.settings.screen.units;
    palette::picture(HEIGHT, "Speed over ground", |area| {
        let start = start(log, summary);
        let marks = start.map_or(Vec::new(), |start| marks(log, summary, start));
        let points = points(log, &marks, start.map(|(_, run_m)| run_m));
        let Some(range) = palette::span_of(points.iter().map(|point| point.0), 0.01) else {
            return palette::nothing(&area, "no positions");
        };
        let fastest = points.iter().map(|point| point.1).fold(20.0, f64::max);
        let mut chart = palette::panel(
            &area,
            Axis::plain("distance run since the start (m)", range),
            Axis::plain(title(units), 0.0..1.16 * fastest),
            palette::RIGHT,
        )?;
        palette::line(&mut chart, points, Stroke::whole(palette::BLUE, 4))?;
        for mark in marks {
            let top = 1.16 * fastest;
            let stroke = Stroke::dashed(palette::INK, 2, 10, 8);
            palette::line(&mut chart, vec![(mark.run_m, 0.0), (mark.run_m, top)], stroke)?;
            let words = (mark.words.as_str(), palette::INK);
            palette::label(&mut chart, (mark.run_m, top), (-10, 8), (HPos::Right, VPos::Top), words)?;
        }
        Ok(())
    })
}

const fn title(units: Units) -> &'static str {
    match units {
        Units::Mph => "speed (mph)",
        Units::KmPerHour => "speed (km/h)",
    }
}

/// A place on the distance axis that has a name.
struct Mark {
    run_m: f64,
    words: String,
}

/// When the dash saw the start, and the distance run by then.
fn start(log: &Log, summary: &Summary) -> Option<(Span, f64)> {
    let seen = summary.crossings.iter().rev().find(|seen| seen.counted == Counted::Start)?;
    Some((seen.t, log.boat_at(seen.t)?.run_m))
}

/// The start at 0, and the end of each lap with its time, written before it.
fn marks(log: &Log, summary: &Summary, (start, origin): (Span, f64)) -> Vec<Mark> {
    let ends = summary.crossings.iter().filter(|seen| seen.counted == Counted::Lap && seen.t > start);
    let laps = ends.zip(&summary.laps).filter_map(|(seen, lap)| {
        let words = format!("lap {}: {}", lap.lap, words::run_time(lap.time));
        Some(Mark { run_m: log.boat_at(seen.t)?.run_m - origin, words })
    });
    std::iter::once(Mark { run_m: 0.0, words: "start".into() }).chain(laps).collect()
}

/// From one lap before the start to a little after the last mark; without a start, everything.
fn points(log: &Log, marks: &[Mark], start_m: Option<f64>) -> Vec<(f64, f64)> {
    let scale = words::per_metre_a_second(log.settings.screen.units);
    let lap_m =
        log.settings.course.as_ref().map_or(2_000.0, |course| course.lap_length.as_mm() as f64 / 1_000.0);
    let last = marks.last().map_or(0.0, |mark| mark.run_m + 300.0).max(lap_m);
    let boats = log.samples.iter().filter_map(|sample| sample.boat);
    let all = boats.map(|boat| (boat.run_m - start_m.unwrap_or(0.0), boat.speed_m_s * scale));
    all.filter(|(run_m, _)| start_m.is_none() || (-lap_m..=last).contains(run_m)).collect()
}
