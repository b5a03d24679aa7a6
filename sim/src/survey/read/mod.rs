//! Files of marks: recognised by what is in them, whatever they are called.
//!
//! GPX waypoints, KML placemarks and GeoJSON points as map programs write them; a board's journal; and a TOML of ranges and
//! bearings. Bytes in, named places out, or everything that is wrong, in words.

mod bearings;
mod figures;
mod geo_json;
mod recorded;
mod xml;

use std::path::Path;

use super::mark::{Mark, Placed};
use super::role::{Named, named};

/// Everything that is wrong with a file, each in words of its own.
pub type Faults = Vec<String>;

/// One fault: where, what is wrong, and what would be right.
#[must_use]
pub fn fault(place: &str, what: &str, right: &str) -> String {
    format!("error: {place}: {what}\n  help: {right}")
}

/// A name and the role that it stands for: `--role 1="line left"`.
pub type Renamed = (String, String);

/// The marks of a file.
///
/// # Errors
/// Everything that is wrong with it.
pub fn marks(path: &Path, bytes: &[u8], roles: &[Renamed]) -> Result<Vec<Mark>, Faults> {
    let file = path.display().to_string();
    let placed = places(path, &file, bytes)?;
    let mut faults = Faults::new();
    let mut marks = Vec::new();
    for place in placed {
        let called = roles.iter().find(|(name, _)| *name == place.name).map_or(&place.name, |(_, role)| role);
        match named(called) {
            Named::Role(role) => marks.push(Mark {
                role,
                name: place.name,
                file: file.clone(),
                at: place.at,
                spread: place.spread,
                radius_m: place.radius_m,
            }),
            Named::Note => {}
            Named::Unknown(right) => {
                // A bare number is a board's, or a handheld receiver's.
                let is_number = called.bytes().any(|byte| byte.is_ascii_digit()) && called.len() <= 4;
                let right = if is_number {
                    format!("say what it is for: --role {called}=\"line left\". {right}")
                } else {
                    right
                };
                let at = place.line.map_or_else(|| file.clone(), |line| format!("{file}:{line}"));
                faults.push(fault(&at, &format!("`{called}` is not what a mark is called"), &right));
            }
        }
    }
    if faults.is_empty() { Ok(marks) } else { Err(faults) }
}

fn places(path: &Path, file: &str, bytes: &[u8]) -> Result<Vec<Placed>, Faults> {
    if bytes.starts_with(b"PK") {
        let right = "a KMZ is a packed KML: unpack it (it is a ZIP) and give the KML in it";
        return Err(vec![fault(file, "this file is packed", right)]);
    }
    if recorded::is_journal(bytes) {
        return recorded::places(file, bytes);
    }
    let right = "give GPX, KML, GeoJSON, a board's journal, or a TOML of ranges and bearings";
    let Ok(text) = std::str::from_utf8(bytes) else {
        return Err(vec![fault(file, "this is no text in UTF-8, and no journal", right)]);
    };
    let text = text.trim_start_matches('\u{feff}');
    match text.trim_start().chars().next() {
        None => Err(vec![fault(file, "the file is empty", "give a file with marks in it")]),
        Some('<') => xml::places(file, text),
        Some('{') => geo_json::places(file, text),
        // By its name it may be a TOML with a slip in it, whose line is worth naming; any other text is not one of ours.
        Some(_)
            if path.extension().is_none_or(|kind| kind != "toml") && text.parse::<toml::Table>().is_err() =>
        {
            Err(vec![fault(file, "no marks are written like this", right)])
        }
        Some(_) => bearings::places(path, text),
    }
}

/// Degrees that are on the globe, as a position.
fn checked(place: &str, lat: f64, lon: f64) -> Result<firmware::gnss::Position, String> {
    if lat.is_finite() && lon.is_finite() && lat.abs() <= 85.0 && lon.abs() <= 180.0 {
        return Ok(super::ground::position(lat, lon));
    }
    let what = format!("latitude {lat}, longitude {lon} is no place for a course");
    Err(fault(place, &what, "latitude is -85 to 85, longitude -180 to 180 degrees; are they changed about?"))
}

#[cfg(test)]
mod tests;
