//! The course from above: where the boat went, the start line, and where the bow crossed it.
//!
//! Metres east and north of the line's left end, the same scale both ways, north up. The antenna's way is
//! drawn; what the dash believed it was doing gives each piece its stroke.
//!
//! Knows the log and the palette. A log in, a picture out.

use std::io;
use std::ops::Range;

use firmware::course::{Place, Plane};
use firmware::gnss::Position;
use firmware::output::Counted;
use firmware::view::Phase;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::palette::{self, Axis, Chart, Stroke};
use crate::log::Log;
use crate::summary::Summary;

const HEIGHT: u32 = 1_000;
const LEGEND: i32 = 22;

/// Draws the course.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn draw(log: &Log, summary: &Summary) -> io::Result<String> {
    palette::picture(HEIGHT, "Track", |area| {
        let (legend, area) = area.split_vertically(46);
        let Some(map) = Map::of(log) else { return palette::nothing(&area, "no positions") };
        let pieces = map.pieces(log);
        palette::legend(&legend, (24, LEGEND), &strokes_used(&pieces))?;
        let (east, north) = map.ranges(log, area.dim_in_pixel());
        let mut chart = palette::panel(
            &area,
            Axis::plain("east of the line's left end (m)", east),
            Axis::plain("north of it (m)", north),
        )?;
        for (phase, points) in pieces {
            palette::line(&mut chart, points, stroke(phase))?;
        }
        map.start_line(log, &mut chart)?;
        map.crossings(log, summary, &mut chart)
    })
}

/// Each phase is told by its stroke as much as by its colour.
const fn stroke(phase: Phase) -> Stroke {
    match phase {
        Phase::Waiting => Stroke::dashed(palette::GREY, 3, 4, 10),
        Phase::Milling => Stroke::whole(palette::GREY, 2),
        Phase::Window => Stroke::dashed(palette::ORANGE, 6, 22, 8),
        Phase::Late => Stroke::dashed(palette::VERMILLION, 6, 8, 6),
        Phase::Racing => Stroke::whole(palette::BLUE, 4),
        Phase::Finished => Stroke::dashed(palette::GREEN, 4, 14, 10),
    }
}

const fn name(phase: Phase) -> &'static str {
    match phase {
        Phase::Waiting => "no gun yet",
        Phase::Milling => "milling",
        Phase::Window => "window before zero",
        Phase::Late => "late",
        Phase::Racing => "racing",
        Phase::Finished => "finished",
    }
}

fn strokes_used(pieces: &[Piece]) -> Vec<(&'static str, Stroke)> {
    let all = [Phase::Waiting, Phase::Milling, Phase::Window, Phase::Late, Phase::Racing, Phase::Finished];
    let used = all.into_iter().filter(|phase| pieces.iter().any(|(of, _)| of == phase));
    used.map(|phase| (name(phase), stroke(phase))).collect()
}

/// What was run in one phase.
type Piece = (Phase, Vec<(f64, f64)>);

/// Positions to metres.
struct Map(Plane);

impl Map {
    /// About the line's left end, or else about the first position there is.
    fn of(log: &Log) -> Option<Self> {
        let first = log.samples.iter().find_map(|sample| sample.boat)?.position;
        let origin = log.settings.course.as_ref().map_or(first, |course| course.line_left);
        Some(Self(Plane::at(origin)))
    }

    fn point(&self, position: Position) -> (f64, f64) {
        let Place { east, north } = self.0.place(position);
        (east.as_mm() as f64 / 1_000.0, north.as_mm() as f64 / 1_000.0)
    }

    /// The way in pieces of one phase; each begins where the one before ended.
    fn pieces(&self, log: &Log) -> Vec<Piece> {
        let mut pieces: Vec<Piece> = Vec::new();
        for sample in &log.samples {
            let Some(boat) = sample.boat else { continue };
            let (phase, point) = (sample.view.phase, self.point(boat.position));
            match pieces.last_mut() {
                Some((of, points)) if *of == phase => points.push(point),
                Some((_, points)) => {
                    points.push(point);
                    pieces.push((phase, vec![point]));
                }
                None => pieces.push((phase, vec![point])),
            }
        }
        pieces
    }

    fn line_ends(&self, log: &Log) -> Option<[(f64, f64); 2]> {
        let course = log.settings.course.as_ref()?;
        Some([self.point(course.line_left), self.point(course.line_right)])
    }

    /// Ranges that hold everything, at one scale both ways.
    fn ranges(&self, log: &Log, (width, height): (u32, u32)) -> (Range<f64>, Range<f64>) {
        let boats = log.samples.iter().filter_map(|sample| sample.boat).map(|boat| self.point(boat.position));
        let points: Vec<_> = boats.chain(self.line_ends(log).into_iter().flatten()).collect();
        let range = |numbers: Vec<f64>| palette::span_of(numbers.into_iter(), 0.06).unwrap_or(-1.0..1.0);
        let east = range(points.iter().map(|point| point.0).collect());
        let north = range(points.iter().map(|point| point.1).collect());
        let (across, up) = palette::field(width, height);
        let scale = ((east.end - east.start) / across).max((north.end - north.start) / up);
        let about = |range: Range<f64>, wide: f64| {
            let middle = 0.5 * (range.start + range.end);
            middle - 0.5 * wide..middle + 0.5 * wide
        };
        (about(east, scale * across), about(north, scale * up))
    }

    /// The line, its ends, and an arrow in racing direction.
    fn start_line(&self, log: &Log, chart: &mut Chart) -> io::Result<()> {
        let Some([left, right]) = self.line_ends(log) else { return Ok(()) };
        palette::line(chart, vec![left, right], Stroke::whole(palette::INK, 8))?;
        let (across, along) = (right.0 - left.0, right.1 - left.1);
        let length = across.hypot(along).max(1.0);
        let ahead = (-along / length, across / length);
        let reach = 0.9 * length;
        let tail = (right.0 + 0.12 * across, right.1 + 0.12 * along);
        let on = |forward: f64, aside: f64| {
            (
                tail.0 + forward * reach * ahead.0 + aside * reach * ahead.1,
                tail.1 + forward * reach * ahead.1 - aside * reach * ahead.0,
            )
        };
        palette::line(chart, vec![on(0.0, 0.0), on(1.0, 0.0)], Stroke::whole(palette::INK, 3))?;
        palette::line(chart, vec![on(0.8, -0.1), on(1.0, 0.0), on(0.8, 0.1)], Stroke::whole(palette::INK, 3))?;
        let words = ("start line, racing direction", palette::INK);
        palette::label(chart, tail, (12, 12), (HPos::Left, VPos::Top), words)
    }

    /// A mark where the bow was at each crossing that the dash counted.
    fn crossings(&self, log: &Log, summary: &Summary, chart: &mut Chart) -> io::Result<()> {
        let at = |t| log.boat_at(t).map(|boat| self.point(boat.position));
        let of = |counted: Counted| summary.crossings.iter().filter(move |seen| seen.counted == counted);
        let starts = of(Counted::Start).filter_map(|seen| at(seen.t));
        let circles = starts.map(|point| Circle::new(point, 13, palette::VERMILLION.stroke_width(5)));
        chart.draw_series(circles).map_err(io::Error::other)?;
        let laps = of(Counted::Lap).filter_map(|seen| at(seen.t));
        let crosses = laps.map(|point| Cross::new(point, 11, palette::BLUE.stroke_width(5)));
        chart.draw_series(crosses).map_err(io::Error::other)?;
        let milling = of(Counted::Milling).filter_map(|seen| at(seen.t));
        let triangles = milling.map(|point| TriangleMarker::new(point, 11, palette::GREY.filled()));
        chart.draw_series(triangles).map(|_| ()).map_err(io::Error::other)
    }
}
