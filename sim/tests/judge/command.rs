//! `gunline judge`, `run --key` and `clock-check` as their users call them: exit status, lines, pages.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

use assert_cmd::Command;
use serde_json::Value;

use super::alterations::SECRET;

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
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("judge").join(name);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// A heat played into a journal; gives its path.
fn journal(folder: &Path, heat: &str, more: &[&str]) -> String {
    let path = folder.join(heat).with_extension("journal").to_str().unwrap().to_owned();
    let file = format!("sim/heats/{heat}.toml");
    let words: Vec<&str> =
        ["run", &file, "--json", "--journal", &path].into_iter().chain(more.iter().copied()).collect();
    let run = gunline(&words);
    assert!(run.status.success(), "{}", text(&run.stderr));
    path
}

#[test]
fn the_shipped_heats_are_judged_good_and_both_verdicts_agree() {
    let folder = folder("shipped");
    for heat in ["first", "jumped", "half-blind", "late", "lost-fix", "go"] {
        let judged = gunline(&["judge", &journal(&folder, heat, &[]), "--json"]);
        let objects = objects(&judged);
        let verdict = of_kind(&objects, "verdict")[0].clone();
        assert_eq!(judged.status.code(), Some(0), "{heat}: {verdict}");
        assert_eq!(verdict["answer"], "good", "{heat}");
        assert!(of_kind(&objects, "compared").iter().all(|row| row["agrees"] == true), "{heat}");
        assert_eq!(objects[0]["kind"], "record");
        assert_eq!(objects.last().unwrap()["kind"], "end");
        assert!(objects.iter().all(|object| object["t_us"].is_i64()), "{heat}");
    }
}

/// What the run decided is what the judge reads from its journal.
#[test]
fn the_judges_lines_are_the_runs_but_for_the_moment_that_they_count_from() {
    let folder = folder("lines");
    let run = objects(&gunline(&["run", "sim/heats/jumped.toml", "--json"]));
    let judged = objects(&gunline(&["judge", &journal(&folder, "jumped", &[]), "--json"]));
    for kind in ["zero", "stray", "call", "lap", "finish", "alert", "penalty"] {
        let (ran, read) = (of_kind(&run, kind), of_kind(&judged, kind));
        assert_eq!(ran.len(), read.len(), "{kind}");
        for (ran, read) in ran.iter().zip(&read) {
            let (mut ran, mut read) = ((*ran).clone(), (*read).clone());
            for object in [&mut ran, &mut read] {
                object.as_object_mut().unwrap().remove("t_us");
            }
            assert_eq!(ran, read);
        }
    }
    assert_eq!(run.last().unwrap()["digest"], judged.last().unwrap()["digest"]);
}

#[test]
fn a_signed_record_is_known_by_its_key_and_by_no_other() {
    let folder = folder("signed");
    let key = folder.join("key");
    fs::write(&key, format!("# a key for tests\n{}\n", hex(&SECRET))).unwrap();
    let signed = journal(&folder, "late", &["--key", key.to_str().unwrap()]);
    let public = hex(&firmware::journal::signature::public_key(&SECRET));
    let judged = gunline(&["judge", &signed, "--public-key", &public, "--json"]);
    assert_eq!(judged.status.code(), Some(0), "{}", text(&judged.stderr));
    assert_eq!(objects(&judged)[0]["signed_by"], public.as_str());
    let other = hex(&firmware::journal::signature::public_key(&[3; 32]));
    assert_eq!(gunline(&["judge", &signed, "--public-key", &other]).status.code(), Some(1));
    let unsigned = journal(&folder, "lost-fix", &[]);
    let judged = gunline(&["judge", &unsigned, "--public-key", &public]);
    assert_eq!(judged.status.code(), Some(1));
    assert!(text(&judged.stdout).contains("NOT SIGNED"));
    assert_eq!(gunline(&["judge", &unsigned, "--public-key", "no key"]).status.code(), Some(2));
}

#[test]
fn an_altered_record_is_answered_no_and_its_first_bad_place_is_named() {
    let path = folder("altered").join("altered.journal");
    let mut bytes = super::cases::legal();
    let place = bytes.len() / 2;
    bytes[place] ^= 4;
    fs::write(&path, &bytes).unwrap();
    let judged = gunline(&["judge", path.to_str().unwrap(), "--json"]);
    assert_eq!(judged.status.code(), Some(1));
    let objects = objects(&judged);
    assert_eq!(of_kind(&objects, "verdict")[0]["answer"], "altered");
    assert_eq!(of_kind(&objects, "verdict")[0]["reserved"], true);
    let fault = of_kind(&objects, "fault")[0];
    assert!(fault["record"].is_i64() && fault["byte"].as_i64().unwrap() <= place as i64);
    assert!(place as i64 - fault["byte"].as_i64().unwrap() < 260 && fault["board_us"].is_i64());
    let told = text(&gunline(&["judge", path.to_str().unwrap()]).stdout);
    assert!(told.contains("ALTERED") && told.contains(&format!("byte {}", fault["byte"])), "{told}");
    bytes[3] ^= 1;
    fs::write(&path, &bytes).unwrap();
    let judged = gunline(&["judge", path.to_str().unwrap()]);
    assert_eq!(judged.status.code(), Some(1), "its very first record");
    assert!(text(&judged.stderr).contains("record 0, byte 0"), "{}", text(&judged.stderr));
}

#[test]
fn what_is_no_journal_is_wrong_input_and_said_so() {
    let folder = folder("wrong");
    let path = folder.join("text.journal");
    fs::write(&path, "not a journal").unwrap();
    let judged = gunline(&["judge", path.to_str().unwrap()]);
    assert_eq!(judged.status.code(), Some(2));
    assert!(text(&judged.stderr).contains("this is no journal"));
    // Format 1: length, record, check sum of both.
    let mut old = vec![7_u8, 0, 1, 0, 1, 0, 40, 2];
    let sum = crc::Crc::<u16>::new(&crc::CRC_16_IBM_SDLC).checksum(&old);
    old.extend(sum.to_le_bytes());
    fs::write(&path, old).unwrap();
    let judged = gunline(&["judge", path.to_str().unwrap()]);
    assert_eq!(judged.status.code(), Some(2));
    assert!(text(&judged.stderr).contains("this journal has format 1"), "{}", text(&judged.stderr));
    assert_eq!(gunline(&["judge", folder.join("nowhere").to_str().unwrap()]).status.code(), Some(2));
    let good = folder.join("good.journal");
    fs::write(&good, super::cases::legal()).unwrap();
    assert_eq!(gunline(&["judge", good.to_str().unwrap(), "--heat", "2"]).status.code(), Some(2));
}

#[test]
fn the_page_holds_everything_and_fetches_nothing() {
    let folder = folder("page");
    let path = folder.join("restarted.journal");
    fs::write(&path, super::cases::restarted()).unwrap();
    let judged = gunline(&["judge", path.to_str().unwrap(), "--out", folder.to_str().unwrap()]);
    assert_eq!(judged.status.code(), Some(0), "{}", text(&judged.stdout));
    let page = fs::read_to_string(folder.join("judge.html")).unwrap();
    let book = fs::read_to_string(folder.join("engine-book.csv")).unwrap();
    assert!(book.starts_with("what,unit,this_heat,since_reset,"), "{book}");
    for part in [
        "Both verdicts",
        "LEGAL by",
        "The record itself",
        "Across the line",
        "Settings used",
        "@page",
        "the race officials decide",
        "Engine limits exceeded",
        "tied to the one before",
    ] {
        assert!(page.contains(part), "{part}");
    }
    assert!(!page.contains("<script") && !page.contains("src=") && !page.contains("<link"));
    assert_eq!(page.matches("<svg").count(), 4);
}

/// Two boats 5 ms apart with bars of 14 ms each are tied; one half a second later is not.
#[test]
fn a_fleet_has_one_order_with_ties_by_error_bar() {
    let folder = folder("fleet");
    let boat = |name: &str, third_s: f64| {
        let settings = super::story::settings();
        let story = super::story::Story::default().pulses(-309, 65).milling(-308, -3).schedule(-200.5, 0.0);
        let path = folder.join(name);
        fs::write(&path, story.crossing(third_s).lap(third_s).told(&settings, None, None)).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let (late, first, near) = (boat("late", 0.6), boat("first", 0.1), boat("near", 0.105));
    let judged = gunline(&["judge", &late, &first, &near, "--json", "--out", folder.to_str().unwrap()]);
    assert_eq!(judged.status.code(), Some(0), "{}", text(&judged.stderr));
    let objects = objects(&judged);
    let starts: Vec<_> =
        of_kind(&objects, "fleet").into_iter().filter(|row| row["order_of"] == "start").collect();
    let row = |number: usize| {
        let row = starts[number];
        (row["file"].as_str().unwrap(), row["place"].as_i64().unwrap(), row["tied"].as_bool().unwrap())
    };
    assert_eq!([row(0), row(1), row(2)], [("first", 1, true), ("near", 1, true), ("late", 3, false)]);
    assert!((starts[2]["behind_us"].as_i64().unwrap() - 500_000).abs() < 1_000);
    assert!(fs::read_to_string(folder.join("fleet.html")).unwrap().contains("Order of starting"));
}

/// Arithmetic: 20 ppm are 6 ms in 300 s.
#[test]
fn a_clock_check_states_offsets_and_answers_whether_they_are_within() {
    let folder = folder("clock");
    let (table, page) = (folder.join("lamp.csv"), folder.join("clock.html"));
    let rows: String = (0..=10).map(|n| format!("{},{}\n", n * 30 * 240, n * 30 * 240 + 2 + n / 7)).collect();
    fs::write(&table, format!("reference_frame,board_frame\n{rows}")).unwrap();
    let table = table.to_str().unwrap();
    let words = [
        "clock-check",
        table,
        "--frames-per-second",
        "240",
        "--json",
        "--certificate",
        page.to_str().unwrap(),
        "--date",
        "2031-05-17",
        "--temperature",
        "-3.5",
        "--board",
        "an invented board",
    ];
    let checked = gunline(&words);
    assert_eq!(checked.status.code(), Some(0), "{}", text(&checked.stderr));
    let said = &objects(&checked)[0];
    assert_eq!(said["offsets"].as_array().unwrap().len(), 3);
    assert!(said["drift_ppm"].as_f64().unwrap() > 0.0);
    let certificate = fs::read_to_string(&page).unwrap();
    assert!(["-3.5 °C", "2031-05-17", "300 s"].iter().all(|part| certificate.contains(part)));
    let strict: Vec<&str> = words.into_iter().chain(["--within-ms", "1"]).collect();
    assert_eq!(gunline(&strict).status.code(), Some(1));
    assert_eq!(gunline(&["clock-check", table]).status.code(), Some(2));
}

/// The world's crystal is drawn for each heat; the run says which, and pulses show it.
#[test]
fn a_clock_check_by_pulses_finds_the_crystal_that_was_drawn() {
    let folder = folder("pulses");
    let run = objects(&gunline(&["run", "sim/heats/late.toml", "--json"]));
    let drawn = run[0]["drawn"].as_array().unwrap();
    let crystal = drawn.iter().find(|drawn| drawn["name"].as_str().unwrap().contains("crystal")).unwrap();
    let ppm: f64 = crystal["value"].as_str().unwrap().split_whitespace().next().unwrap().parse().unwrap();
    let checked = gunline(&["clock-check", &journal(&folder, "late", &[]), "--journal", "--json"]);
    let found = objects(&checked)[0]["drift_ppm"].as_f64().unwrap();
    // The crystal also wanders with temperature by some tenths of a ppm.
    assert!((found - ppm).abs() < 0.5, "{found} for {ppm}");
}

/// The second opinion works in UTC over all starts of the program; the dash carried zero and laps through them.
#[test]
fn restarts_and_lost_pulses_are_judged_good() {
    let folder = folder("faults");
    let settings = Path::new(env!("CARGO_MANIFEST_DIR")).join("heats/reach.toml");
    let faults = [
        ("blip", "at = \"-2:00.000\"\nkind = \"power-blip\"\nfor_s = 1.5"),
        ("reset", "at = \"0:30.000\"\nkind = \"watchdog-reset\""),
        ("pulses", "at = \"-6:00.000\"\nkind = \"pps-lost\"\nfor_s = 900.0"),
    ];
    for (name, fault) in faults {
        let heat = format!(
            "title = \"Invented\"\nsettings = {settings:?}\nseed = 11\n[start]\nzero_utc = 2031-05-17T19:05:00.000Z\n\
             [boat.drive]\n[[fault]]\n{fault}\n"
        );
        let (file, journal) = (folder.join(name).with_extension("toml"), folder.join(name));
        fs::write(&file, heat).unwrap();
        let run = gunline(&["run", file.to_str().unwrap(), "--journal", journal.to_str().unwrap()]);
        assert!(run.status.success(), "{}", text(&run.stderr));
        let judged = gunline(&["judge", journal.to_str().unwrap()]);
        assert_eq!(judged.status.code(), Some(0), "{name}: {}", text(&judged.stdout));
    }
}
