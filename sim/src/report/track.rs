//! The course from above: where the boat went, the start line, and where the bow crossed it.
//!
//! The racing direction points to the right, the same scale both ways; without a course, north is up. The
//! antenna's way is drawn; what the dash believed it was doing gives each piece its stroke.
//!
//! Knows the log and the palette. A log in, a picture out.

use std::io;
use std::ops::Range;

use firmware::course::{Place, Plane, StartLine};
use firmware::gnss::Position;
use firmware::output::Counted;
use firmware::units::Millimetres;
use firmware::view::Phase;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::palette::{self, Axis, Chart, Stroke};
use crate::log::Log;
use crate::summary::Summary;

/// Above the panel: title and legend.
const HEAD: u32 = 70 + LEGEND;
const LEGEND: u32 = 50;

/// Draws the course.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn draw(log: &Log, summary: &Summary) -> io::Result<String> {
    let Some(map) = Map::of(log) else {
        return palette::picture(600, TITLE, |area| palette::nothing(&area, "no positions"));
    };
    let pieces = map.pieces(log);
    let sheet = Sheet::of(map.everything(log));
    palette::picture(HEAD + sheet.height, TITLE, |area| {
        let (legend, area) = area.split_vertically(LEGEND);
        palette::legend(&legend, (24, 20), &strokes_used(&pieces))?;
        let (across, up) = map.titles();
        let (x, y) = (Axis::plain(across, sheet.x.clone()), Axis::plain(up, sheet.y.clone()));
        let mut chart = palette::panel(&area, x, y, palette::RIGHT)?;
        for phase in BELOW_TO_ABOVE {
            for (_, points) in pieces.iter().filter(|(of, _)| *of == phase) {
                palette::line(&mut chart, points.clone(), stroke(phase))?;
            }
        }
        map.start_line(&mut chart)?;
        map.north(&mut chart, &sheet)?;
        map.crossings(log, summary, &mut chart)
    })
}

const TITLE: &str = "Track";

/// The paper and what it covers, at one scale both ways.
struct Sheet {
    x: Range<f64>,
    y: Range<f64>,
    height: u32,
}

impl Sheet {
    /// As wide as every picture, and as high as the points ask for, within reason.
    fn of(points: Vec<(f64, f64)>) -> Self {
        let range = |numbers: Vec<f64>| palette::span_of(numbers.into_iter(), 0.09).unwrap_or(-1.0..1.0);
        let x = range(points.iter().map(|point| point.0).collect());
        let y = range(points.iter().map(|point| point.1).collect());
        let (wide, tall) = (x.end - x.start, y.end - y.start);
        let height = palette::height_for(tall / wide).clamp(500, 1_200);
        let (across, up) = palette::field(height);
        let scale = (wide / across).max(tall / up);
        Self { x: about(&x, scale * across), y: about(&y, scale * up), height }
    }
}

fn about(range: &Range<f64>, wide: f64) -> Range<f64> {
    let middle = 0.5 * (range.start + range.end);
    middle - 0.5 * wide..middle + 0.5 * wide
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

/// On one way round, what matters more is drawn over what matters less.
const BELOW_TO_ABOVE: [Phase; 6] =
    [Phase::Waiting, Phase::Milling, Phase::Finished, Phase::Window, Phase::Late, Phase::Racing];

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
enum Map {
    /// Ahead of the line, and to the left of its left end.
    Line(StartLine),
    /// East and north of the first position.
    Chart(Plane),
}

impl Map {
    fn of(log: &Log) -> Option<Self> {
        let first = log.samples.iter().find_map(|sample| sample.boat)?.position;
        let line = log.settings.course.as_ref().and_then(|course| StartLine::new(course).ok());
        Some(line.map_or_else(|| Self::Chart(Plane::at(first)), Self::Line))
    }

    const fn titles(&self) -> (&'static str, &'static str) {
        match self {
            Self::Line(_) => ("ahead of the start line, in racing direction (m)", "left of its left end (m)"),
            Self::Chart(_) => ("east of the first position (m)", "north of it (m)"),
        }
    }

    fn point(&self, position: Position) -> (f64, f64) {
        match self {
            Self::Line(line) => {
                let beside = line.beside(position);
                (metres(beside.past), -metres(beside.along))
            }
            Self::Chart(plane) => {
                let Place { east, north } = plane.place(position);
                (metres(east), metres(north))
            }
        }
    }

    fn everything(&self, log: &Log) -> Vec<(f64, f64)> {
        let boats = log.samples.iter().filter_map(|sample| sample.boat).map(|boat| self.point(boat.position));
        boats.chain(self.line_ends().into_iter().flatten()).collect()
    }

    fn line_ends(&self) -> Option<[(f64, f64); 2]> {
        match self {
            Self::Line(line) => Some([(0.0, 0.0), (0.0, -metres(line.length()))]),
            Self::Chart(_) => None,
        }
    }

    /// The way of north on the paper.
    fn northwards(&self) -> (f64, f64) {
        match self {
            Self::Line(line) => {
                let (past, along) = line.turned(0, 1_000_000);
                (past as f64 / 1e6, along as f64 / -1e6)
            }
            Self::Chart(_) => (0.0, 1.0),
        }
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

    /// The line, and beyond its right end an arrow in racing direction.
    fn start_line(&self, chart: &mut Chart) -> io::Result<()> {
        let Some([left, right]) = self.line_ends() else { return Ok(()) };
        palette::line(chart, vec![left, right], Stroke::whole(palette::INK, 8))?;
        let unit = 0.05 * (chart.x_range().end - chart.x_range().start);
        let tail = (0.0, right.1 - 0.35 * unit);
        palette::arrow(chart, tail, (unit, 0.0))?;
        let words = ("start line, racing direction", palette::INK);
        palette::label(chart, tail, (-14, 0), (HPos::Right, VPos::Center), words)
    }

    /// An arrow to the north in the upper left corner, which no oval fills.
    fn north(&self, chart: &mut Chart, sheet: &Sheet) -> io::Result<()> {
        let unit = 0.03 * (sheet.x.end - sheet.x.start);
        let (across, up) = self.northwards();
        let at = |steps: f64| {
            let middle = (sheet.x.start + unit, sheet.y.end - unit);
            (middle.0 + steps * unit * across, middle.1 + steps * unit * up)
        };
        palette::arrow(chart, at(-0.6), (unit * across, unit * up))?;
        palette::label(chart, at(0.75), (0, 0), (HPos::Center, VPos::Center), ("N", palette::INK))
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

fn metres(distance: Millimetres) -> f64 {
    distance.as_mm() as f64 / 1_000.0
}
