//! The `[engine.start]` table of a settings file: what the start supervisor must be told.
//!
//! Knows the keys, the reader and the core's settings of the start. Checked values in, settings out.

use firmware::engine::StartSettings;

use super::fields::Fields;
use super::keys::settings::STARTS;
use super::reader::Reading;

/// Puts the file's figures into the start's settings.
pub fn read(reading: &impl Fields, start: &mut StartSettings) {
    let at = |key: &str| format!("engine.start.{key}");
    reading.set(&at("demonstration"), &mut start.demonstration);
    reading.set(&at("wired.igniter"), &mut start.wired.igniter);
    reading.set(&at("wired.starter_low"), &mut start.wired.starter_low);
    reading.set(&at("wired.starter_high"), &mut start.wired.starter_high);
    reading.set(&at("wired.start_fuel"), &mut start.wired.start_fuel);
    reading.set(&at("wired.external_power"), &mut start.wired.external_power);
    reading.set(&at("cranking_from_pct"), &mut start.cranking_from);
    reading.set(&at("fuel_from_pct"), &mut start.fuel_from);
    reading.set(&at("fuel_inferred_after_s"), &mut start.fuel_inferred_after);
    reading.set(&at("light_off_rise_c"), &mut start.light_off_rise);
    reading.set(&at("light_off_within_s"), &mut start.light_off_within);
    reading.set(&at("starter_high_from_c"), &mut start.starter_high_from);
    reading.set(&at("idle_from_pct"), &mut start.idle_from);
    reading.set(&at("probe_lag_s"), &mut start.probe_lag);
    reading.set(&at("hot_ahead_s"), &mut start.hot_ahead);
    reading.set(&at("good_peak_c"), &mut start.good_peak);
    reading.set(&at("hung_rise_pct"), &mut start.hung_rise);
    reading.set(&at("hung_after_s"), &mut start.hung_after);
    reading.set(&at("starter_on_s"), &mut start.starter_on);
    reading.set(&at("starter_off_s"), &mut start.starter_off);
    reading.set(&at("starter_cycles"), &mut start.starter_cycles);
    reading.set(&at("starter_rest_s"), &mut start.starter_rest);
    reading.set(&at("cool_below_c"), &mut start.cool_below);
    reading.set(&at("cooling_within_s"), &mut start.cooling_within);
    reading.set(&at("shut_down_after_s"), &mut start.shut_down_after);
}

/// Who says that the figures are his own gives those that his manual has.
pub fn check_whose(reading: &mut Reading) {
    if reading.get("engine.start.demonstration") != Some(false) {
        return;
    }
    for path in STARTS.into_iter().filter(|path| !reading.has(path)).collect::<Vec<_>>() {
        let what = format!("`{path}` is missing: without the demonstration start it must be yours");
        let right = "enter it from the engine maker's manual, or take demonstration = false out";
        reading.blame("engine.start.demonstration", what, right);
    }
}

/// What the core finds wrong between two keys, each of them being right alone.
pub fn told(field: &str) -> (String, String, String) {
    let told = |key: &str, what: &str, right: &str| {
        (format!("engine.start.{key}"), what.to_owned(), right.to_owned())
    };
    match field {
        "start.fuel_from" => told(
            "fuel_from_pct",
            "is below `engine.start.cranking_from_pct` or above `engine.self_sustaining_pct`",
            "fuel comes to an engine that turns and does not run yet",
        ),
        "start.cool_below" => {
            told("cool_below_c", "is above `engine.lit_above_c`", "an engine that cools does not burn")
        }
        "start.starter_rest" => told(
            "starter_rest_s",
            "is below `engine.start.starter_off_s`",
            "the long rest is longer than that between two times on",
        ),
        _ => told("demonstration", "stands in a table that the dash refuses", "see docs/settings.md"),
    }
}
