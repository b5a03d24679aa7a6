//! Starts at the dock, as users play them: each shipped heat says what it is named for, and `gunline dock` counts.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test that fails panics")]

use std::path::Path;

use assert_cmd::Command;
use serde_json::Value;

fn lines(words: &[&str]) -> Vec<Value> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let output = Command::cargo_bin("gunline").unwrap().current_dir(folder).args(words).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let text = String::from_utf8(output.stdout).unwrap();
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// What a heat raises, and when, seconds of race time as the board counts it.
fn raised(heat: &str) -> Vec<(String, f64)> {
    let all = lines(&["run", &format!("sim/heats/{heat}.toml"), "--json"]);
    let alerts = all.iter().filter(|line| line["kind"] == "alert" && line["state"] == "raised");
    alerts
        .map(|line| (line["id"].as_str().unwrap().to_owned(), line["t_us"].as_f64().unwrap() / 1e6))
        .collect()
}

/// The heat raises these alerts in this order and no others, the first within these seconds.
fn raises(heat: &str, due: &[&str], (from_s, to_s): (f64, f64)) {
    let raised = raised(heat);
    let ids: Vec<&str> = raised.iter().map(|(id, _)| id.as_str()).collect();
    assert_eq!(ids, due, "{heat}");
    assert!(raised.first().is_none_or(|(_, at)| (from_s..=to_s).contains(at)), "{heat}: {raised:?}");
}

/// Starters go on at -95 s. Times follow from the heats: fuel at 13 % N1, some 7.5 s later; 10 s to light; 40 s of
/// starter; 5 s without a gain of N1. What follows a fault is listed behind it: EGT past its rows after a hot start, and
/// the starter that has to go on again to cool an engine.
#[test]
fn each_heat_at_the_dock_raises_what_it_is_named_for_and_nothing_else() {
    raises("good-start", &[], (0.0, 0.0));
    raises("aborted-and-cooled", &[], (0.0, 0.0));
    raises("hot-start", &["hot-start", "egt-high", "egt-limit"], (-86.0, -83.5));
    raises("hung-start", &["hung-start", "starter-rest"], (-76.0, -72.0));
    raises("no-light-off", &["no-light-off"], (-78.5, -77.0));
    raises("fuel-too-soon", &["fuel-too-soon", "hot-start", "egt-high"], (-94.6, -94.3));
    raises("starter-too-long", &["starter-long"], (-55.1, -54.8));
}

/// The flight of the boat, not its start: the fire goes out half a second before zero, the valve sticks two seconds
/// before it.
#[test]
fn a_lost_fire_and_a_stuck_valve_are_said_within_seconds() {
    let first = |heat: &str| raised(heat).into_iter().next().unwrap();
    assert_eq!(first("flame-out").0, "flame-out");
    let (id, at) = first("over-fuel");
    assert!(id == "n1-limit" && (-2.0..0.0).contains(&at), "{id} {at}");
}

#[test]
fn two_hundred_starts_are_the_same_lines_on_one_thread_and_on_three() {
    let on = |threads: &str| {
        lines(&[
            "dock",
            "sim/heats/good-start.toml",
            "--starts",
            "200",
            "--seed",
            "5",
            "--json",
            "--threads",
            threads,
        ])
    };
    let (one, three) = (on("1"), on("3"));
    assert_eq!(one, three);
    assert_eq!(one.iter().filter(|line| line["kind"] == "start").count(), 200);
    assert_eq!(one.first().map(|line| &line["kind"]), Some(&Value::from("dock")));
    assert_eq!(one.last().map(|line| &line["kind"]), Some(&Value::from("sum")));
}
