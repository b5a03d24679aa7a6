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
