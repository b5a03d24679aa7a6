//! Ranges and bearings: marks told from points that are known, as a person with a rangefinder and a compass measures them.
//!
//! ```toml
//! declination_deg = -11.5          # where bearings are magnetic: east is positive
//!
//! [[known]]
//! name = "flagpole"
//! at = [45.0005, -29.9990]
//! sd_m = 0.3
//!
//! [[mark]]
//! name = "line left"
//! from = "flagpole"
//! distance = "96.4 m"
//! bearing_true_deg = 234.9         # or bearing_magnetic_deg
//! ```
//!
//! Knows the scenario's reader of TOML, which points at what is wrong, and the ground. Text in, named places out.

use std::io::IsTerminal;
use std::path::Path;
use std::sync::Arc;

use firmware::gnss::Position;

use super::{Faults, checked};
use crate::scenario::keys::{Key, Otherwise, Takes};
use crate::scenario::reader::Reading;
use crate::scenario::{Report, Source};
use crate::survey::ground::{Point, degrees, from_here};
use crate::survey::length::positive;
use crate::survey::mark::{Placed, Spread};

const fn key(path: &'static str, takes: Takes, otherwise: Otherwise, why: &'static str) -> Key {
    Key { path, takes, otherwise, why }
}

const BEARING: Takes = Takes::Number { unit: "degrees", from: "0", to: "360" };
const SD_M: Takes = Takes::Number { unit: "m", from: "0.001", to: "1000" };
const NONE: Otherwise = Otherwise::Means("it is not known");

/// Every key of such a file.
#[rustfmt::skip]
const KEYS: &[Key] = &[
    key("declination_deg", Takes::Number { unit: "degrees", from: "-180", to: "180" }, NONE,
        "Magnetic north from true north, east positive, for place and year: from a chart, or a national survey's page."),
    key("known[].name", Takes::Text, Otherwise::NeededInItsTable("\"flagpole\""), "What the point is called."),
    key("known[].at", Takes::Place, Otherwise::NeededInItsTable("[45.0005, -29.999]"), "Where it is."),
    key("known[].sd_m", SD_M, NONE, "How well that is known: one standard deviation along any direction."),
    key("mark[].name", Takes::Text, Otherwise::NeededInItsTable("\"line left\""), "What the mark is for."),
    key("mark[].at", Takes::Place, Otherwise::Means("`from` says"), "Where it is, if that is known."),
    key("mark[].sd_m", SD_M, NONE, "How well that is known."),
    key("mark[].from", Takes::Text, Otherwise::Means("`at` says"), "The known point, or an earlier mark, that was measured from."),
    key("mark[].distance", Takes::Text, Otherwise::Means("`at` says"), "How far it is from there, with its unit."),
    key("mark[].bearing_true_deg", BEARING, Otherwise::Means("`bearing_magnetic_deg` says"), "In which direction, from true north."),
    key("mark[].bearing_magnetic_deg", BEARING, Otherwise::Means("`bearing_true_deg` says"), "From magnetic north."),
    key("mark[].distance_sd", Takes::Text, NONE, "One standard deviation of the distance, with its unit."),
    key("mark[].bearing_sd_deg", Takes::Number { unit: "degrees", from: "0.001", to: "30" }, NONE, "One standard deviation of the bearing."),
    key("mark[].radius", Takes::Text, NONE, "The radius of the turn whose centre it is, with its unit."),
];

/// The named places of a file of ranges and bearings.
pub fn places(path: &Path, text: &str) -> Result<Vec<Placed>, Faults> {
    let source = Arc::new(Source { name: path.display().to_string(), text: text.to_owned() });
    let mut reading = Reading::new(&source, KEYS);
    let mut known = Vec::new();
    for row in reading.rows("known") {
        let sd: Option<f64> = reading.get(&format!("{row}.sd_m"));
        if let (Some(name), Some(at)) =
            (reading.get::<String>(&format!("{row}.name")), reading.get(&format!("{row}.at")))
        {
            known.push((name, at, sd.map(Spread::round)));
        }
    }
    let mut places = Vec::new();
    for row in reading.rows("mark") {
        let Some(name) = reading.get::<String>(&format!("{row}.name")) else { continue };
        match mark(&reading, &row, &known) {
            Ok((at, spread, radius_m)) => {
                known.push((name.clone(), at, spread));
                places.push(Placed { name, line: None, at, spread, radius_m });
            }
            Err(Wrong { key, what, right }) => reading.blame(&format!("{row}.{key}"), what, right),
        }
    }
    if reading.is_right() && places.is_empty() {
        reading.blame(
            "",
            "there is no mark in this file",
            "write [[mark]] for each mark; see docs/survey.md",
        );
    }
    let report = Report::unless_right(places, reading.take_mistakes());
    report.map_err(|report| vec![report.render(std::io::stderr().is_terminal())])
}

type Known = (String, Position, Option<Spread>);

struct Wrong {
    key: &'static str,
    what: String,
    right: String,
}

fn wrong(key: &'static str, what: impl Into<String>, right: impl Into<String>) -> Wrong {
    Wrong { key, what: what.into(), right: right.into() }
}

fn mark(
    reading: &Reading,
    row: &str,
    known: &[Known],
) -> Result<(Position, Option<Spread>, Option<f64>), Wrong> {
    let length = |key: &'static str| match reading.get::<String>(&format!("{row}.{key}")) {
        Some(text) => positive(&text).map(Some).map_err(|what| wrong(key, what, "such as: \"96.4 m\"")),
        None => Ok(None),
    };
    let radius = length("radius")?;
    let sd = reading.get::<f64>(&format!("{row}.sd_m")).map(Spread::round);
    let (at, from) =
        (reading.get::<Position>(&format!("{row}.at")), reading.get::<String>(&format!("{row}.from")));
    let from = match (at, from) {
        (Some(at), None) => return Ok((at, sd, radius)),
        (None, Some(from)) => from,
        (Some(_), Some(_)) => {
            return Err(wrong("at", "both `at` and `from` say where it is", "take one of them out"));
        }
        (None, None) => {
            return Err(wrong(
                "name",
                "nothing says where it is",
                "give `at`, or `from` with distance and bearing",
            ));
        }
    };
    let Some((_, here, here_spread)) = known.iter().find(|(name, _, _)| *name == from) else {
        let right = "name a [[known]] point, or a [[mark]] that stands earlier in the file";
        return Err(wrong("from", format!("`{from}` is not known here"), right));
    };
    let Some(distance) = length("distance")? else {
        return Err(wrong("from", "`distance` is missing", "write: distance = \"96.4 m\""));
    };
    let bearing = bearing(reading, row)?;
    let at = from_here(*here, bearing, distance);
    let (lat, lon) = degrees(at);
    checked("here", lat, lon)
        .map_err(|_| wrong("distance", "it leads off the globe", "see distance and bearing"))?;
    let (distance_sd, bearing_sd) =
        (length("distance_sd")?, reading.get::<f64>(&format!("{row}.bearing_sd_deg")));
    let spread = sd.or_else(|| {
        let (sin, cos) = bearing.to_radians().sin_cos();
        let across = bearing_sd?.to_radians() * distance;
        let own = Spread::along(Point { east: sin, north: cos }, distance_sd?, across);
        Some(own.with(here_spread.unwrap_or_default()))
    });
    Ok((at, spread, radius))
}

/// The true bearing.
fn bearing(reading: &Reading, row: &str) -> Result<f64, Wrong> {
    let of = |key: &str| reading.get::<f64>(&format!("{row}.{key}"));
    match (of("bearing_true_deg"), of("bearing_magnetic_deg"), reading.get::<f64>("declination_deg")) {
        (Some(bearing), None, _) => Ok(bearing),
        (None, Some(bearing), Some(declination)) => Ok(bearing + declination),
        (None, Some(_), None) => Err(wrong(
            "bearing_magnetic_deg",
            "a magnetic bearing without a declination",
            "write at the top of the file, east positive: declination_deg = -11.5",
        )),
        (Some(_), Some(_), _) => {
            Err(wrong("bearing_true_deg", "both a true and a magnetic bearing", "take one of them out"))
        }
        (None, None, _) => Err(wrong(
            "from",
            "the bearing is missing",
            "write: bearing_true_deg = 234.9, or bearing_magnetic_deg",
        )),
    }
}
