//! Three pictures of a judgement: the start's error bars, the track across the line, and the heat in time.
//!
//! Knows the judgement and the reports' palette. A judgement in, SVG text out.

use std::io;

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::Judgement;
use super::compare::Figure;
use super::second::{Counted, Opinion, Seen};
use crate::report::palette::{self, Axis, Chart, Stroke};

/// The start by both, as bars about zero.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn bars(judgement: &Judgement) -> io::Result<String> {
    let row = judgement.compared.iter().find(|row| row.what == "start");
    let said = row.map(|row| [("the dash", row.dash), ("second opinion", row.second)]);
    let said: Vec<(&str, Figure)> =
        said.into_iter().flatten().filter_map(|(who, said)| Some((who, said?.0))).collect();
    palette::picture(420, "Start: crossing less zero", |area| {
        let reach = said.iter().map(|(_, it)| it.s.abs() + 2.4 * it.sigma_s).fold(0.01, f64::max);
        if said.is_empty() {
            return palette::nothing(&area, "no start was called");
        }
        let rows = said.len() as f64;
        let x = Axis::plain("milliseconds after zero; early is to the left", -1e3 * reach..1e3 * reach);
        let mut chart = palette::panel(&area, x, silent(0.0..rows), palette::RIGHT)?;
        palette::line(&mut chart, vec![(0.0, 0.0), (0.0, rows)], Stroke::whole(palette::INK, 5))?;
        for (number, (who, it)) in said.iter().enumerate() {
            let y = rows - 0.6 - number as f64;
            let colour = if number == 0 { palette::BLUE } else { palette::GREEN };
            bar(&mut chart, (1e3 * it.s, y), 1e3 * it.sigma_s, colour)?;
            let at = (-1e3 * reach, y + 0.22);
            palette::label(&mut chart, at, (12, 0), (HPos::Left, VPos::Bottom), (who, palette::INK))?;
        }
        Ok(())
    })
}

/// One and two deviations to either side of a point.
fn bar(chart: &mut Chart, (x, y): (f64, f64), sigma: f64, colour: RGBColor) -> io::Result<()> {
    for (reach, width) in [(2.0, 4), (1.0, 14)] {
        let ends = vec![(x - reach * sigma, y), (x + reach * sigma, y)];
        palette::line(chart, ends, Stroke::whole(colour, width))?;
    }
    let dot = Circle::new((x, y), 11, palette::INK.filled());
    chart.draw_series(std::iter::once(dot)).map(|_| ()).map_err(io::Error::other)
}

/// An axis that says nothing.
fn silent(range: std::ops::Range<f64>) -> Axis {
    Axis { title: "", range, ticks: Vec::new(), label: |_| String::new() }
}

/// How much of the track is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reach {
    /// The whole line, two seconds to either side of the start.
    WholeLine,
    /// A dozen metres about the crossing.
    Close,
}

impl Reach {
    const fn title(self) -> &'static str {
        match self {
            Self::WholeLine => "Across the line",
            Self::Close => "Across the line, close",
        }
    }

    const fn around_s(self) -> f64 {
        match self {
            Self::WholeLine => 2.0,
            Self::Close => 0.25,
        }
    }
}

/// The bow over the line, racing direction to the right, one scale both ways.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn across_the_line(judgement: &Judgement, reach: Reach) -> io::Result<String> {
    let opinion = &judgement.opinion;
    let start = opinion.race.crossings.iter().find(|seen| seen.counted == Counted::Start);
    let (Some(start), Some(line_m)) = (start, opinion.line_m) else {
        return palette::picture(400, reach.title(), |area| {
            palette::nothing(&area, "no start in this record")
        });
    };
    let track = near(opinion, start, reach.around_s());
    let place = -start.crossing.place_m;
    let (xs, ys): (Vec<f64>, Vec<f64>) = match reach {
        Reach::WholeLine => (vec![-20.0, 20.0], vec![0.0, -line_m]),
        Reach::Close => (vec![-12.0, 12.0], vec![place - 5.0, place + 5.0]),
    };
    let x =
        palette::span_of(xs.into_iter().chain(track.iter().map(|point| point.0)), 0.05).unwrap_or(-1.0..1.0);
    let y =
        palette::span_of(ys.into_iter().chain(track.iter().map(|point| point.1)), 0.08).unwrap_or(-1.0..1.0);
    let height = palette::height_for((y.end - y.start) / (x.end - x.start)).clamp(420, 1_300);
    let (across, up) = palette::field(height);
    let scale = ((x.end - x.start) / across).max((y.end - y.start) / up);
    let about = |range: &std::ops::Range<f64>, pixels: f64| {
        let middle = 0.5 * (range.start + range.end);
        middle - 0.5 * scale * pixels..middle + 0.5 * scale * pixels
    };
    let (x, y) = (about(&x, across), about(&y, up));
    let line = vec![(0.0, 0.0_f64.min(y.end)), (0.0, (-line_m).max(y.start))];
    palette::picture(height + 70, reach.title(), |area| {
        let x = Axis::plain("bow past the line, in racing direction (m)", x);
        let y = Axis::plain("left of its left end (m)", y);
        let mut chart = palette::panel(&area, x, y, palette::RIGHT)?;
        palette::line(&mut chart, line, Stroke::whole(palette::INK, 8))?;
        palette::line(&mut chart, track.clone(), Stroke::whole(palette::BLUE, 3))?;
        let dots = track.iter().map(|point| Circle::new(*point, 5, palette::BLUE.filled()));
        chart.draw_series(dots).map_err(io::Error::other)?;
        bar(&mut chart, (0.0, place), start.crossing.sd_m, palette::VERMILLION)
    })
}

/// The bow around the start: past the line, and to the left of its left end.
fn near(opinion: &Opinion, start: &Seen, around_s: f64) -> Vec<(f64, f64)> {
    let is_near = |utc_s: f64| (utc_s - start.crossing.at.s).abs() <= around_s;
    let bows = opinion.bows.iter().filter(|bow| is_near(bow.utc_s));
    bows.map(|bow| (bow.past_m, -bow.along_m)).collect()
}

/// Zero and crossings along the heat.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn times(judgement: &Judgement) -> io::Result<String> {
    let opinion = &judgement.opinion;
    let zero_s = opinion.zero.as_ref().map(|zero| zero.at.s);
    let race = &opinion.race;
    palette::picture(460, "The heat in time", |area| {
        let Some(zero_s) = zero_s else { return palette::nothing(&area, "no zero in this record") };
        let moments = race.crossings.iter().map(|seen| seen.crossing.at.s - zero_s);
        let before = judgement.log.settings.gun.signals_s.first().map_or(0.0, |s| -f64::from(*s));
        let range = palette::span_of(moments.chain([before, 10.0]), 0.03).unwrap_or(-300.0..10.0);
        let mut chart =
            palette::panel(&area, Axis::time("race time", range), silent(0.0..3.0), palette::RIGHT)?;
        let thick = Stroke::whole(palette::INK, 5);
        palette::line(&mut chart, vec![(0.0, 0.0), (0.0, 3.0)], thick)?;
        for signal in &judgement.log.settings.gun.signals_s {
            let at = -f64::from(*signal);
            palette::line(&mut chart, vec![(at, 0.0), (at, 3.0)], Stroke::dashed(palette::GREY, 3, 8, 8))?;
        }
        for (number, seen) in race.crossings.iter().enumerate() {
            let at = (seen.crossing.at.s - zero_s, 0.7 + 0.8 * (number % 3) as f64);
            let (word, colour) = named(seen.counted);
            let mark = Circle::new(at, 10, colour.filled());
            chart.draw_series(std::iter::once(mark)).map_err(io::Error::other)?;
            let place = (HPos::Center, VPos::Bottom);
            palette::label(&mut chart, at, (0, -16), place, (word, palette::INK))?;
        }
        Ok(())
    })
}

const fn named(counted: Counted) -> (&'static str, RGBColor) {
    match counted {
        Counted::Start => ("start", palette::VERMILLION),
        Counted::Lap => ("lap", palette::BLUE),
        Counted::Milling => ("milling", palette::GREY),
        Counted::TooSoon => ("too soon", palette::GREY),
        Counted::WrongWay => ("wrong way", palette::GREY),
        Counted::AfterFinish => ("after the finish", palette::GREY),
    }
}
