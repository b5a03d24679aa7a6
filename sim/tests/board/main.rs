//! `gunline board` against a board that is not there: the board's own talk over memory, at the end of a pseudo-terminal.

#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test that fails panics"
)]

mod cable;
mod calibrate;
mod fake;
mod torture;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

use assert_cmd::Command;
use cable::Cable;
use fake::Fake;
use firmware::gnss::calendar::from_rfc3339;
use firmware::settings::{SETTINGS_VERSION, Settings};
use firmware::talk::SettingsFrom;
use gunline::{pack, scenario};
use torture::Torture;

/// An empty folder for one test.
fn folder(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("board").join(name);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

fn gunline(words: &[&str]) -> Output {
    Command::cargo_bin("gunline").unwrap().args(words).output().unwrap()
}

/// `gunline board` at a cable, patient enough for a loaded machine.
fn board(cable: &Cable, words: &[&str]) -> Output {
    gunline(&[&["board", "--port", cable.port(), "--wait-s", "20"], words].concat())
}

fn said(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// A shipped settings file, and the bytes that a board keeps of it.
fn shipped() -> (PathBuf, Vec<u8>) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("heats/reach.toml");
    let mut buffer = [0; Settings::ENCODED_MAX];
    let encoded = scenario::load_settings(&path).unwrap().encode(&mut buffer).to_vec();
    (path, encoded)
}

#[test]
fn show_says_who_the_board_is_and_how_it_stands() {
    let cable = Cable::plug(&folder("show"), Fake::new(), None);
    let show = board(&cable, &["show"]);
    assert!(show.status.success(), "{}", said(&show));
    let shown = String::from_utf8_lossy(&show.stdout);
    for line in [
        "start clock               waits",
        "settings                  defaults, without a course: none were ever sent",
        "pulse per second          SILENT",
        "storage chip              ef4018",
        "journal                   positions 700 to 760",
    ] {
        assert!(shown.contains(line), "{line:?} is missing:\n{shown}");
    }
}

#[test]
fn settings_go_in_from_a_settings_file_and_packed_and_come_back() {
    let folder = folder("settings");
    let (file, encoded) = shipped();
    let packed = folder.join("reach.packed");
    assert!(gunline(&["pack", text(&file), "-o", text(&packed)]).status.success());
    for file in [&file, &packed] {
        let cable = Cable::plug(&folder, Fake::new(), None);
        let sent = board(&cable, &["settings", text(file)]);
        assert!(sent.status.success(), "{}", said(&sent));
        let back = folder.join("back.packed");
        let read = board(&cable, &["settings-read", "--out", text(&back)]);
        assert!(String::from_utf8_lossy(&read.stdout).contains("4023.36 m"), "{}", said(&read));
        assert_eq!(fs::read(&back).unwrap(), fs::read(&packed).unwrap());
        let fake = cable.pull();
        assert_eq!((fake.settings, fake.times_kept), (Some(encoded.clone()), 1));
    }
}

#[test]
fn settings_are_refused_while_a_clock_runs_and_the_old_ones_stay() {
    let mut fake = Fake::new();
    fake.standing.clock_runs = true;
    let cable = Cable::plug(&folder("running"), fake, None);
    let sent = board(&cable, &["settings", text(&shipped().0)]);
    assert_eq!(sent.status.code(), Some(1));
    assert!(said(&sent).contains("a start clock runs"), "{}", said(&sent));
    assert_eq!(cable.pull().settings, None);
}

#[test]
fn wrong_settings_are_told_with_file_line_and_key_and_nothing_is_sent() {
    let folder = folder("wrong");
    let file = folder.join("wrong.toml");
    let good = fs::read_to_string(shipped().0).unwrap();
    fs::write(&file, good.replace("laps", "lapse")).unwrap();
    let damaged = folder.join("damaged.packed");
    let mut bytes = pack::pack(&Settings::bare());
    bytes[30] ^= 1;
    fs::write(&damaged, bytes).unwrap();
    let cable = Cable::plug(&folder, Fake::new(), None);
    for words in [&["settings", text(&file)][..], &["settings", text(&damaged)]] {
        let sent = board(&cable, words);
        assert_eq!(sent.status.code(), Some(2), "{}", said(&sent));
    }
    let packed = gunline(&["pack", text(&file)]);
    assert_eq!(packed.status.code(), Some(2));
    let line = 1 + good.lines().position(|line| line.starts_with("laps")).unwrap();
    let told = said(&packed);
    assert!(told.contains(&format!("wrong.toml:{line}")) && told.contains("lapse"), "{told}");
    assert!(!folder.join("wrong.packed").exists());
    assert_eq!(cable.pull().times_kept, 0);
}

#[test]
fn the_journal_comes_out_byte_for_byte_and_goes_on_from_where_it_ended() {
    let folder = folder("journal");
    let (out, rest) = (folder.join("heat.journal"), folder.join("rest.journal"));
    let fake = Fake::new();
    let whole = fake.pages.concat();
    let cable = Cable::plug(&folder, fake, None);
    let fetched = board(&cable, &["journal", text(&out)]);
    assert!(fetched.status.success(), "{}", said(&fetched));
    assert!(said(&fetched).contains("--from 760"), "{}", said(&fetched));
    assert_eq!(fs::read(&out).unwrap(), whole);
    assert!(!folder.join("heat.journal.part").exists());
    let again = board(&cable, &["journal", text(&out)]);
    assert_eq!(again.status.code(), Some(2), "a record is not overwritten");
    let half = folder.join("half.journal.part");
    fs::write(&half, b"the only copy").unwrap();
    let half_again = board(&cable, &["journal", text(&folder.join("half.journal"))]);
    assert_eq!(half_again.status.code(), Some(2), "nor is half of one");
    assert_eq!(fs::read(&half).unwrap(), b"the only copy");
    let mut fake = cable.pull();
    fake.pages.push(b"recorded later".to_vec());
    fake.standing.journal.acknowledged += 1;
    let cable = Cable::plug(&folder, fake, None);
    assert!(board(&cable, &["journal", text(&rest), "--from", "760"]).status.success());
    assert_eq!(fs::read(&rest).unwrap(), b"recorded later");
}

#[test]
fn a_pulled_cable_and_a_restart_of_the_board_lose_nothing_of_the_journal() {
    let folder = folder("pulled");
    let out = folder.join("heat.journal");
    let mut fake = Fake::new();
    let whole = fake.pages.concat();
    fake.unplug_after = Some(5);
    let cable = Cable::plug(&folder, fake, None);
    let replugger = cable.plug_in_again(|fake| fake.restart_after = Some(4));
    let fetched = board(&cable, &["journal", text(&out)]);
    assert!(fetched.status.success(), "{}", said(&fetched));
    assert!(said(&fetched).contains("waiting for it"), "{}", said(&fetched));
    assert_eq!(fs::read(&out).unwrap(), whole);
    let fake = replugger.join().unwrap().pull();
    assert_eq!((fake.unplug_after, fake.restart_after), (None, None), "both happened");
}

#[test]
fn another_board_at_the_same_cable_is_noticed_and_what_came_before_is_kept() {
    let folder = folder("other");
    let out = folder.join("heat.journal");
    let mut fake = Fake::new();
    fake.unplug_after = Some(5);
    let cable = Cable::plug(&folder, fake, None);
    let replugger = cable.plug_in_again(|fake| fake.pages.iter_mut().flatten().for_each(|byte| *byte ^= 1));
    let fetched = board(&cable, &["journal", text(&out)]);
    assert_eq!(fetched.status.code(), Some(3), "{}", said(&fetched));
    assert!(said(&fetched).contains("another board"), "{}", said(&fetched));
    assert!(!out.exists() && fs::metadata(folder.join("heat.journal.part")).unwrap().len() > 0);
    replugger.join().unwrap();
}

#[test]
fn a_board_that_stays_away_leaves_a_part_that_a_later_command_completes() {
    let folder = folder("away");
    let out = folder.join("heat.journal");
    let mut fake = Fake::new();
    let whole = fake.pages.concat();
    fake.unplug_after = Some(5);
    let cable = Cable::plug(&folder, fake, None);
    let words = ["board", "--port", cable.port(), "--wait-s", "0", "journal", text(&out)];
    let fetched = gunline(&words);
    assert_eq!(fetched.status.code(), Some(3));
    let told = said(&fetched);
    let from = told.rsplit("--from ").next().unwrap().trim();
    let cable = Cable::plug(&folder, cable.pull(), None);
    let rest = board(&cable, &["journal", text(&out), "--from", from]);
    assert!(rest.status.success(), "{told}{}", said(&rest));
    assert_eq!(fs::read(&out).unwrap(), whole);
}

#[test]
fn a_schedule_reaches_the_board_once_and_one_that_is_past_is_told() {
    let moment = "2031-05-17T19:05:00Z";
    let cable = Cable::plug(&folder("schedule"), Fake::new(), None);
    let given = board(&cable, &["schedule", moment]);
    assert!(given.status.success(), "{}", said(&given));
    assert_eq!(board(&cable, &["schedule", "2001-01-01T00:00:00Z"]).status.code(), Some(1));
    assert_eq!(board(&cable, &["schedule", "tomorrow"]).status.code(), Some(2));
    assert_eq!(
        cable.pull().schedules,
        [moment, "2001-01-01T00:00:00Z"].map(|text| from_rfc3339(text).unwrap())
    );
}

#[test]
fn whatever_the_line_drops_doubles_cuts_and_delays_nothing_acknowledged_is_lost_and_nothing_done_twice() {
    for seed in 1..=4 {
        let folder = folder(&format!("torture-{seed}"));
        let out = folder.join("heat.journal");
        let (file, encoded) = shipped();
        let fake = Fake::new();
        let whole = fake.pages.concat();
        let cable = Cable::plug(&folder, fake, Some(Torture::new(seed)));
        let words = |more: &[&str]| {
            gunline(&[&["board", "--port", cable.port(), "--answer-ms", "100"], more].concat())
        };
        let fetched = words(&["journal", text(&out)]);
        assert!(fetched.status.success(), "seed {seed}: {}", said(&fetched));
        assert_eq!(fs::read(&out).unwrap(), whole, "seed {seed}");
        let sent = words(&["settings", text(&file)]);
        assert!(sent.status.success(), "seed {seed}: {}", said(&sent));
        let given = words(&["schedule", "2031-05-17T19:05:00Z"]);
        assert!(given.status.success(), "seed {seed}: {}", said(&given));
        let fake = cable.pull();
        assert_eq!((fake.settings, fake.times_kept), (Some(encoded), 1), "seed {seed}");
        assert_eq!(fake.schedules.len(), 1, "seed {seed}");
    }
}

#[test]
fn a_port_that_is_not_there_or_does_not_answer_leaves_with_3_and_says_what_to_do() {
    let none = gunline(&["board", "--port", "/nowhere/at/all", "show"]);
    assert_eq!(none.status.code(), Some(3));
    assert!(said(&none).contains("gunline board find"), "{}", said(&none));
    let mut fake = Fake::new();
    fake.is_dumb = true;
    let cable = Cable::plug(&folder("dumb"), fake, None);
    let dumb = gunline(&["board", "--port", cable.port(), "--answer-ms", "10", "show"]);
    assert_eq!(dumb.status.code(), Some(3));
    assert!(said(&dumb).contains("does not answer"), "{}", said(&dumb));
}

fn json_of(output: &Output) -> serde_json::Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|why| panic!("{why}: {}", said(output)))
}

#[test]
fn utc_is_told_with_this_machines_clock_and_an_uncertainty_that_bounds_the_question() {
    use std::time::{SystemTime, UNIX_EPOCH};
    let before = SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_micros() as i64;
    let cable = Cable::plug(&folder("utc"), Fake::new(), None);
    let told = board(&cable, &["utc", "--clock-sd-ms", "20", "--json"]);
    assert!(told.status.success(), "{}", said(&told));
    let after = SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_micros() as i64;
    let fake = cable.pull();
    let [(at, utc, sd)] = fake.told[..] else { panic!("{:?}", fake.told) };
    let said = json_of(&told);
    assert!((before..=after).contains(&utc.as_unix_micros()), "{before} {utc:?} {after}");
    assert_eq!(said["board_us"].as_u64(), Some(at.as_micros()));
    let half_way = said["half_way_us"].as_i64().unwrap();
    // The root of the sum of squares of 20 ms and half the way.
    let expected = ((20_000_i64.pow(2) + half_way.pow(2)) as f64).sqrt();
    assert!((sd.as_micros() as f64 - expected).abs() < 2.0, "{sd:?} {expected}");
}

#[test]
fn what_was_learned_is_shown_and_answered_once_and_without_an_offer_nothing_is_taken_over() {
    let folder = folder("learned");
    let cable = Cable::plug(&folder, Fake::new(), None);
    assert!(board(&cable, &["learned"]).status.success());
    assert_eq!(board(&cable, &["learned", "--accept"]).status.code(), Some(1));
    assert_eq!(board(&cable, &["learned", "--accept", "--refuse"]).status.code(), Some(2));
    let mut fake = cable.pull();
    assert!(fake.answered.is_empty());
    fake.offer = Some(fake::OFFER);
    let cable = Cable::plug(&folder, fake, None);
    let shown = board(&cable, &["learned"]);
    assert!(String::from_utf8_lossy(&shown.stdout).contains("mean pull 5.5 instead of 5.0"), "{shown:?}");
    assert!(board(&cable, &["learned", "--accept"]).status.success());
    assert!(board(&cable, &["learned", "--refuse"]).status.success());
    assert_eq!(cable.pull().answered, [true, false]);
}

#[test]
fn the_engines_account_is_lost_only_when_that_was_said_and_never_while_a_clock_runs() {
    let folder = folder("engine");
    let mut fake = Fake::new();
    fake.suffered = fake::an_hour();
    let cable = Cable::plug(&folder, fake, None);
    let asked = board(&cable, &["engine-reset"]);
    assert_eq!(asked.status.code(), Some(1));
    assert!(said(&asked).contains("3600 s") && said(&asked).contains("--yes"), "{}", said(&asked));
    let mut fake = cable.pull();
    assert_eq!((fake.times_forgotten, fake.suffered), (0, fake::an_hour()));
    fake.standing.clock_runs = true;
    let cable = Cable::plug(&folder, fake, None);
    assert_eq!(board(&cable, &["engine-reset", "--yes"]).status.code(), Some(1));
    let mut fake = cable.pull();
    assert_eq!(fake.times_forgotten, 0);
    fake.standing.clock_runs = false;
    let cable = Cable::plug(&folder, fake, None);
    let done = board(&cable, &["engine-reset", "--yes", "--json"]);
    assert_eq!(json_of(&done)["was"]["total"]["starts"], 12);
    assert_eq!(cable.pull().times_forgotten, 1);
}

#[test]
fn every_verb_says_one_json_object_when_asked_to() {
    let folder = folder("json");
    let cable = Cable::plug(&folder, Fake::new(), None);
    let (file, _) = shipped();
    let journal = folder.join("heat.journal");
    for words in [
        &["show"][..],
        &["settings", text(&file)],
        &["settings-read"],
        &["journal", text(&journal)],
        &["schedule", "2031-05-17T19:05:00Z"],
        &["utc"],
        &["learned"],
        &["engine"],
        &["engine-reset", "--yes"],
        &["readings"],
        &["picture"],
    ] {
        let output = board(&cable, &[words, &["--json"]].concat());
        assert!(output.status.success(), "{words:?}: {}", said(&output));
        assert!(!json_of(&output).is_null(), "{words:?}");
        assert_eq!(output.stdout.iter().filter(|byte| **byte == b'\n').count(), 1, "{words:?}");
    }
}

/// Under torture, what changes a board is done once or its sender is told that it may not have been.
#[test]
fn a_tortured_line_changes_nothing_twice() {
    for seed in 5..=7 {
        let mut fake = Fake::new();
        (fake.offer, fake.suffered) = (Some(fake::OFFER), fake::an_hour());
        let cable = Cable::plug(&folder(&format!("torture-{seed}")), fake, Some(Torture::new(seed)));
        for words in
            [&["utc"][..], &["learned", "--accept"], &["engine-reset", "--yes"], &["picture"], &["readings"]]
        {
            let words = [&["board", "--port", cable.port(), "--answer-ms", "100"], words].concat();
            let output = gunline(&words);
            assert!(output.status.success(), "seed {seed}, {words:?}: {}", said(&output));
        }
        let fake = cable.pull();
        assert_eq!(
            (fake.told.len(), &fake.answered[..], fake.times_forgotten),
            (1, &[true][..], 1),
            "seed {seed}"
        );
    }
}

/// The minute before zero on a fake board whose clock goes 20 times as fast as time.
fn bench(cable: &Cable, more: &[&str]) -> Output {
    let heat = Path::new(env!("CARGO_MANIFEST_DIR")).join("heats/first.toml");
    let words = ["bench", text(&heat), "--from", "-1:05", "--until", "0:02", "--port", cable.port()];
    gunline(&[&words, more].concat())
}

fn fast() -> Fake {
    let mut fake = Fake::new();
    fake.speed = 20;
    fake
}

#[test]
fn a_heat_on_the_bench_is_equal_and_says_how_late_each_decision_was() {
    let folder = folder("bench");
    let cable = Cable::plug(&folder, fast(), None);
    let out = folder.join("out");
    let played = bench(&cable, &["--json", "--out", text(&out)]);
    assert_eq!(played.status.code(), Some(0), "{}{}", said(&played), String::from_utf8_lossy(&played.stdout));
    let verdict = json_of(&played);
    assert_eq!((&verdict["equal"], &verdict["differences"]), (&true.into(), &0.into()));
    let agreed = verdict["agreed"].as_u64().unwrap();
    assert!(agreed > 20, "{verdict}");
    // The fake says 0.3 ms for each: all in the bar from 0.2 to 0.5 ms.
    assert_eq!(verdict["decisions_late"]["counts"][1].as_u64(), Some(agreed), "{verdict}");
    assert!(fs::read_to_string(out.join("latency.svg")).unwrap().contains("decisions made"));
    let fake = cable.pull();
    assert!(!fake.bench.is_on(), "it was taken off the bench");
}

#[test]
fn a_board_that_decides_otherwise_is_told_at_once_and_leaves_with_1() {
    let mut fake = fast();
    fake.lies_every = Some(9);
    let cable = Cable::plug(&folder("bench-lies"), fake, None);
    let played = bench(&cable, &[]);
    assert_eq!(played.status.code(), Some(1), "{}", said(&played));
    let told = String::from_utf8_lossy(&played.stdout).into_owned();
    assert!(told.contains("only the board: clock cleared") && told.contains("DIFFERENT"), "{told}");
}

#[test]
fn a_cable_pulled_in_a_heat_on_the_bench_leaves_with_3() {
    let mut fake = fast();
    fake.unplug_bench_after = Some(12);
    let cable = Cable::plug(&folder("bench-pulled"), fake, None);
    let played = bench(&cable, &["--answer-ms", "50"]);
    assert_eq!(played.status.code(), Some(3), "{}", said(&played));
    assert!(said(&played).contains("went away"), "{}", said(&played));
}
#[test]
fn what_the_board_holds_is_written_as_a_settings_file_that_reads_the_same_and_overwrites_none() {
    let folder = folder("toml");
    let file = folder.join("board.toml");
    let (path, encoded) = shipped();
    let mut fake = Fake::new();
    fake.settings = Some(encoded);
    let cable = Cable::plug(&folder, fake, None);
    let read = board(&cable, &["settings-read", "--toml", text(&file)]);
    assert!(read.status.success(), "{}", said(&read));
    assert_eq!(scenario::load_settings(&file).unwrap(), scenario::load_settings(&path).unwrap());
    let again = board(&cable, &["settings-read", "--toml", text(&file)]);
    assert_eq!(again.status.code(), Some(2), "{}", said(&again));
}

#[test]
fn settings_of_another_version_are_told_apart_from_damage() {
    let folder = folder("version");
    let other = Settings { version: SETTINGS_VERSION - 1, ..Settings::bare() };
    let mut buffer = [0; Settings::ENCODED_MAX];
    let mut fake = Fake::new();
    fake.standing.settings = SettingsFrom::DefaultsForVersion;
    fake.settings = Some(other.encode(&mut buffer).to_vec());
    let cable = Cable::plug(&folder, fake, None);
    let shown = board(&cable, &["show"]);
    assert!(String::from_utf8_lossy(&shown.stdout).contains("of another version"));
    let version = format!("of version {}; this program reads version {SETTINGS_VERSION}", other.version);
    let read = board(&cable, &["settings-read"]);
    assert!(said(&read).contains(&version), "{}", said(&read));
    let old = folder.join("old.packed");
    fs::write(&old, pack::pack(&other)).unwrap();
    let sent = board(&cable, &["settings", text(&old)]);
    assert_eq!(sent.status.code(), Some(2));
    assert!(said(&sent).contains(&version) && said(&sent).contains("pack them again"), "{}", said(&sent));
}

#[test]
fn a_check_writes_nothing_and_tells_machines_what_is_wrong() {
    let folder = folder("check");
    let (right, wrong) = (folder.join("right.toml"), folder.join("wrong.toml"));
    let good = fs::read_to_string(shipped().0).unwrap();
    fs::write(&right, &good).unwrap();
    fs::write(&wrong, good.replace("laps", "lapse") + "\n[no_such_table]\n").unwrap();
    assert!(gunline(&["pack", "--check", text(&right)]).status.success());
    let told = gunline(&["pack", "--check", "--json", text(&wrong)]);
    assert_eq!(told.status.code(), Some(2));
    let lines: Vec<serde_json::Value> = told
        .stdout
        .split(|byte| *byte == b'\n')
        .filter_map(|line| serde_json::from_slice(line).ok())
        .collect();
    let keys: Vec<_> = lines.iter().map(|line| line["key"].as_str().unwrap()).collect();
    assert_eq!(keys, ["course.lapse", "no_such_table"]);
    assert_eq!(fs::read_dir(&folder).unwrap().count(), 2);
    for kind in ["settings", "heat"] {
        let schema = gunline(&["pack", "--schema", kind]);
        let schema: serde_json::Value = serde_json::from_slice(&schema.stdout).unwrap();
        assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
    }
}
