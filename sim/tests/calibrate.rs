//! Calibrations as their user makes them: each command with a settings file, before and after, and what is in the file then.

#![allow(clippy::unwrap_used, reason = "a test that fails panics")]

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;

fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// A settings file of his own, with a comment of his.
fn own(name: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("calibrate");
    fs::create_dir_all(&folder).unwrap();
    let path = folder.join(name);
    let text = fs::read_to_string(top().join("sim/heats/reach.toml")).unwrap();
    fs::write(&path, format!("# mine, keep it\n{text}")).unwrap();
    path
}

/// Status, standard output and standard error.
fn said(words: &[&str], file: &Path) -> (Option<i32>, String, String) {
    let (verb, rest) = words.split_first().unwrap();
    let mut command = Command::cargo_bin("gunline").unwrap();
    let command = command.current_dir(top()).args(["calibrate", verb]).arg(file).args(rest);
    let output = command.args(["--date", "2031-05-17"]).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (output.status.code(), text(output.stdout), text(output.stderr))
}

#[test]
fn five_calibrations_stand_in_the_file_afterwards_and_the_owner_s_words_stay() {
    let file = own("five.toml");
    let journal = file.with_file_name("first.journal");
    let mut run = Command::cargo_bin("gunline").unwrap();
    run.current_dir(top())
        .args(["run", "sim/heats/first.toml", "--journal"])
        .arg(&journal)
        .assert()
        .success();
    let delays = file.with_file_name("delays.txt");
    let lines: String = (0..40).map(|n| if n % 2 == 0 { "0.20\n" } else { "0.24\n" }).collect();
    fs::write(&delays, lines).unwrap();
    let (journal, delays) = (journal.to_str().unwrap(), delays.to_str().unwrap());
    let all: [&[&str]; 5] = [
        &["thermocouple", "--ice", "0.6", "--boiling", "99.1", "--hpa", "1000", "--yes"],
        &["tach", "n2", "--counted", "166.667", "--percent", "100", "--yes"],
        &["antenna", "--tape", "4.2", "--sd", "0.02", "--yes"],
        &["thumb", "--delays", delays, "--yes"],
        &["crystal", "--journal", journal, "--yes"],
    ];
    for words in all {
        let (status, out, err) = said(words, &file);
        assert_eq!(status, Some(0), "{words:?}: {err}");
        assert!(out.contains("before") && out.contains("after") && out.contains("officials decide"), "{out}");
    }
    let text = fs::read_to_string(&file).unwrap();
    assert!(text.starts_with("# mine, keep it\n"), "{text}");
    for line in
        ["boils_at_c = 99.6", "rpm_at_100 = 10000", "antenna_to_bow_m = 4.200", "reaction_mean_s = 0.220"]
    {
        assert!(text.contains(line), "{line} in\n{text}");
    }
    assert_eq!(text.matches("made = 2031-05-17").count(), 5, "{text}");
    Command::cargo_bin("gunline").unwrap().arg("pack").arg(&file).assert().success();
}

#[test]
fn nothing_is_written_without_a_yes_and_nonsense_is_status_one() {
    let file = own("untouched.toml");
    let before = fs::read_to_string(&file).unwrap();
    let (status, out, err) = said(&["antenna", "--tape", "4.2"], &file);
    assert_eq!(
        (status, out.contains("4.200"), err.contains("nothing is written")),
        (Some(0), true, true),
        "{err}"
    );
    let (status, _, err) =
        said(&["thermocouple", "--ice", "14", "--boiling", "99", "--hpa", "1000", "--yes"], &file);
    assert_eq!((status, err.contains("crushed ice")), (Some(1), true), "{err}");
    for words in [
        &["thumb", "--yes"][..],
        &["thumb", "--here", "--board"],
        &["crystal", "--board", "--port", "nowhere"],
        &["tach", "n1", "--counted", "70", "--port", "nowhere"],
        &["thermocouple", "--ice", "0.6", "--hpa", "1000"],
        &["thermocouple", "--journal", "any", "--ice-at", "120", "--hpa", "1000"],
    ] {
        assert_eq!(said(words, &file).0, Some(2), "{words:?}");
    }
    assert_eq!(fs::read_to_string(&file).unwrap(), before);
}

/// The world draws its thumb from a mean of 0.25 s and a deviation of 0.06 s (the shipped heat's); one gun in a heat has a
/// contact, so one heat is far too few, and the command says how many are missing.
#[test]
fn a_single_heat_s_presses_are_too_few_for_a_thumb() {
    let file = own("few.toml");
    let journal = file.with_file_name("few.journal");
    let mut run = Command::cargo_bin("gunline").unwrap();
    run.current_dir(top())
        .args(["run", "sim/heats/first.toml", "--journal"])
        .arg(&journal)
        .assert()
        .success();
    let (status, _, err) = said(&["thumb", "--journal", journal.to_str().unwrap(), "--yes"], &file);
    assert_eq!((status, err.contains("20 are needed")), (Some(1), true), "{err}");
}
