//! The look of every picture: paper, ink, colours, panels, legends and labels.
//!
//! Colours are those of Okabe and Ito's colour universal design palette, told apart by people of any colour
//! vision; each also has its own width, dash or mark, so that a print in grey still reads. Pictures are drawn
//! 1,600 units wide and shown at half of that or less; sizes here are for the large one.
//!
//! Knows the drawing library and no heat.

use std::io;
use std::ops::Range;

use plotters::coord::Shift;
use plotters::coord::ranged1d::{KeyPointHint, NoDefaultFormatting, Ranged, ValueFormatter};
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

/// Text, axes.
pub const INK: RGBColor = RGBColor(34, 34, 34);
/// What stands behind.
pub const GREY: RGBColor = RGBColor(130, 130, 130);
/// Lines of the grid.
pub const FAINT: RGBColor = RGBColor(222, 222, 222);
/// The main thing.
pub const BLUE: RGBColor = RGBColor(0, 114, 178);
/// Limits and alarms.
pub const VERMILLION: RGBColor = RGBColor(213, 94, 0);
/// The window before zero.
pub const ORANGE: RGBColor = RGBColor(230, 159, 0);
/// A second thing beside the main one.
pub const GREEN: RGBColor = RGBColor(0, 158, 115);
/// A third.
pub const PURPLE: RGBColor = RGBColor(204, 121, 167);

/// How wide every picture is.
pub const WIDTH: u32 = 1_600;

/// Letters on axes and labels.
pub const SMALL: f64 = 31.0;
/// Letters of a picture's title.
pub const LARGE: f64 = 42.0;

/// Room at a panel's left edge, then for its numbers and their title; below it for the same.
const EDGE: u32 = 24;
const LEFT: u32 = 124;
const BELOW: u32 = 84;
/// Room above, and at the right: for half a number, or for labels.
const ABOVE: u32 = 16;
/// Room at the right of a panel that has no labels there.
pub const RIGHT: u32 = 44;
/// Room at the right of a panel for labels.
pub const RIGHT_LABELS: u32 = 330;
/// From one label to the next.
const LABEL_PITCH: i32 = 34;

/// A piece of paper.
pub type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;

/// A panel with both its axes.
pub type Chart<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<Axis, Axis>>;

/// An axis: what it shows, from where to where, and where the numbers stand.
pub struct Axis {
    /// What it shows, with its unit.
    pub title: &'static str,
    /// From where to where.
    pub range: Range<f64>,
    /// Where the numbers stand.
    pub ticks: Vec<f64>,
    /// How a number reads.
    pub label: fn(&f64) -> String,
}

impl Axis {
    /// An axis of plain numbers.
    pub fn plain(title: &'static str, range: Range<f64>) -> Self {
        let ticks = ticks(&range, step(&range, 9.0));
        Self { title, range, ticks, label: |number| plain(*number) }
    }

    /// An axis of race time in seconds, read as minutes and seconds.
    pub fn time(title: &'static str, range: Range<f64>) -> Self {
        const STEPS: [f64; 12] = [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0];
        let wide = range.end - range.start;
        let step = STEPS.into_iter().find(|step| wide / step <= 11.0).unwrap_or(600.0);
        let label = if step < 1.0 { |s: &f64| tenths(*s) } else { |s: &f64| minutes(*s) };
        Self { title, ticks: ticks(&range, step), range, label }
    }
}

impl Ranged for Axis {
    type ValueType = f64;
    type FormatOption = NoDefaultFormatting;

    fn map(&self, value: &f64, (low, high): (i32, i32)) -> i32 {
        let share = (value - self.range.start) / (self.range.end - self.range.start);
        low + (share * f64::from(high - low)).round() as i32
    }

    fn key_points<Hint: KeyPointHint>(&self, hint: Hint) -> Vec<f64> {
        if hint.weight().allow_light_points() { Vec::new() } else { self.ticks.clone() }
    }

    fn range(&self) -> Range<f64> {
        self.range.clone()
    }
}

impl ValueFormatter<f64> for Axis {
    fn format(value: &f64) -> String {
        plain(*value)
    }
}

fn plain(number: f64) -> String {
    if number.fract().abs() < 1e-6 { format!("{number:.0}") } else { format!("{number:.1}") }
}

/// `-0.2`, `0`, `+0.2`.
fn tenths(seconds: f64) -> String {
    if seconds.abs() < 0.05 { "0".into() } else { format!("{seconds:+.1}") }
}

/// `-4:30`, `0:00`, `1:05`.
fn minutes(seconds: f64) -> String {
    let (sign, size) = (if seconds < -0.5 { "-" } else { "" }, seconds.abs().round() as u64);
    format!("{sign}{}:{:02}", size / 60, size % 60)
}

/// The step of 1, 2 or 5 times a power of ten that gives no more than `most` numbers.
fn step(range: &Range<f64>, most: f64) -> f64 {
    let mut step = 0.1;
    for factor in [2.0, 2.5, 2.0].into_iter().cycle().take(24) {
        if (range.end - range.start) / step <= most {
            break;
        }
        step *= factor;
    }
    step
}

fn ticks(range: &Range<f64>, step: f64) -> Vec<f64> {
    let (first, last) = ((range.start / step).ceil() as i64, (range.end / step).floor() as i64);
    (first..=last).map(|k| k as f64 * step).collect()
}

/// The range of some numbers with a little room at both ends; `None` without numbers.
pub fn span_of(numbers: impl Iterator<Item = f64>, room: f64) -> Option<Range<f64>> {
    let (low, high) = numbers.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(x), b.max(x)));
    let room = room * (high - low).max(1.0);
    (low <= high).then_some(low - room..high + room)
}

/// Draws a picture of so many rows of paper: SVG text.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn picture(
    height: u32,
    title: &str,
    draw: impl for<'a> FnOnce(Area<'a>) -> io::Result<()>,
) -> io::Result<String> {
    let mut svg = String::new();
    let area = SVGBackend::with_string(&mut svg, (WIDTH, height)).into_drawing_area();
    area.fill(&WHITE).map_err(io::Error::other)?;
    let style = text(LARGE, INK).pos(Pos::new(HPos::Left, VPos::Top));
    area.draw(&Text::new(title.to_string(), (24, 18), style)).map_err(io::Error::other)?;
    let (_, below) = area.split_vertically(70);
    draw(below)?;
    drop(area);
    Ok(svg)
}

/// A panel: axes, grid and numbers, ready to be drawn in, with so much room at the `right`.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn panel<'a, 'b>(area: &'a Area<'b>, x: Axis, y: Axis, right: u32) -> io::Result<Chart<'a, 'b>> {
    let (x_title, y_title) = (x.title, y.title);
    let (x_label, y_label) = (x.label, y.label);
    let mut chart = ChartBuilder::on(area)
        .margin_left(EDGE)
        .margin_right(right)
        .margin_top(ABOVE)
        .set_label_area_size(LabelAreaPosition::Left, LEFT)
        .set_label_area_size(LabelAreaPosition::Bottom, BELOW)
        .build_cartesian_2d(x, y)
        .map_err(io::Error::other)?;
    chart
        .configure_mesh()
        .bold_line_style(FAINT.stroke_width(2))
        .light_line_style(TRANSPARENT)
        .axis_style(GREY.stroke_width(2))
        .x_label_formatter(&x_label)
        .y_label_formatter(&y_label)
        .x_desc(x_title)
        .y_desc(y_title)
        .label_style(text(SMALL, INK))
        .axis_desc_style(text(SMALL, INK))
        .draw()
        .map_err(io::Error::other)?;
    Ok(chart)
}

/// The size of the field that a panel of full width and such a height has for its lines.
pub const fn field(height: u32) -> (f64, f64) {
    ((WIDTH - EDGE - LEFT - RIGHT) as f64, (height - BELOW - ABOVE) as f64)
}

/// The height of a panel of full width whose field is so many times as high as wide.
pub fn height_for(ratio: f64) -> u32 {
    (field(BELOW + ABOVE).0 * ratio) as u32 + BELOW + ABOVE
}

/// Letters of a size in a colour.
pub fn text(size: f64, colour: RGBColor) -> TextStyle<'static> {
    ("sans-serif", size).into_font().color(&colour)
}

/// How a line is drawn.
#[derive(Clone, Copy)]
pub struct Stroke {
    /// Its colour.
    pub colour: RGBColor,
    /// Its width.
    pub width: u32,
    /// Lengths of a dash and of the gap after it; `None` for a whole line.
    pub dash: Option<(i32, i32)>,
}

impl Stroke {
    /// A whole line.
    pub const fn whole(colour: RGBColor, width: u32) -> Self {
        Self { colour, width, dash: None }
    }

    /// A dashed line.
    pub const fn dashed(colour: RGBColor, width: u32, dash: i32, gap: i32) -> Self {
        Self { colour, width, dash: Some((dash, gap)) }
    }

    fn style(self) -> ShapeStyle {
        self.colour.stroke_width(self.width)
    }
}

/// Draws a line through points.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn line(chart: &mut Chart, points: Vec<(f64, f64)>, stroke: Stroke) -> io::Result<()> {
    let drawn = match stroke.dash {
        None => chart.draw_series(LineSeries::new(points, stroke.style())).map(|_| ()),
        Some((dash, gap)) => {
            chart.draw_series(DashedLineSeries::new(points, dash, gap, stroke.style())).map(|_| ())
        }
    };
    drawn.map_err(io::Error::other)
}

/// Draws an arrow from a point, so far across and up.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn arrow(chart: &mut Chart, (x, y): (f64, f64), (across, up): (f64, f64)) -> io::Result<()> {
    let on = |ahead: f64, aside: f64| (x + ahead * across - aside * up, y + ahead * up + aside * across);
    line(chart, vec![on(0.0, 0.0), on(1.0, 0.0)], Stroke::whole(INK, 4))?;
    line(chart, vec![on(0.75, 0.14), on(1.0, 0.0), on(0.75, -0.14)], Stroke::whole(INK, 4))
}

/// Writes a label beside a point; `across` and `down` move it, in units of paper.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn label(
    chart: &mut Chart,
    at: (f64, f64),
    (across, down): (i32, i32),
    (horizontal, vertical): (HPos, VPos),
    (words, colour): (&str, RGBColor),
) -> io::Result<()> {
    let style = text(SMALL, colour).pos(Pos::new(horizontal, vertical));
    let element = EmptyElement::at(at) + Text::new(words.to_string(), (across, down), style);
    chart.draw_series(std::iter::once(element)).map(|_| ()).map_err(io::Error::other)
}

/// Writes a label at the right of a panel for each value, led to it by its stroke; none covers another.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn labels_at_right(area: &Area, chart: &Chart, labels: &mut [(f64, String, Stroke)]) -> io::Result<()> {
    labels.sort_by(|a, b| b.0.total_cmp(&a.0));
    let base = area.get_base_pixel();
    let end = chart.x_range().end;
    let mut lowest = i32::MIN;
    let wanted = labels.iter().map(|(value, ..)| chart.backend_coord(&(end, *value)).1 - base.1);
    let crowd = (labels.len() as i32 - 1) * LABEL_PITCH / 2;
    let shift = wanted.clone().min().map_or(0, |top| crowd.min(top - LABEL_PITCH / 2));
    for ((_, words, stroke), at) in labels.iter().zip(wanted.collect::<Vec<_>>()) {
        let y = (at - shift).max(lowest.saturating_add(LABEL_PITCH));
        lowest = y;
        let x = chart.backend_coord(&(end, 0.0)).0 - base.0;
        let leader = PathElement::new(vec![(x, at), (x + 30, y), (x + 44, y)], stroke.colour.stroke_width(2));
        area.draw(&leader).map_err(io::Error::other)?;
        let style = text(SMALL, INK).pos(Pos::new(HPos::Left, VPos::Center));
        area.draw(&Text::new(words.clone(), (x + 52, y), style)).map_err(io::Error::other)?;
    }
    Ok(())
}

/// Draws a row of strokes and what they mean.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn legend(area: &Area, (mut x, y): (i32, i32), entries: &[(&str, Stroke)]) -> io::Result<()> {
    for (words, stroke) in entries {
        let swatch: Vec<_> = match stroke.dash {
            None => vec![(0, 72)],
            Some((dash, gap)) => {
                (0..72).step_by((dash + gap).max(1) as usize).map(|a| (a, (a + dash).min(72))).collect()
            }
        };
        for (from, to) in swatch {
            let path = PathElement::new(vec![(x + from, y), (x + to, y)], stroke.style());
            area.draw(&path).map_err(io::Error::other)?;
        }
        let style = text(SMALL, INK).pos(Pos::new(HPos::Left, VPos::Center));
        area.draw(&Text::new((*words).to_string(), (x + 84, y), style)).map_err(io::Error::other)?;
        x += 84 + 46 + (words.chars().count() as f64 * SMALL * 0.45) as i32;
    }
    Ok(())
}

/// Says on an empty piece of paper why there is no picture.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn nothing(area: &Area, why: &str) -> io::Result<()> {
    let (width, height) = area.dim_in_pixel();
    let style = text(LARGE, GREY).pos(Pos::new(HPos::Center, VPos::Center));
    let middle = (width as i32 / 2, height as i32 / 2);
    area.draw(&Text::new(why.to_string(), middle, style)).map_err(io::Error::other)
}
