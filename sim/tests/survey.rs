//! `gunline survey` as its users call it: exit status, files, and a board's marks from its journal to a course.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test that fails panics")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

use assert_cmd::Command;
use gunline::scenario::load_settings;
use serde_json::Value;

fn gunline(words: &[&str]) -> Output {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    Command::cargo_bin("gunline").unwrap().current_dir(folder).args(words).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// An empty folder for one test.
fn folder(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

const GPX: &str = "sim/surveys/reach.gpx";

#[test]
fn a_good_course_is_written_drawn_and_read_by_the_dash() {
    let (dir, course) = (folder("survey-good"), folder("survey-course").join("course.toml"));
    let words =
        ["survey", GPX, "--lap", "2.5mi", "--out", dir.to_str().unwrap(), "-o", course.to_str().unwrap()];
    let done = gunline(&words);
    assert_eq!(done.status.code(), Some(0), "{}", text(&done.stderr));
    assert!(text(&done.stdout).contains("Not a sanctioned survey"));
    let settings = load_settings(&course).unwrap();
    assert_eq!(settings.course.unwrap().lap_length.as_mm(), 4_023_360);
    assert_eq!(settings.run_in.unwrap().lane.bends.len(), 2);
    for file in ["survey.txt", "course.svg", "course.geojson", "course.toml"] {
        assert!(dir.join(file).exists(), "{file}");
    }
    // What was drawn is read as the same course.
    let again =
        gunline(&["survey", dir.join("course.geojson").to_str().unwrap(), "--lap", "2.5mi", "--json"]);
    assert_eq!(again.status.code(), Some(0));
    let last: Value = serde_json::from_str(text(&again.stdout).lines().last().unwrap()).unwrap();
    assert_eq!(last["settings"], fs::read_to_string(&course).unwrap());
}

#[test]
fn a_course_that_fails_a_check_is_1_and_leaves_no_settings() {
    let dir = folder("survey-bad");
    fs::write(dir.join("course.toml"), "of an older survey").unwrap();
    let course = dir.join("mine.toml");
    let words =
        ["survey", GPX, "--lap", "3mi", "--out", dir.to_str().unwrap(), "-o", course.to_str().unwrap()];
    let done = gunline(&words);
    assert_eq!(done.status.code(), Some(1));
    assert!(text(&done.stdout).contains("WRONG"), "{}", text(&done.stdout));
    assert!(!course.exists() && !dir.join("course.toml").exists());
    assert!(fs::read_to_string(dir.join("course.svg")).unwrap().contains("DOES NOT STAND"));
}

#[test]
fn wrong_files_and_words_are_2() {
    let dir = folder("survey-wrong");
    let misnamed = dir.join("misnamed.gpx");
    fs::write(&misnamed, "<gpx><wpt lat='45' lon='-30'><name>start left</name></wpt></gpx>").unwrap();
    for words in [
        vec!["survey", misnamed.to_str().unwrap()],
        vec!["survey", "no/such.gpx"],
        vec!["survey", "sim/heats/first.toml"],
        vec!["survey", GPX, "--lap", "2.5 furlongs"],
        vec!["survey", GPX, "--square-within", "-1"],
        vec!["survey", GPX, "--role", "1"],
        vec!["survey"],
    ] {
        let done = gunline(&words);
        assert_eq!(done.status.code(), Some(2), "{words:?}");
        assert!(done.stdout.is_empty() && !done.stderr.is_empty(), "{words:?}");
    }
}

/// A mark that a simulated board took at rest, with its error, as an end of the line beside marks from a map.
#[test]
fn a_board_s_mark_is_read_from_its_journal() {
    let dir = folder("survey-journal");
    let journal = dir.join("marks.journal");
    let ran = gunline(&["run", "sim/heats/survey.toml", "--json", "--journal", journal.to_str().unwrap()]);
    let lines = text(&ran.stdout);
    let marked: Vec<Value> = lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let marked: Vec<&Value> = marked.iter().filter(|object| object["kind"] == "marked").collect();
    assert_eq!(marked.len(), 1);
    let unnamed = gunline(&["survey", journal.to_str().unwrap()]);
    assert_eq!(unnamed.status.code(), Some(2));
    assert!(text(&unnamed.stderr).contains("--role 1=\"line left\""), "{}", text(&unnamed.stderr));
    let named = gunline(&["survey", journal.to_str().unwrap(), "--role", "1=line left", "--json"]);
    assert_eq!(named.status.code(), Some(1), "a line's end alone is no course");
    let mark: Value = serde_json::from_str(text(&named.stdout).lines().next().unwrap()).unwrap();
    assert_eq!(mark["role"], "line left");
    let degrees = |value: &Value| value.as_i64().unwrap() as f64 / 1e9;
    assert!((mark["lat"].as_f64().unwrap() - degrees(&marked[0]["lat_e9"])).abs() < 1e-9);
    assert!((mark["sd_m"].as_f64().unwrap() * 1e3 - marked[0]["sd_mm"].as_f64().unwrap()).abs() < 1e-6);
}
