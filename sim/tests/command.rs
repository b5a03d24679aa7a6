//! The `gunline` command as its users call it: exit status, what goes where, and the same bits every time.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test that fails panics")]

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

use assert_cmd::Command;
use gunline::replay::replay;
use serde_json::Value;

fn gunline(words: &[&str]) -> Output {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    Command::cargo_bin("gunline").unwrap().current_dir(folder).args(words).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

fn objects(output: &Output) -> Vec<Value> {
    text(&output.stdout).lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

fn of_kind<'a>(objects: &'a [Value], kind: &str) -> Vec<&'a Value> {
    objects.iter().filter(|object| object["kind"] == kind).collect()
}

/// An empty folder for one test.
fn folder(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

const SHIPPED: [&str; 19] = [
    "first",
    "jumped",
    "half-blind",
    "go",
    "hold",
    "late",
    "off-course",
    "lost-fix",
    "learn",
    "good-start",
    "hot-start",
    "hung-start",
    "no-light-off",
    "fuel-too-soon",
    "aborted-and-cooled",
    "starter-too-long",
    "flame-out",
    "over-fuel",
    "propeller-loss",
];

/// The digests are written down: debug and release, this machine and yours, must come to the same.
///
/// When a decision is meant to change, `GUNLINE_REDRAW=1 cargo test -p gunline --test command` writes them anew.
#[test]
fn the_shipped_heats_have_the_digests_that_are_written_down_in_two_processes() {
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("golden/digests.txt");
    let mut found = String::new();
    for name in SHIPPED {
        let heat = format!("sim/heats/{name}.toml");
        let (one, two) = (gunline(&["run", &heat, "--json"]), gunline(&["run", &heat, "--json"]));
        assert!(one.status.success(), "{}", text(&one.stderr));
        assert_eq!(one.stdout, two.stdout, "{name}: two processes, two outputs");
        let objects = objects(&one);
        let end = objects.last().unwrap();
        assert_eq!(end["kind"], "end");
        writeln!(found, "{name} {}", end["digest"].as_str().unwrap()).unwrap();
    }
    if std::env::var_os("GUNLINE_REDRAW").is_some() {
        fs::write(&golden, &found).unwrap();
    }
    assert_eq!(found, fs::read_to_string(golden).unwrap());
}

#[test]
fn every_object_has_a_kind_a_time_and_once_armed_a_race_time() {
    let objects = objects(&gunline(&["run", "sim/heats/first.toml", "--json"]));
    let armed = objects.iter().position(|object| object["kind"] == "zero").unwrap();
    for object in &objects {
        assert!(object["kind"].is_string() && object["t_us"].is_i64(), "{object}");
    }
    let decisions = &objects[armed..objects.len() - 1];
    assert!(decisions.iter().all(|object| object["race_us"].is_i64()));
    let zeros = of_kind(&objects, "zero");
    assert_eq!(zeros[0]["source"], "five-minute gun");
    assert_eq!(zeros[1]["source"], "one-minute gun");
    assert!(zeros.iter().all(|zero| zero["moved_us"].is_i64() && zero["sigma_us"].is_i64()));
}

#[test]
fn the_clean_heat_is_legal_the_jumped_one_early_with_a_lap_more() {
    let first = objects(&gunline(&["run", "sim/heats/first.toml", "--json"]));
    assert_eq!(of_kind(&first, "call")[0]["call"], "legal");
    assert_eq!(of_kind(&first, "finish")[0]["laps"], 3);
    let jumped = objects(&gunline(&["run", "sim/heats/jumped.toml", "--json"]));
    assert_eq!(of_kind(&jumped, "call")[0]["call"], "early");
    assert!(of_kind(&jumped, "call")[0]["margin_us"].as_i64().unwrap() < 0);
    assert_eq!(of_kind(&jumped, "finish")[0]["laps"], 4);
}

#[test]
fn a_journal_replays_to_its_own_decisions_and_to_the_same_digest() {
    let folder = folder("journal");
    for name in SHIPPED {
        let file = folder.join(name);
        let run = gunline(&[
            "run",
            &format!("sim/heats/{name}.toml"),
            "--json",
            "--journal",
            file.to_str().unwrap(),
        ]);
        let journal = fs::read(&file).unwrap();
        let replayed = replay(&journal).unwrap();
        assert!(replayed.agrees(), "{name}: {replayed:?}");
        let digest: String = replayed.digest.iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(objects(&run).last().unwrap()["digest"], digest.as_str());
        let seconds = objects(&run).last().unwrap()["t_us"].as_i64().unwrap() / 1_000_000 + 345;
        let per_15_minutes = journal.len() as i64 * 900 / seconds;
        assert!(per_15_minutes < 1 << 20, "{name}: {per_15_minutes} bytes in 15 minutes");
    }
}

/// A power blip in mid-countdown: the journal holds two dashes, and still replays.
#[test]
fn a_journal_with_a_power_blip_replays_too() {
    let folder = folder("blip");
    let settings = Path::new(env!("CARGO_MANIFEST_DIR")).join("heats/reach.toml");
    let heat = format!(
        "title = \"Invented blip\"\nsettings = {:?}\nseed = 5\n[start]\nzero_utc = 2031-05-17T19:05:00.000Z\n\
         scheduled = true\n[boat.drive]\n[[fault]]\nat = \"-2:00.000\"\nkind = \"power-blip\"\nfor_s = 1.5\n",
        settings.to_str().unwrap()
    );
    let (file, journal) = (folder.join("blip.toml"), folder.join("journal"));
    fs::write(&file, heat).unwrap();
    let run = gunline(&["run", file.to_str().unwrap(), "--json", "--journal", journal.to_str().unwrap()]);
    assert!(run.status.success(), "{}", text(&run.stderr));
    let objects = objects(&run);
    let armed: Vec<_> = of_kind(&objects, "zero").into_iter().filter(|zero| zero["armed"] == true).collect();
    assert_eq!(armed.len(), 2, "{armed:?}");
    assert_eq!((&armed[0]["source"], &armed[1]["source"]), (&"utc".into(), &"resumed".into()));
    assert!(replay(&fs::read(journal).unwrap()).unwrap().agrees());
}

/// NMEA 0183 sentences of a boat that goes due north at 80 m/s; its antenna is on the line at `crossing_s`.
fn recording(crossing_s: f64) -> String {
    let mut nmea = String::new();
    for tenth in -600..200_i64 {
        let t = tenth as f64 / 10.0;
        // Metres per degree of latitude at 45 degrees on WGS 84: 111,131.8 (series in any handbook of geodesy).
        let lat = 45.0 + 80.0 * (t - crossing_s) / 111_131.8;
        let minutes = (lat - lat.floor()) * 60.0;
        let of_day = 19 * 36_000 + 5 * 600 + tenth;
        let (hour, minute, second) = (of_day / 36_000, of_day / 600 % 60, of_day % 600);
        // 80 m/s is 155.508 knots; 1e-5 minutes are 18.5 mm.
        let body = format!(
            "GNRMC,{hour:02}{minute:02}{:02}.{}0,A,{:02}{minutes:010.7},N,02959.9400000,W,155.508,0.00,170531,,,A",
            second / 10,
            second % 10,
            lat.floor()
        );
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        write!(nmea, "${body}*{sum:02X}\r\n").unwrap();
    }
    nmea
}

const MINIMAL_SETTINGS: &str = "[course]\nline_left = [45.000000, -30.000000]\nline_right = [45.000000, -29.998000]\n\
lap_length_m = 4023.36\nlaps = 3\n[rules]\nsignals_s = [300, 60, 0]\nearly_window_s = 60\nearly_costs = \"lap\"\n\
[boat]\nantenna_to_bow_m = 5.0\n[thumb]\nreaction_mean_s = 0.25\nreaction_sd_s = 0.06\n";

fn recorded_heat(name: &str, antenna_crosses_s: f64, more: &str) -> Vec<Value> {
    let folder = folder(name);
    fs::write(folder.join("track.nmea"), recording(antenna_crosses_s)).unwrap();
    fs::write(folder.join("reach.toml"), MINIMAL_SETTINGS).unwrap();
    let heat = format!(
        "title = \"Invented heat\"\nsettings = \"reach.toml\"\nseed = 7\n[boat]\nrecording = \"track.nmea\"\n{more}"
    );
    let file = folder.join("heat.toml");
    fs::write(&file, heat).unwrap();
    let run = gunline(&["run", file.to_str().unwrap(), "--json"]);
    assert!(run.status.success(), "{}", text(&run.stderr));
    objects(&run)
}

/// Plane geometry: the bow is 5 m ahead of the antenna, 62.5 ms at 80 m/s.
#[test]
fn a_recording_with_a_scheduled_zero_is_called_to_the_millisecond() {
    for (antenna_s, bow_us, call) in
        [(0.3625, 300_000, "legal"), (-0.2375, -300_000, "early"), (0.0625, 0, "too-close")]
    {
        let start = "[start]\nzero_utc = 2031-05-17T19:05:00.000Z\nscheduled = true\n";
        let objects = recorded_heat(call, antenna_s, start);
        let called = of_kind(&objects, "call");
        assert_eq!(called[0]["call"], call, "{called:?}");
        let margin = called[0]["margin_us"].as_i64().unwrap();
        assert!((margin - bow_us).abs() <= 1_000, "{margin} for {bow_us}");
    }
}

/// Presses 0.23 and 0.29 s late, less a mean of 0.25 s: zero is 10 ms late; the crossing is 300 ms after true zero.
#[test]
fn a_recording_with_two_presses_is_called_by_the_thumbs_zero() {
    let more = "[start]\nzero_utc = 2031-05-17T19:05:00.000Z\nscheduled = false\n\
                [[press]]\nat = \"-4:59.770\"\n[[press]]\nat = \"-0:59.710\"\n";
    let objects = recorded_heat("presses", 0.3625, more);
    let margin = of_kind(&objects, "call")[0]["margin_us"].as_i64().unwrap();
    assert!((margin - 290_000).abs() < 10_000, "{margin}");
    let zeros = of_kind(&objects, "zero");
    let by = |source: &str| zeros.iter().filter(|zero| zero["source"] == source).count();
    assert_eq!((by("five-minute gun"), by("one-minute gun")), (1, 1), "{zeros:?}");
}

#[test]
fn wrong_input_says_where_and_leaves_with_2() {
    let folder = folder("wrong");
    let file = folder.join("heat.toml");
    fs::write(&file, "title = \"x\"\nsettings = \"none.toml\"\nsead = 7\n").unwrap();
    let run = gunline(&["run", file.to_str().unwrap()]);
    assert_eq!(run.status.code(), Some(2));
    assert!(run.stdout.is_empty());
    let said = text(&run.stderr);
    assert!(said.contains("heat.toml:3") && said.contains("sead") && said.contains("seed"), "{said}");
    assert_eq!(gunline(&["run", "no/such.toml"]).status.code(), Some(2));
    assert_eq!(gunline(&["fixes", "no/such.nmea"]).status.code(), Some(2));
    assert_eq!(gunline(&["dance"]).status.code(), Some(2));
}

#[test]
fn a_disk_that_refuses_leaves_with_3() {
    let run = gunline(&["run", "sim/heats/first.toml", "--journal", "/nowhere/at/all/journal"]);
    assert_eq!(run.status.code(), Some(3), "{}", text(&run.stderr));
    assert!(text(&run.stderr).contains("cannot write /nowhere/at/all/journal"));
}

#[test]
fn fixes_prints_objects_on_stdout_and_a_summary_on_stderr() {
    let folder = folder("fixes");
    let file = folder.join("some.nmea");
    fs::write(
        &file,
        recording(0.3).lines().take(20).collect::<Vec<_>>().join("\r\n") + "\r\n$GPRMC,1*00\r\n",
    )
    .unwrap();
    let run = gunline(&["fixes", file.to_str().unwrap(), "--json"]);
    let objects = objects(&run);
    assert_eq!(of_kind(&objects, "fix").len(), 20);
    assert_eq!(of_kind(&objects, "rejected")[0]["line"], 21);
    assert!(text(&run.stderr).starts_with("20 fixes, 1 rejected"), "{}", text(&run.stderr));
}

#[test]
fn the_report_is_one_page_that_fetches_nothing_with_its_pictures_beside_it() {
    let folder = folder("report");
    let run = gunline(&["run", "sim/heats/half-blind.toml", "--out", folder.to_str().unwrap()]);
    assert!(run.status.success());
    let page = fs::read_to_string(folder.join("report.html")).unwrap();
    assert!(page.contains("<svg") && page.contains("race officials decide"));
    assert!(!page.contains("src=\"http") && !page.contains("href=\"http"));
    for name in ["track.svg", "speed.svg", "engine.svg", "run-in.svg", "table.csv", "track.csv"] {
        assert!(folder.join(name).is_file(), "{name}");
    }
}
