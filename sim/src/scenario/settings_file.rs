//! A settings file becomes the dash's settings.
//!
//! Every key but the line and the lap has the core's own default. After the file's values are in their places
//! the core's own check has the last word; what it finds is told at the key that caused it.
//!
//! Knows the keys, the reader and the core's settings. Text in, checked settings out.

use std::collections::BTreeMap;
use std::sync::Arc;

use firmware::course::{CourseFault, CourseSettings};
use firmware::floor::FloorSettings;
use firmware::gnss::Position;
use firmware::gun::sound::HeardGun;
use firmware::laps::EarlyCost;
use firmware::screen::Units;
use firmware::settings::{Settings, SettingsFault};
use firmware::units::{MilliCelsius, Millimetres, MmPerSecond, Span};

use super::calibration_table;
use super::engine_table;
use super::fields::{Fields, Writing};
use super::forms::{self, FORM};
use super::keys::settings::KEYS;
use super::number::Decimal;
use super::reader::{Reading, shown};
use super::report::{Mistake, Source};
use super::run_in_table;
use super::value::Value;

/// The settings that a file holds, and what is wrong with it. With mistakes the settings are as good as can be.
#[must_use]
pub fn read(source: &Arc<Source>) -> (Settings, Told) {
    let mut reading = Reading::of_forms(source, KEYS, forms::RENAMED);
    let mut settings = settings(&reading);
    if reading.is_toml() {
        check_early_time(&mut reading);
        engine_table::check_whose(&mut reading);
        calibration_table::check(&mut reading);
        run_in_table::check_together(&mut reading);
    }
    if reading.is_right() {
        check(&mut settings, &mut reading);
    }
    (settings, Told { mistakes: reading.take_mistakes(), notes: reading.take_notes() })
}

/// What there is to tell of a file: what is wrong, and what was read as something newer.
#[derive(Debug)]
pub struct Told {
    /// What is wrong.
    pub mistakes: Vec<Mistake>,
    /// What was read as something newer.
    pub notes: Vec<Mistake>,
}

fn settings(reading: &Reading) -> Settings {
    let mut all = Settings::bare();
    all.course = course(reading);
    all.floor = reading.has("rules.floor").then(|| floor(reading));
    plain(reading, &mut all);
    all.race.early_costs = early_cost(reading);
    all.gun.heard = reading.has("gun.heard").then(|| heard(reading));
    engine_table::read(reading, &mut all.engine);
    calibration_table::read(reading, &mut all);
    all.run_in = reading.has("run_in").then(|| run_in_table::read(reading));
    if reading.get("screen.units") == Some("km/h".to_owned()) {
        all.screen.units = Units::KmPerHour;
    }
    all
}

/// The settings as a file writes them, value by value.
pub fn values(settings: &Settings) -> BTreeMap<String, Value> {
    let writing = Writing::default();
    let mut all = settings.clone();
    writing.put("form", Value::Number(Decimal::whole(FORM)));
    plain(&writing, &mut all);
    if let Some(course) = &mut all.course {
        course_fields(&writing, course);
    }
    if let Some(floor) = &mut all.floor {
        floor_fields(&writing, floor);
    }
    if let Some(heard) = &mut all.gun.heard {
        heard_fields(&writing, heard);
    }
    if let Some(run_in) = &all.run_in {
        run_in_table::write(&writing, run_in);
    }
    engine_table::write(&writing, &all.engine);
    calibration_table::write(&writing, &all);
    let costs = match &mut all.race.early_costs {
        EarlyCost::Lap => "lap",
        EarlyCost::Nothing => "nothing",
        EarlyCost::Time(time) => {
            writing.set("rules.early_time_s", time);
            "time"
        }
    };
    writing.put("rules.early_costs", Value::Text(costs.to_owned()));
    let units = if all.screen.units == Units::KmPerHour { "km/h" } else { "mph" };
    writing.put("screen.units", Value::Text(units.to_owned()));
    writing.into_values()
}

/// What every file has, field by field.
fn plain(reading: &impl Fields, all: &mut Settings) {
    rules(reading, all);
    boat_and_receiver(reading, all);
    thumb_and_gun(reading, all);
    reading.set("alerts.quiet_before_zero_s", &mut all.alerts.quiet_before_zero);
    reading.set("survey.accuracy_m", &mut all.survey.accuracy);
    reading.set("crystal.fast_ppm", &mut all.timebase.crystal);
}

fn course(reading: &Reading) -> Option<CourseSettings> {
    let mut course = CourseSettings {
        line_left: reading.get::<Position>("course.line_left")?,
        line_right: reading.get::<Position>("course.line_right")?,
        lap_length: reading.get("course.lap_length_m")?,
        line_sd: Millimetres::from_mm(100),
        end_tolerance: Millimetres::from_mm(2_000),
    };
    course_fields(reading, &mut course);
    Some(course)
}

fn course_fields(reading: &impl Fields, course: &mut CourseSettings) {
    reading.set("course.line_left", &mut course.line_left);
    reading.set("course.line_right", &mut course.line_right);
    reading.set("course.lap_length_m", &mut course.lap_length);
    reading.set("course.line_sd_m", &mut course.line_sd);
    reading.set("course.end_tolerance_m", &mut course.end_tolerance);
}

/// Defaults as the class rule-change notice of 2012 has them; the speed has none.
fn floor(reading: &Reading) -> FloorSettings {
    let mut floor = FloorSettings {
        speed: MmPerSecond::ZERO,
        from: Span::from_secs(300),
        grace: Span::from_secs(5),
        penalty: Span::from_secs(15),
        units_max: 4,
    };
    floor_fields(reading, &mut floor);
    floor
}

fn floor_fields(reading: &impl Fields, floor: &mut FloorSettings) {
    reading.set("rules.floor.speed_m_s", &mut floor.speed);
    reading.set("rules.floor.from_s", &mut floor.from);
    reading.set("rules.floor.grace_s", &mut floor.grace);
    reading.set("rules.floor.penalty_s", &mut floor.penalty);
    reading.set("rules.floor.units_max", &mut floor.units_max);
}

fn rules(reading: &impl Fields, all: &mut Settings) {
    let race = &mut all.race;
    reading.set("course.laps", &mut race.laps);
    reading.set("rules.signals_s", &mut all.gun.signals_s);
    reading.set("rules.early_window_s", &mut race.early_window);
    reading.set("rules.lap_shortest_s", &mut race.lap_shortest);
    reading.set("rules.lap_missed_percent", &mut race.lap_missed_percent);
    reading.set("rules.too_close_sigmas", &mut race.too_close_sigmas);
    reading.set("rules.approach_s", &mut race.approach);
    reading.set("rules.counts_s", &mut all.counts_s);
}

fn early_cost(reading: &Reading) -> EarlyCost {
    match early_costs(reading).as_str() {
        "time" => EarlyCost::Time(reading.get("rules.early_time_s").unwrap_or_default()),
        "nothing" => EarlyCost::Nothing,
        _ => EarlyCost::Lap,
    }
}

fn early_costs(reading: &Reading) -> String {
    reading.get("rules.early_costs").unwrap_or_default()
}

fn boat_and_receiver(reading: &impl Fields, all: &mut Settings) {
    let boat = &mut all.crossing;
    reading.set("boat.antenna_to_bow_m", &mut boat.antenna_to_bow);
    reading.set("boat.antenna_to_bow_sd_m", &mut boat.antenna_to_bow_sd);
    reading.set("receiver.position_sd_m", &mut boat.position_sd);
    reading.set("receiver.speed_sd_m_s", &mut boat.speed_sd);
    reading.set("receiver.hysteresis_m", &mut boat.hysteresis);
    reading.set("receiver.bridge_max_s", &mut boat.bridge_max);
    reading.scaled("receiver.unknown_acceleration_m_s2", 3, &mut boat.unknown_acceleration_mm_s2);
    reading.set("receiver.lost_after_s", &mut all.fix_lost_after);
    reading.set("receiver.latency_s", &mut all.timebase.latency);
    reading.set("receiver.latency_sd_s", &mut all.timebase.latency_sd);
    reading.set("crystal.sd_ppm", &mut all.timebase.crystal_sd);
}

fn thumb_and_gun(reading: &impl Fields, all: &mut Settings) {
    let gun = &mut all.gun;
    reading.set("thumb.reaction_mean_s", &mut gun.reaction_mean);
    reading.set("thumb.reaction_sd_s", &mut gun.reaction_sd);
    reading.set("thumb.reaction_mean_sd_s", &mut gun.reaction_mean_sd);
    reading.set("thumb.hold_to_clear_s", &mut gun.hold_to_clear);
    reading.set("thumb.debounce_s", &mut gun.debounce);
    reading.set("gun.contact_delay_s", &mut gun.contact_delay);
    reading.set("gun.contact_sd_s", &mut gun.contact_sd);
    reading.set("gun.gate_sigmas", &mut gun.gate_sigmas);
    reading.set("gun.gate_least_s", &mut gun.gate_least);
    reading.set("gun.replace_within_s", &mut gun.replace_within);
}

fn heard(reading: &Reading) -> HeardGun {
    let mut heard = HeardGun {
        distance: Millimetres::ZERO,
        distance_sd: Millimetres::from_mm(100_000),
        air: MilliCelsius::from_milli(20_000),
    };
    heard_fields(reading, &mut heard);
    heard
}

fn heard_fields(reading: &impl Fields, heard: &mut HeardGun) {
    reading.set("gun.heard.distance_m", &mut heard.distance);
    reading.set("gun.heard.distance_sd_m", &mut heard.distance_sd);
    reading.set("gun.heard.air_c", &mut heard.air);
}

fn check_early_time(reading: &mut Reading) {
    let (costs_time, time_given) = (early_costs(reading) == "time", reading.has("rules.early_time_s"));
    if costs_time && !time_given {
        let right = "write how much time an early start costs, such as: early_time_s = 30";
        reading.blame("rules.early_costs", "`rules.early_time_s` is missing", right);
    } else if time_given && !costs_time {
        let right = "write early_costs = \"time\", or take early_time_s out";
        reading.blame(
            "rules.early_time_s",
            "`rules.early_time_s` has no effect: an early start does not cost time",
            right,
        );
    }
}

/// The core's own check. It tells the first fault only, so what it blames is mended from the defaults and it
/// is asked again.
fn check(settings: &mut Settings, reading: &mut Reading) {
    let bare = Settings::bare();
    let mut last = None;
    while let Err(fault) = settings.check() {
        if last.replace(fault) == Some(fault) {
            return; // What was done about it did not help, and it has been told.
        }
        let (path, what, right) = told(fault);
        reading.blame(&path, format!("`{}` {what}", shown(&path)), right);
        match fault {
            SettingsFault::Signals => settings.gun.signals_s = bare.gun.signals_s.clone(),
            SettingsFault::Counts => settings.counts_s = bare.counts_s.clone(),
            SettingsFault::Course(_) => settings.course = None,
            SettingsFault::RunIn(_) => settings.run_in = None,
            SettingsFault::Engine(fault) => {
                engine_table::mend(&mut settings.engine, fault.field, &bare.engine)
            }
            _ => return,
        }
    }
}

/// A fault of the core's as a path, what is wrong there, and what would be right.
fn told(fault: SettingsFault) -> (String, String, String) {
    const FALLS: &str = "write them in the order they come: the largest first, no two alike";
    const LINE: &str = "a line is from 5 m to 5 km long; the ends are [latitude, longitude] in degrees";
    let (path, what, right) = match fault {
        SettingsFault::Signals => {
            ("rules.signals_s", "is not a list of signals in their order".to_owned(), FALLS)
        }
        SettingsFault::Counts => {
            ("rules.counts_s", "is not a list of counts in their order".to_owned(), FALLS)
        }
        SettingsFault::Course(CourseFault::LineLength(length)) => {
            ("course.line_right", format!("lies {} m from `course.line_left`", tenths(length)), LINE)
        }
        SettingsFault::Engine(fault) => return engine_table::told(fault),
        SettingsFault::RunIn(fault) => return run_in_table::told(fault),
        other => ("the settings", format!("are refused by the dash: {other:?}"), "see docs/settings.md"),
    };
    (path.to_owned(), what, right.to_owned())
}

fn tenths(length: Millimetres) -> String {
    let tenths = firmware::units::mul_div(length.as_mm(), 1, 100);
    format!("{}.{}", tenths / 10, tenths % 10)
}
