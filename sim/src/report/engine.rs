//! EGT, N1 and N2 over time, with the limits from the settings.
//!
//! What the dash was told is drawn: a broken or silent sensor leaves a gap, and a bar under it. Each limit is a
//! dashed line, and its label says for how long it may be exceeded; each exceedance that the dash called is marked.
//!
//! Knows the log and the palette. A log in, a picture out.

use std::io;

use firmware::engine::limits::{Limited, Limits};
use firmware::output::{Gauges, Quantity, Reading};
use firmware::units::{CentiPercent, MilliCelsius, Span};
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::palette::{self, Area, Axis, Chart, Stroke};
use crate::log::Log;
use crate::summary::{Summary, secs};
use crate::words;

const HEIGHT: u32 = 1_250;

const EGT: Stroke = Stroke::whole(palette::BLUE, 4);
const N1: Stroke = Stroke::whole(palette::BLUE, 4);
const N2: Stroke = Stroke::dashed(palette::GREEN, 4, 16, 6);
const EGT_LIMIT: Stroke = Stroke::dashed(palette::VERMILLION, 3, 12, 8);
const N1_LIMIT: Stroke = Stroke::dashed(palette::VERMILLION, 3, 12, 8);
const N2_LIMIT: Stroke = Stroke::dashed(palette::ORANGE, 4, 5, 7);
const FAULT: Stroke = Stroke::whole(palette::PURPLE, 12);
const NONE: Stroke = Stroke::whole(palette::FAINT, 12);

/// Draws the engine.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn draw(log: &Log, summary: &Summary) -> io::Result<String> {
    let demonstration = log.settings.engine.demonstration;
    let title =
        if demonstration { "Engine, with demonstration limits: not for any real engine" } else { "Engine" };
    palette::picture(HEIGHT, title, |area| {
        let Some((from, to)) = extent(log) else { return palette::nothing(&area, "no engine data") };
        let (upper, lower) = area.split_vertically(570);
        egt(log, summary, &upper, (from, to))?;
        shafts(log, summary, &lower, (from, to))
    })
}

/// From the first to the last moment at which any gauge had anything to say.
fn extent(log: &Log) -> Option<(f64, f64)> {
    let told = |gauges: &Gauges| {
        gauges.egt != Reading::Absent || gauges.n1 != Reading::Absent || gauges.n2 != Reading::Absent
    };
    let mut times =
        log.samples.iter().filter(|sample| told(&sample.view.gauges)).map(|sample| secs(sample.t));
    let first = times.next()?;
    Some((first, times.next_back().unwrap_or(first + 1.0)))
}

fn egt(log: &Log, summary: &Summary, area: &Area, times: (f64, f64)) -> io::Result<()> {
    let (legend, area) = area.split_vertically(44);
    let strokes = [
        ("EGT", EGT),
        ("limit, with the time allowed above it", EGT_LIMIT),
        ("sensor broken", FAULT),
        ("no reading", NONE),
    ];
    palette::legend(&legend, (24, 20), &strokes)?;
    let degrees = |egt: MilliCelsius| f64::from(egt.as_milli()) / 1_000.0;
    let mut limits = limits(&log.settings.engine.egt_running, degrees, ("", "°C", EGT_LIMIT));
    let trace = trace(log, |gauges| of(gauges.egt, words::celsius(gauges.egt)));
    let top = highest(&trace, &limits) * 1.06;
    let mut chart = panel(&area, times, Axis::plain("EGT (°C)", 0.0..top))?;
    draw_limits(&mut chart, &limits, times)?;
    draw_trace(&mut chart, &trace, EGT, 0.012 * top)?;
    exceedances(&mut chart, summary, &[Quantity::Egt], (times, top))?;
    palette::labels_at_right(&area, &chart, &mut limits)
}

fn shafts(log: &Log, summary: &Summary, area: &Area, times: (f64, f64)) -> io::Result<()> {
    let (legend, area) = area.split_vertically(44);
    let strokes = [("N1", N1), ("N1 limit", N1_LIMIT), ("N2", N2), ("N2 limit", N2_LIMIT)];
    palette::legend(&legend, (24, 20), &strokes)?;
    let engine = &log.settings.engine;
    let percent = |speed: CentiPercent| f64::from(speed.as_centi()) / 100.0;
    let mut limits_of_both = limits(&engine.n1, percent, ("N1 ", "%", N1_LIMIT));
    limits_of_both.extend(limits(&engine.n2, percent, ("N2 ", "%", N2_LIMIT)));
    let overspeed = percent(engine.n2_overspeed);
    limits_of_both.push((overspeed, format!("N2 {overspeed:.0} %: overspeed"), N2_LIMIT));
    let n1 = trace(log, |gauges| of(gauges.n1, words::percent(gauges.n1)));
    let n2 = trace(log, |gauges| of(gauges.n2, words::percent(gauges.n2)));
    let top = highest(&n1, &limits_of_both).max(highest(&n2, &[])) * 1.06;
    let mut chart = panel(&area, times, Axis::plain("N1, N2 (%)", 0.0..top))?;
    draw_limits(&mut chart, &limits_of_both, times)?;
    draw_trace(&mut chart, &n1, N1, 0.012 * top)?;
    draw_trace(&mut chart, &n2, N2, 0.036 * top)?;
    exceedances(&mut chart, summary, &[Quantity::N1, Quantity::N2], (times, top))?;
    palette::labels_at_right(&area, &chart, &mut limits_of_both)
}

fn panel<'a, 'b>(area: &'a Area<'b>, (from, to): (f64, f64), values: Axis) -> io::Result<Chart<'a, 'b>> {
    palette::panel(area, Axis::time("race time (min:s)", from..to), values, palette::RIGHT_LABELS)
}

/// A limit: where, in words, and its stroke.
type Drawn = (f64, String, Stroke);

/// The rows of a table: where, and for how long it may be exceeded.
fn limits<T: Limited>(
    table: &Limits<T>,
    value: impl Fn(T) -> f64,
    (name, unit, stroke): (&str, &str, Stroke),
) -> Vec<Drawn> {
    let row = |threshold: T, allowed: Span| {
        let (at, allowed) = (value(threshold), secs(allowed));
        let how_long = if allowed > 0.0 { format!("{allowed:.0} s") } else { "never".into() };
        (at, format!("{name}{at:.0} {unit}: {how_long}"), stroke)
    };
    table.rows.iter().map(|limit| row(limit.threshold, limit.allowed)).collect()
}

fn of<T>(reading: Reading<T>, value: Option<f64>) -> Reading<f64> {
    match reading {
        Reading::Fault => Reading::Fault,
        Reading::Absent | Reading::Good(_) => value.map_or(Reading::Absent, Reading::Good),
    }
}

type Trace = Vec<(f64, Reading<f64>)>;

fn trace(log: &Log, gauge: impl Fn(&Gauges) -> Reading<f64>) -> Trace {
    log.samples.iter().map(|sample| (secs(sample.t), gauge(&sample.view.gauges))).collect()
}

fn highest(trace: &Trace, limits: &[Drawn]) -> f64 {
    let readings = trace.iter().filter_map(|(_, reading)| match reading {
        Reading::Good(value) => Some(*value),
        Reading::Absent | Reading::Fault => None,
    });
    readings.chain(limits.iter().map(|(at, ..)| *at)).fold(0.0, f64::max)
}

fn draw_limits(chart: &mut Chart, limits: &[Drawn], (from, to): (f64, f64)) -> io::Result<()> {
    limits.iter().try_for_each(|(at, _, stroke)| palette::line(chart, vec![(from, *at), (to, *at)], *stroke))
}

/// A line where there are readings; a bar at the foot where the sensor is broken or silent.
fn draw_trace(chart: &mut Chart, trace: &Trace, stroke: Stroke, foot: f64) -> io::Result<()> {
    let kind = |reading: &Reading<f64>| std::mem::discriminant(reading);
    for run in trace.chunk_by(|a, b| kind(&a.1) == kind(&b.1)) {
        let points = run.iter().map(|(t, reading)| match reading {
            Reading::Good(value) => (*t, *value),
            Reading::Absent | Reading::Fault => (*t, foot),
        });
        let stroke = match run.first() {
            Some((_, Reading::Good(_))) => stroke,
            Some((_, Reading::Fault)) => FAULT,
            _ => NONE,
        };
        palette::line(chart, points.collect(), stroke)?;
    }
    Ok(())
}

/// A mark near the foot at each moment the dash called an exceedance, with its peak.
fn exceedances(
    chart: &mut Chart,
    summary: &Summary,
    of: &[Quantity],
    ((from, to), top): ((f64, f64), f64),
) -> io::Result<()> {
    for exceeded in summary.exceedances.iter().filter(|exceeded| of.contains(&exceeded.quantity)) {
        let at = (secs(exceeded.t), 0.07 * top);
        let mark = TriangleMarker::new(at, 16, palette::VERMILLION.filled());
        chart.draw_series(std::iter::once(mark)).map_err(io::Error::other)?;
        let peak = words::amount(exceeded.quantity, exceeded.peak);
        let words = format!("{} over, peak {peak}", words::quantity(exceeded.quantity));
        let late = at.0 > 0.5 * (from + to);
        let (across, side) = if late { (-20, HPos::Right) } else { (20, HPos::Left) };
        palette::label(chart, at, (across, 4), (side, VPos::Center), (&words, palette::VERMILLION))?;
    }
    Ok(())
}
