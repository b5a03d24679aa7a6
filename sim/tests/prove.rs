//! `gunline prove` as its users call it: what it prints, and what its exit status says.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test that fails panics")]

use std::path::Path;
use std::process::Output;

use assert_cmd::Command;
use serde_json::Value;

/// With a folder of its own for counter-examples, which must stay empty.
fn prove(name: &str, words: &[&str]) -> Output {
    let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = std::fs::remove_dir_all(&out);
    let output = Command::cargo_bin("gunline")
        .unwrap()
        .arg("prove")
        .args(words)
        .arg("--out")
        .arg(&out)
        .output()
        .unwrap();
    assert!(!out.exists(), "nothing is written where no rule is broken");
    output
}

fn text(bytes: &[u8]) -> &str {
    std::str::from_utf8(bytes).unwrap()
}

#[test]
fn a_search_that_is_cut_short_proves_nothing_and_says_so() {
    let output = prove("prove-short", &["--depth", "8", "--json"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(text(&output.stderr).contains("cut short"), "{}", text(&output.stderr));
    let objects: Vec<Value> =
        text(&output.stdout).lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let (last, rules) = objects.split_last().unwrap();
    assert_eq!((&last["kind"], &last["closed"], &last["depth"]), (&"proof".into(), &false.into(), &8.into()));
    assert!(last["states"].as_u64().unwrap() > 100 && last["transitions"].as_u64() > last["states"].as_u64());
    assert!(rules.len() > 20 && rules.iter().all(|rule| rule["kind"] == "rule" && rule["rule"].is_string()));
    // So few happenings arm the clock, but bring nobody to the finish of a heat with a penalty lap.
    let verdict = |name: &str| &rules.iter().find(|rule| rule["rule"] == name).unwrap()["verdict"];
    assert_eq!(verdict("C2"), "held so far");
    assert_eq!(verdict("L4"), "not reached");
}

#[test]
fn the_table_names_every_rule_and_ends_with_who_decides() {
    let output = prove("prove-table", &["--depth", "4", "--threads", "1"]);
    assert_eq!(output.status.code(), Some(1));
    let table = text(&output.stdout);
    assert!(table.contains("CUT SHORT") && table.contains("the race officials decide"), "{table}");
    for rule in ["C1", "C12", "S7", "L8"] {
        assert!(table.lines().any(|line| line.split(' ').next() == Some(rule)), "{rule}: {table}");
    }
}
