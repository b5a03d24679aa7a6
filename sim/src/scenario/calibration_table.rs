//! The `[calibration]` table of a settings file: what was measured against something that is trusted, and when.
//!
//! `gunline calibrate` writes it; a person may, too. Knows the keys, the reader and the core's settings. Checked values
//! in, settings out.

use firmware::calibration::{Calibrations, Date, TwoPoint};
use firmware::engine::PROBES_MAX;
use firmware::settings::Settings;
use firmware::units::MilliCelsius;

use super::fields::{Fields, Writing};
use super::reader::Reading;
use super::value::IntoValue;

/// Its rows, one for each thermocouple.
const PROBES: &str = "calibration.probe";

/// Puts the file's figures into the settings.
pub fn read(reading: &Reading, all: &mut Settings) {
    days(reading, &mut all.calibrations);
    for row in reading.rows(PROBES) {
        let number: Option<u8> = reading.get(&format!("{row}.number"));
        let place = number.and_then(|number| usize::from(number).checked_sub(1));
        if let Some(probe) = place.and_then(|place| all.engine.calibrated.0.get_mut(place)) {
            *probe = points(reading, &row);
        }
    }
}

/// The settings as a file writes them.
pub fn write(writing: &Writing, all: &Settings) {
    days(writing, &mut all.calibrations.clone());
    let rows = all.engine.calibrated.0.iter().enumerate();
    for (row, (place, points)) in rows.filter_map(|(place, points)| Some((place, (*points)?))).enumerate() {
        let number = u8::try_from(place + 1).unwrap_or_default();
        let values = [
            ("number", number.to_value()),
            ("ice_c", points.ice.to_value()),
            ("boiling_c", points.boiling.to_value()),
            ("boils_at_c", points.boils_at.to_value()),
            ("made", points.made.to_value()),
        ];
        for (key, value) in values {
            value.into_iter().for_each(|value| writing.put(format!("{PROBES}[{row}].{key}"), value));
        }
    }
}

/// The days.
fn days(reading: &impl Fields, made: &mut Calibrations) {
    reading.set("calibration.tach_made", &mut made.tach);
    reading.set("calibration.antenna_made", &mut made.antenna);
    reading.set("calibration.thumb_made", &mut made.thumb);
    reading.set("calibration.crystal_made", &mut made.crystal);
}

fn points(reading: &Reading, row: &str) -> Option<TwoPoint> {
    let degrees = |key: &str| reading.get::<MilliCelsius>(&format!("{row}.{key}"));
    let made: Date = reading.get(&format!("{row}.made"))?;
    let (ice, boiling) = (degrees("ice_c")?, degrees("boiling_c")?);
    Some(TwoPoint { ice, boiling, boils_at: degrees("boils_at_c")?, made })
}

/// Each probe once, and with figures that a working one may have.
pub fn check(reading: &mut Reading) {
    let mut seen = [false; PROBES_MAX];
    for row in reading.rows(PROBES) {
        let path = format!("{row}.number");
        let number = reading.get::<u8>(&path).map(usize::from);
        let place = number.and_then(|number| seen.get_mut(number.checked_sub(1)?));
        if place.is_some_and(|seen| std::mem::replace(seen, true)) {
            reading.blame(
                &path,
                "`calibration.probe.number` stands twice",
                "one [[calibration.probe]] for each",
            );
        }
        if points(reading, &row).is_some_and(|points| !points.is_sound()) {
            reading.blame(
                &format!("{row}.ice_c"),
                "`calibration.probe` is further from the truth than a working probe can be",
                "ice within 12.5 degrees of 0, boiling within 12.5 of boils_at_c: measure again",
            );
        }
    }
}
