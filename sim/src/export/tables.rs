//! Two tables: every fix with the engine beside it, and every decision. Units stand in the headers.
//!
//! Source: RFC 4180, "Common Format and MIME Type for Comma-Separated Values (CSV) Files": a header line, lines that end
//! in CR LF, quotes where they are needed. An empty cell means not known.
//!
//! A heat in, text out.

use csv::{Terminator, Writer, WriterBuilder};
use firmware::gnss::calendar::rfc3339;
use firmware::output::Output;
use firmware::run_in::Advice;
use firmware::units::{Span, Utc};

use super::{Event, Exported, Point, course, degrees, metres_a_second, seconds};
use crate::words;

const TRACK: [&str; 11] = [
    "utc",
    "race_time_s",
    "phase",
    "lat_deg",
    "lon_deg",
    "speed_m_s",
    "course_deg",
    "valid",
    "egt_degC",
    "n1_pct",
    "n2_pct",
];

const EVENTS: [&str; 11] = [
    "utc",
    "race_time_s",
    "kind",
    "says",
    "lat_deg",
    "lon_deg",
    "margin_s",
    "sigma_s",
    "lap",
    "lap_time_s",
    "lap_speed_m_s",
];

fn table<const N: usize>(header: [&str; N], rows: impl Iterator<Item = [String; N]>) -> csv::Result<Vec<u8>> {
    let mut pen: Writer<Vec<u8>> = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    pen.write_record(header)?;
    for row in rows {
        pen.write_record(&row)?;
    }
    pen.into_inner().map_err(|error| csv::Error::from(error.into_error()))
}

/// A row for each fix.
///
/// # Errors
/// What the library could not write; into memory, nothing.
pub fn track(heat: &Exported) -> csv::Result<Vec<u8>> {
    table(TRACK, heat.points.iter().map(track_row))
}

fn track_row(point: &Point) -> [String; 11] {
    let (lat, lon) = degrees(point.position);
    let gauges = &point.gauges;
    let egt = words::celsius(gauges.egt).map(|value| format!("{value:.3}"));
    let shaft = |value| words::percent(value).map(|value| format!("{value:.2}")).unwrap_or_default();
    [
        stamp(Some(point.utc)),
        point.race.map(seconds).unwrap_or_default(),
        words::kebab(point.phase),
        lat,
        lon,
        metres_a_second(point.speed),
        course(point.course),
        point.valid.to_string(),
        egt.unwrap_or_default(),
        shaft(gauges.n1),
        shaft(gauges.n2),
    ]
}

/// A row for each decision that has a sentence of its own.
///
/// # Errors
/// What the library could not write; into memory, nothing.
pub fn events(heat: &Exported) -> csv::Result<Vec<u8>> {
    let mut advised = None;
    let is_news = |event: &&Event| match event.output {
        Output::Advice { word, .. } => advised.replace(word) != Some(word),
        _ => true,
    };
    table(EVENTS, heat.events.iter().filter(is_news).map(event_row))
}

fn event_row(event: &Event) -> [String; 11] {
    let (lat, lon) = event.position.map(degrees).unwrap_or_default();
    let [margin, sigma, lap, time, speed] = figures(&event.output);
    let race = event.race.map(seconds).unwrap_or_default();
    [
        stamp(event.utc),
        race,
        kind(&event.output),
        event.says.clone(),
        lat,
        lon,
        margin,
        sigma,
        lap,
        time,
        speed,
    ]
}

/// Margin, deviation, lap, its time, its speed.
fn figures(output: &Output) -> [String; 5] {
    let none = String::new;
    let two = |margin: Span, sigma: Span| [seconds(margin), seconds(sigma), none(), none(), none()];
    match *output {
        Output::Call { margin, sigma, .. } => two(margin, sigma),
        Output::Advice { word: Advice::Hold | Advice::Go | Advice::Late, margin, sigma, .. } => {
            two(margin, sigma)
        }
        Output::Zero { sigma, .. } | Output::Clock { sigma, .. } | Output::Crossing { sigma, .. } => {
            [none(), seconds(sigma), none(), none(), none()]
        }
        Output::Lap { lap, time, speed, sigma } => {
            [none(), seconds(sigma), lap.to_string(), seconds(time), metres_a_second(speed)]
        }
        Output::Finish { laps, time, .. } => [none(), none(), laps.to_string(), seconds(time), none()],
        _ => [none(), none(), none(), none(), none()],
    }
}

/// The variant's name, as the JSON lines have it.
fn kind(output: &Output) -> String {
    crate::json::kind(output).into()
}

fn stamp(utc: Option<Utc>) -> String {
    utc.map(|utc| rfc3339(utc).to_string()).unwrap_or_default()
}
