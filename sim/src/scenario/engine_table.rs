//! The `[engine]` table of a settings file: sensors, pickups, and whose limits they are held against.
//!
//! Limits are all the owner's or all the demonstration's. A file that mixes them is wrong: nobody could tell at
//! a glance which figures to trust.
//!
//! Knows the keys, the reader and the core's engine settings. Checked values in, engine settings out.

use firmware::engine::limits::{Limit, Limits, ROWS_MAX};
use firmware::engine::tach::FASTEST;
use firmware::engine::watch::WatchSettings;
use firmware::engine::{EngineFault, EngineRule, EngineSettings};
use firmware::units::MilliCelsius;

use super::fields::{Fields, Writing};
use super::keys::settings::{LIMITS, SCALES};
use super::reader::Reading;
use super::start_table;
use super::value::{FromValue, IntoValue};

/// Puts the file's figures into the engine's settings.
pub fn read(reading: &Reading, engine: &mut EngineSettings) {
    fields(reading, engine);
    limits(reading, "engine.egt_starting", "c", &mut engine.egt_starting);
    limits(reading, "engine.egt_running", "c", &mut engine.egt_running);
    limits(reading, "engine.n1", "pct", &mut engine.n1);
    limits(reading, "engine.n2", "pct", &mut engine.n2);
    reading.set("engine.n2_overspeed_pct", &mut engine.n2_overspeed);
}

/// The engine's settings as a file writes them; limits only when they are the owner's.
pub fn write(writing: &Writing, engine: &EngineSettings) {
    fields(writing, &mut engine.clone());
    if !engine.demonstration {
        write_limits(writing, "engine.egt_starting", "c", &engine.egt_starting);
        write_limits(writing, "engine.egt_running", "c", &engine.egt_running);
        write_limits(writing, "engine.n1", "pct", &engine.n1);
        write_limits(writing, "engine.n2", "pct", &engine.n2);
    }
    if engine.n2_overspeed != EngineSettings::demonstration().n2_overspeed || !engine.demonstration {
        writing.set("engine.n2_overspeed_pct", &mut engine.n2_overspeed.clone());
    }
}

fn write_limits<T: IntoValue>(writing: &Writing, path: &str, unit: &str, limits: &Limits<T>) {
    for (row, limit) in limits.rows.iter().enumerate() {
        let values = [
            (format!("above_{unit}"), limit.threshold.to_value()),
            ("allowed_s".to_owned(), limit.allowed.to_value()),
        ];
        for (key, value) in values {
            value.into_iter().for_each(|value| writing.put(format!("{path}[{row}].{key}"), value));
        }
    }
}

/// What is a field for each key.
fn fields(reading: &impl Fields, engine: &mut EngineSettings) {
    reading.set("engine.demonstration", &mut engine.demonstration);
    reading.set("engine.probes", &mut engine.probes);
    reading.set("engine.egt_stale_after_s", &mut engine.egt_stale_after);
    reading.set("engine.faults_to_believe", &mut engine.faults_to_believe);
    reading.set("engine.lit_above_c", &mut engine.lit_above);
    reading.set("engine.cold_below_c", &mut engine.cold_below);
    reading.set("engine.self_sustaining_pct", &mut engine.self_sustaining);
    reading.set("engine.n1_tach.rpm_at_100", &mut engine.n1_tach.rpm_at_100);
    reading.set("engine.n1_tach.cycles_per_turn", &mut engine.n1_tach.cycles_per_turn);
    reading.set("engine.n2_tach.rpm_at_100", &mut engine.n2_tach.rpm_at_100);
    reading.set("engine.n2_tach.cycles_per_turn", &mut engine.n2_tach.cycles_per_turn);
    reading.set("engine.egt_starting_hysteresis_c", &mut engine.egt_starting.hysteresis);
    reading.set("engine.egt_running_hysteresis_c", &mut engine.egt_running.hysteresis);
    reading.set("engine.n1_hysteresis_pct", &mut engine.n1.hysteresis);
    reading.set("engine.n2_hysteresis_pct", &mut engine.n2.hysteresis);
    start_table::read(reading, &mut engine.start);
    watch(reading, &mut engine.watch);
}

/// What is watched beside the limits.
fn watch(reading: &impl Fields, watch: &mut WatchSettings) {
    reading.set("engine.watch.unload_rise_pct_s", &mut watch.unload_rise_pct_s);
    reading.set("engine.watch.rise_most_pct_s", &mut watch.rise_most_pct_s);
    reading.set("engine.watch.unload_from_pct", &mut watch.unload_from);
    reading.set("engine.watch.ahead_s", &mut watch.ahead);
    reading.set("engine.watch.power_from_pct", &mut watch.power_from);
    reading.set("engine.watch.n2_least_pct", &mut watch.n2_least);
    reading.set("engine.watch.n2_most_pct", &mut watch.n2_most);
    reading.set("engine.watch.mismatch_for_s", &mut watch.mismatch_for);
    reading.set("engine.watch.split_c", &mut watch.split);
    reading.set("engine.watch.split_for_s", &mut watch.split_for);
    reading.set("engine.watch.cold_least_c", &mut watch.cold_least);
    reading.set("engine.watch.cold_most_c", &mut watch.cold_most);
    reading.set("engine.watch.cold_rate_c_s", &mut watch.cold_rate);
    reading.set("engine.watch.aged_lag_s", &mut watch.aged_lag);
    reading.set("engine.watch.aged_low_c", &mut watch.aged_low);
    reading.set("engine.bands_c", &mut watch.bands);
}

/// A table of limits, as far as it fits; [`check_whose`] tells of rows too many.
fn limits<T: FromValue>(reading: &Reading, path: &str, unit: &str, limits: &mut Limits<T>) {
    if !reading.has(path) {
        return;
    }
    let limit = |row: &String| {
        let threshold = reading.get(&format!("{row}.above_{unit}"))?;
        Some(Limit { threshold, allowed: reading.get(&format!("{row}.allowed_s"))? })
    };
    limits.rows = reading.rows(path).iter().filter_map(limit).take(ROWS_MAX).collect();
}

/// Limits are all the owner's or all the demonstration's, never mixed.
pub fn check_whose(reading: &mut Reading) {
    start_table::check_whose(reading);
    for path in LIMITS {
        if reading.rows(path).len() > ROWS_MAX {
            let what = format!("`{path}` has {} rows", reading.rows(path).len());
            reading.blame(&format!("{path}[{ROWS_MAX}]"), what, format!("there may be up to {ROWS_MAX}"));
        }
    }
    if reading.get("engine.demonstration") == Some(false) {
        let right = "enter it from the engine maker's manual, or take demonstration = false out";
        for path in LIMITS.into_iter().chain(SCALES).filter(|path| !reading.has(path)).collect::<Vec<_>>() {
            let what = format!("`{path}` is missing: without the demonstration limits all must be yours");
            reading.blame("engine.demonstration", what, right);
        }
    } else if let Some(first) = LIMITS.into_iter().find(|path| reading.has(path)) {
        let what = format!("`{first}` is given, but the limits are still the demonstration's");
        let all = in_engine(&LIMITS);
        let right =
            format!("give all of {all}, from the engine maker's manual, and write: demonstration = false");
        reading.blame(first, what, right);
    }
}

/// The paths' own names in a row.
fn in_engine(paths: &[&str]) -> String {
    paths.iter().filter_map(|path| path.strip_prefix("engine.")).collect::<Vec<_>>().join(", ")
}

/// Takes what the core blames from the defaults instead, so that it can be asked for its next fault.
pub fn mend(engine: &mut EngineSettings, field: &str, bare: &EngineSettings) {
    match field {
        "cold_below" => engine.cold_below = MilliCelsius::ZERO,
        "egt_starting" => engine.egt_starting = bare.egt_starting.clone(),
        "egt_running" => engine.egt_running = bare.egt_running.clone(),
        "n1" => engine.n1 = bare.n1.clone(),
        "n2" => engine.n2 = bare.n2.clone(),
        start if start.starts_with("start.") => engine.start = bare.start.clone(),
        "watch.bands" => engine.watch.bands = bare.watch.bands.clone(),
        _ => engine.n2_overspeed = FASTEST,
    }
}

/// A fault of the core's as a path, what is wrong there, and what would be right.
pub fn told(EngineFault { field, rule }: EngineFault) -> (String, String, String) {
    let row = |row: u8, key: &str| format!("engine.{field}[{}].{key}", row.saturating_sub(1));
    let above = if field.starts_with("egt") { "above_c" } else { "above_pct" };
    let (path, what, right) = match rule {
        EngineRule::SomeRow => (format!("engine.{field}"), "has no row", "give at least one row"),
        EngineRule::ThresholdRises { row: n } => (
            row(n, above),
            "is not above that of the row before",
            "rows go from the lowest limit to the highest",
        ),
        EngineRule::TimeFalls { row: n } => (
            row(n, "allowed_s"),
            "is not shorter than that of the row before",
            "a higher limit allows a shorter time",
        ),
        EngineRule::Rising => (
            "engine.bands_c".to_owned(),
            "does not rise",
            "write the edges from the coldest to the hottest, no two alike",
        ),
        EngineRule::Within { .. } if field == "cold_below" => (
            "engine.cold_below_c".to_owned(),
            "is above `engine.lit_above_c`",
            "a cold engine is not lit: make it lower",
        ),
        EngineRule::Within { .. } if field == "n2_overspeed" => {
            let right = "overspeed is at or above the last row";
            ("engine.n2_overspeed_pct".to_owned(), "is below the last row of `engine.n2`", right)
        }
        EngineRule::Within { .. } if field.starts_with("start.") => return start_table::told(field),
        _ => {
            return (
                "engine".to_owned(),
                format!("is refused by the dash: {field}, {rule:?}"),
                "see docs/settings.md".to_owned(),
            );
        }
    };
    (path, what.to_owned(), right.to_owned())
}
