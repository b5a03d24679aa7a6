//! The run-in: how far the bow was from the line, from half a minute before zero to the start.
//!
//! Above, the whole of it; below, the second on either side of the crossing, with the call and its error bar.
//! The call stands where the dash says the bow crossed; the ring is where it truly did.
//!
//! Knows the log and the palette. A log in, a picture out.

use std::io;
use std::ops::Range;

use firmware::output::Counted;
use firmware::units::Span;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::palette::{self, Area, Axis, Chart, Stroke};
use crate::log::Log;
use crate::summary::{Called, Scale, Summary, secs};
use crate::words;

const HEIGHT: u32 = 1_250;

const BOW: Stroke = Stroke::whole(palette::BLUE, 4);
const LINE: Stroke = Stroke::whole(palette::INK, 3);
const ZERO: Stroke = Stroke::dashed(palette::VERMILLION, 4, 14, 8);

/// Draws the run-in.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn draw(log: &Log, summary: &Summary) -> io::Result<String> {
    palette::picture(HEIGHT, "The run-in", |area| {
        let (upper, lower) = area.split_vertically(570);
        let until = summary.call.map_or(5.0, |called| (secs(called.margin) + 2.0).clamp(5.0, 60.0));
        whole(log, summary, &upper, -30.0..until)?;
        match summary.call {
            Some(called) => close(log, summary, called, &lower),
            None => palette::nothing(&lower, "no start was called"),
        }
    })
}

/// Half a minute of it.
fn whole(log: &Log, summary: &Summary, area: &Area, times: Range<f64>) -> io::Result<()> {
    let (legend, area) = area.split_vertically(44);
    palette::legend(&legend, (24, 20), &[("bow", BOW), ("start line", LINE), (zero_name(summary), ZERO)])?;
    let points = bow(log, &times);
    let Some(metres) = palette::span_of(points.iter().map(|point| point.1).chain([0.0]), 0.08) else {
        return Ok(());
    };
    if points.is_empty() {
        return palette::nothing(&area, "no positions");
    }
    let mut chart = panel(&area, times.clone(), metres.clone())?;
    frame(&mut chart, &times, &metres)?;
    palette::line(&mut chart, points, BOW)?;
    let Some(crossed) = crossed(summary) else { return Ok(()) };
    let mark = Circle::new((crossed, 0.0), 12, palette::INK.stroke_width(4));
    chart.draw_series(std::iter::once(mark)).map(|_| ()).map_err(io::Error::other)
}

/// A second on either side of the crossing; zero too, when it is near.
fn close(log: &Log, summary: &Summary, called: Called, area: &Area) -> io::Result<()> {
    let (note, area) = area.split_vertically(54);
    let margin = secs(called.margin);
    let mut times = margin - 1.0..margin + 1.0;
    if margin.abs() < 4.0 {
        times = times.start.min(-0.2)..times.end.max(0.2);
    }
    let points = bow(log, &times);
    let metres = palette::span_of(points.iter().map(|point| point.1).chain([-50.0, 50.0]), 0.12);
    let metres = metres.unwrap_or(-50.0..50.0);
    let sigmas = log.settings.race.too_close_sigmas;
    let mut chart = panel(&area, times.clone(), metres.clone())?;
    frame(&mut chart, &times, &metres)?;
    palette::line(&mut chart, points, BOW)?;
    error_bar(&mut chart, called, &metres, sigmas)?;
    truth(&mut chart, summary)?;
    in_words(&mut chart, summary, called, (times.end, metres.start))?;
    let words = format!(
        "Thick bar: ±1, thin bar: ±{sigmas} standard deviations. Zero within the thin bar: too close to call."
    );
    let style = palette::text(palette::SMALL, palette::INK);
    note.draw(&Text::new(words, (24, 12), style)).map_err(io::Error::other)
}

fn panel<'a, 'b>(area: &'a Area<'b>, times: Range<f64>, metres: Range<f64>) -> io::Result<Chart<'a, 'b>> {
    let title = if times.end - times.start > 10.0 { "race time (min:s)" } else { "race time (s)" };
    palette::panel(
        area,
        Axis::time(title, times),
        Axis::plain("bow past the line (m)", metres),
        palette::RIGHT,
    )
}

/// The line and zero.
fn frame(chart: &mut Chart, times: &Range<f64>, metres: &Range<f64>) -> io::Result<()> {
    palette::line(chart, vec![(times.start, 0.0), (times.end, 0.0)], LINE)?;
    if times.contains(&0.0) {
        palette::line(chart, vec![(0.0, metres.start), (0.0, metres.end)], ZERO)?;
        let place = (HPos::Right, VPos::Top);
        palette::label(chart, (0.0, metres.end), (-10, 8), place, ("zero", palette::VERMILLION))?;
    }
    Ok(())
}

const fn zero_name(summary: &Summary) -> &'static str {
    match summary.scale {
        Scale::TrueZero => "true zero",
        Scale::DashZero => "the dash's zero",
    }
}

/// Where the bow was, up to both ends of the picture.
fn bow(log: &Log, times: &Range<f64>) -> Vec<(f64, f64)> {
    let at = |t: f64| log.boat_at(Span::from_micros((t * 1e6) as i64)).map(|boat| (t, boat.bow_past_m));
    let boats = log.samples.iter().filter_map(|sample| Some((secs(sample.t), sample.boat?.bow_past_m)));
    let inside = boats.filter(|(t, _)| (times.start..=times.end).contains(t));
    at(times.start).into_iter().chain(inside).chain(at(times.end)).collect()
}

/// When the dash saw the start, on the log's own times.
fn crossed(summary: &Summary) -> Option<f64> {
    let start = summary.crossings.iter().rev().find(|seen| seen.counted == Counted::Start)?;
    Some(secs(start.t))
}

/// The call on the line: a mark, one standard deviation thick, as many as the rule of too-close thin.
fn error_bar(chart: &mut Chart, called: Called, metres: &Range<f64>, sigmas: u8) -> io::Result<()> {
    let (at, sigma) = (secs(called.margin), secs(called.sigma));
    let reach = sigma * f64::from(sigmas);
    let cap = 0.035 * (metres.end - metres.start);
    let ink = |width| Stroke::whole(palette::INK, width);
    palette::line(chart, vec![(at - reach, 0.0), (at + reach, 0.0)], ink(6))?;
    palette::line(chart, vec![(at - sigma, 0.0), (at + sigma, 0.0)], ink(16))?;
    for end in [at - reach, at + reach] {
        palette::line(chart, vec![(end, -cap), (end, cap)], ink(5))?;
    }
    let mark = Circle::new((at, 0.0), 12, palette::ORANGE.filled());
    chart.draw_series(std::iter::once(mark)).map(|_| ()).map_err(io::Error::other)
}

fn truth(chart: &mut Chart, summary: &Summary) -> io::Result<()> {
    let rings =
        summary.true_start.map(|start| Circle::new((secs(start), 0.0), 20, palette::GREEN.stroke_width(6)));
    chart.draw_series(rings).map(|_| ()).map_err(io::Error::other)
}

/// Call and truth in the lower right corner, where the bow never is.
fn in_words(chart: &mut Chart, summary: &Summary, called: Called, corner: (f64, f64)) -> io::Result<()> {
    let place = (HPos::Right, VPos::Bottom);
    let verdict = format!("dot: {}", words::verdict(called.call, called.margin, called.sigma));
    palette::label(chart, corner, (-16, -56), place, (&verdict, palette::INK))?;
    let Some(start) = summary.true_start else { return Ok(()) };
    let truth = format!("ring: in truth {} s", words::margin(start));
    palette::label(chart, corner, (-16, -14), place, (&truth, palette::INK))
}
