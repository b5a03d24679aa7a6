//! When each calibration was made, as rows that an official reads (rule K2).
//!
//! Knows the core's settings. Settings and the day of the heat in, rows out.

use firmware::calibration::{Date, TwoPoint};
use firmware::settings::Settings;
use firmware::units::Utc;

use super::settings::Row;
use crate::calibrate::day;

/// Older than this wants doing again (common practice, no source).
const YEAR_DAYS: u16 = 365;

/// The first day on which a receiver could have told a date; before it the day of the heat is not known.
const GPS_BEGINS: i64 = 315_964_800;

/// Each calibration and its day; `on` is the moment of the heat, by which an old one is called old.
#[must_use]
pub fn rows(settings: &Settings, on: Option<Utc>) -> Vec<Row> {
    let seconds = on.map(|utc| utc.as_unix_micros() / 1_000_000).filter(|seconds| *seconds > GPS_BEGINS);
    let on = seconds.and_then(|seconds| u16::try_from(seconds / 86_400).ok());
    let made = &settings.calibrations;
    let mut rows = Vec::new();
    const PROBES: [&str; 4] = [
        "thermocouple 1 calibrated",
        "thermocouple 2 calibrated",
        "thermocouple 3 calibrated",
        "thermocouple 4 calibrated",
    ];
    let fitted = usize::from(settings.engine.probes);
    for (name, points) in PROBES.into_iter().zip(settings.engine.calibrated.0).take(fitted) {
        rows.push((name, points.map_or("never".to_owned(), |points| probe(&points, on))));
    }
    let others = [
        ("tachometers calibrated", made.tach),
        ("antenna's place measured", made.antenna),
        ("thumb measured", made.thumb),
        ("crystal measured", made.crystal),
    ];
    rows.extend(others.map(|(name, date)| (name, date.map_or("never".to_owned(), |date| aged(date, on)))));
    rows
}

fn probe(points: &TwoPoint, on: Option<u16>) -> String {
    let degrees = |value: firmware::units::MilliCelsius| f64::from(value.as_milli()) / 1e3;
    format!(
        "{}: {:.2} in ice, {:.2} in water that boils at {:.2} degrees",
        aged(points.made, on),
        degrees(points.ice),
        degrees(points.boiling),
        degrees(points.boils_at)
    )
}

fn aged(made: Date, on: Option<u16>) -> String {
    let is_old = on.and_then(|on| on.checked_sub(made.0)).is_some_and(|days| days > YEAR_DAYS);
    let is_later = on.is_some_and(|on| made.0 > on);
    let word = match (is_old, is_later) {
        (true, _) => ", MORE THAN A YEAR BEFORE",
        (_, true) => ", AFTER THIS HEAT",
        _ => "",
    };
    day(made) + word
}

#[cfg(test)]
mod tests {
    use super::*;
    use firmware::units::MilliCelsius;

    #[test]
    fn a_record_s_settings_tell_when_each_calibration_was_made() {
        let mut settings = Settings::bare();
        let celsius = MilliCelsius::from_milli;
        let (ice, boiling, boils_at) = (celsius(600), celsius(99_100), celsius(99_600));
        settings.engine.calibrated.0[0] = Some(TwoPoint { ice, boiling, boils_at, made: Date(22_416) });
        settings.calibrations.thumb = Some(Date(22_000));
        settings.calibrations.crystal = Some(Date(22_500));
        let on = Utc::from_unix_micros(22_420 * 86_400_000_000);
        let rows = rows(&settings, Some(on));
        let of = |name: &str| rows.iter().find(|row| row.0.starts_with(name)).unwrap().1.clone();
        assert_eq!(
            of("thermocouple 1"),
            "2031-05-17: 0.60 in ice, 99.10 in water that boils at 99.60 degrees"
        );
        assert_eq!(of("thumb"), "2030-03-27, MORE THAN A YEAR BEFORE");
        assert_eq!(of("crystal"), "2031-08-09, AFTER THIS HEAT");
        assert_eq!(of("antenna"), "never");
        assert_eq!(rows.iter().filter(|row| row.0.starts_with("thermocouple")).count(), 1, "one is fitted");
    }
}
