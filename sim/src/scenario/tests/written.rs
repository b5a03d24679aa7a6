//! Settings written as a file and packed as bytes come back as they were.

use firmware::settings::Settings;

use super::drawn::{Draw, array_of};
use super::keys::{another, beside};
use crate::pack::{pack, unpack};
use crate::scenario::keys::settings::KEYS;
use crate::scenario::keys::{Key, Takes};
use crate::scenario::{measure, parse_settings, settings_text};

/// All limits an owner's, and all else that is off without its table.
const FULL: &str = "course.line_left = [45.0, -30.0]
course.line_right = [45.0, -29.998]
course.lap_length_m = 4023.36
rules.floor.speed_m_s = 44.704
gun.heard.distance_m = 800
run_in.turns = \"left\"
run_in.bends = [[45.0043, -30.0015, 138.0], [44.9919, -30.0015, 138.0]]
run_in.entrance = [44.99, -30.0]
run_in.cut_first = 1
run_in.cut_last = 2
run_in.cut_bends = [[45.0, -30.001, 150.0], [44.992, -30.001, 150.0]]
run_in.boat.speeds_m_s = [0, 45.5, 90]
run_in.boat.pulls_m_s2 = [9, 4.25, 0]
engine.demonstration = false
engine.n1_tach.rpm_at_100 = 4200
engine.n2_tach.rpm_at_100 = 10000
engine.n2_overspeed_pct = 112
engine.egt_starting = [{ above_c = 800, allowed_s = 10 }, { above_c = 900.5, allowed_s = 0 }]
engine.egt_running = [{ above_c = 780, allowed_s = 300 }]
engine.n1 = [{ above_pct = 102, allowed_s = 300 }]
engine.n2 = [{ above_pct = 103, allowed_s = 20 }, { above_pct = 108, allowed_s = 0.000001 }]
";

#[track_caller]
fn comes_back(settings: &Settings) {
    let text = settings_text(settings).unwrap_or_else(|| panic!("{settings:?}"));
    assert_eq!(parse_settings("written.toml", &text).as_ref().ok(), Some(settings), "{text}");
    assert_eq!(unpack(&pack(settings)).unwrap().unwrap(), *settings);
}

#[test]
fn whatever_one_key_says_comes_back() {
    for key in KEYS.iter().filter(|key| array_of(key).is_none() && key.path != "form") {
        let text = format!("{}{} = {}\n", beside(key), key.path, another(key));
        // Some values need another course, or the rest of the limits.
        let Ok(settings) = parse_settings("one.toml", &text) else {
            assert!(
                ["run_in.", "engine.", "rules.early"].iter().any(|table| key.path.starts_with(table)),
                "{text}"
            );
            continue;
        };
        comes_back(&settings);
    }
    comes_back(&parse_settings("full.toml", FULL).unwrap());
}

#[test]
fn settings_drawn_from_every_range_come_back() {
    let files = if cfg!(debug_assertions) { 500 } else { 5_000 };
    let plain: Vec<&Key> =
        KEYS.iter().filter(|key| array_of(key).is_none() && !FULL.contains(key.path)).collect();
    let mut came_back = 0;
    for seed in 0..files {
        let mut draw = Draw::new(seed);
        let mut text = FULL.to_owned();
        let mut left = plain.clone();
        for _ in 0..6 {
            let key = left.swap_remove(draw.below(left.len()));
            text += &format!("{} = {}\n", key.path, draw.good(&key.takes));
        }
        // Values of two keys may not fit each other: then there is nothing to come back.
        if let Ok(settings) = parse_settings("drawn.toml", &text) {
            comes_back(&settings);
            came_back += 1;
        }
    }
    assert!(came_back > files / 3, "{came_back} of {files}");
}

#[test]
fn a_written_file_tells_of_every_key() {
    let text = settings_text(&parse_settings("full.toml", FULL).unwrap()).unwrap();
    for key in KEYS {
        let named =
            text.lines().any(|line| line.trim_start_matches('#').starts_with(&format!("{} = ", key.name())));
        assert!(named, "{}", key.path);
    }
}

#[test]
fn settings_that_no_file_can_say_are_not_written() {
    assert_eq!(settings_text(&Settings::bare()), None, "a file has a course");
}

/// The same number, once bare and once in quotes with its unit.
#[test]
fn every_key_with_a_unit_takes_it_in_a_text() {
    for key in KEYS.iter().filter(|key| array_of(key).is_none()) {
        let (Takes::Number { unit, .. } | Takes::Whole { unit, .. }) = key.takes else { continue };
        if unit.is_empty() {
            continue;
        }
        assert!(!measure::units_for(unit).is_empty(), "{} is in {unit}, which no text can say", key.path);
        let with = |value: String| {
            parse_settings("unit.toml", &format!("{}{} = {value}\n", beside(key), key.path))
                .map_err(|why| why.to_string())
        };
        let number = another(key);
        let (bare, text) = (with(number.clone()), with(format!("\"{number} {unit}\"")));
        assert_eq!(bare.is_ok(), text.is_ok(), "{}: {bare:?} {text:?}", key.path);
        if let (Ok(bare), Ok(text)) = (bare, text) {
            assert_eq!(bare, text, "{}", key.path);
        }
    }
}

#[test]
fn lists_rows_and_places_take_units_too() {
    let plain = FULL
        .replace("[45.0, -30.0]", "[45.25, -30.5]")
        .replace("[45.0, -29.998]", "[45.25, -30.498]")
        .replace("run_in.", "#run_in.")
        + "rules.signals_s = [300, 60, 0]\n";
    let other = plain
        .replace("[45.25, -30.5]", "[\"45°15'N\", \"30°30'0\\\"W\"]")
        .replace("above_c = 780", "above_c = \"1436 degF\"")
        .replace("allowed_s = 300", "allowed_s = \"5 min\"")
        .replace("[300, 60, 0]", "[\"5 min\", \"1 min\", 0]")
        .replace("44.704", "\"100 mph\"")
        .replace("4023.36", "\"2.5 mi\"");
    assert_ne!(plain, other);
    assert_eq!(parse_settings("other.toml", &other).unwrap(), parse_settings("plain.toml", &plain).unwrap());
}
