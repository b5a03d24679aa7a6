//! docs/json.md names every field that a command prints with `--json`, and no other.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test that fails panics")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::PathBuf;
use std::process::Command;

use firmware::output::{Output, Refused, Stray};
use firmware::units::{Instant, Millimetres, Span};
use gunline::json::{Line, write_line};
use gunline::log::Decided;
use serde_json::Value;

/// Fields by command, each as `kind.field`, and the kind alone for the object, with `[]` for what stands in a list.
type Fields = BTreeMap<String, BTreeSet<String>>;

fn top() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// What a command prints; that its answer is no is no failure here.
fn said(words: &[&str]) -> String {
    let run = Command::new(env!("CARGO_BIN_EXE_gunline")).args(words).current_dir(top()).output().unwrap();
    assert!(run.status.code().is_some_and(|status| status <= 1), "{words:?}: {run:?}");
    String::from_utf8(run.stdout).unwrap()
}

fn add(fields: &mut Fields, command: &str, lines: &str) {
    let of = fields.entry(command.into()).or_default();
    for line in lines.lines() {
        let object: Value = serde_json::from_str(line).unwrap();
        let kind = object["kind"].as_str().unwrap().to_string();
        walk(&object, &kind, of);
    }
}

fn walk(value: &Value, path: &str, into: &mut BTreeSet<String>) {
    match value {
        Value::Object(inner) => {
            inner.iter().for_each(|(name, value)| walk(value, &format!("{path}.{name}"), into))
        }
        Value::Array(inner) if inner.iter().any(Value::is_object) => {
            inner
                .iter()
                .filter(|value| value.is_object())
                .for_each(|value| walk(value, &format!("{path}[]"), into));
        }
        _ => drop(into.insert(path.into())),
    }
}

/// `null` and an empty list say nothing of what stands there at other times.
fn without_parents(of: &BTreeSet<String>) -> BTreeSet<String> {
    let is_parent = |path: &String| {
        of.iter()
            .any(|other| other.strip_prefix(path.as_str()).is_some_and(|rest| rest.starts_with(['.', '['])))
    };
    of.iter().filter(|path| !is_parent(path)).cloned().collect()
}

/// As the page names it: `kind` is the object's own row; the two times that all have are told once.
fn named(path: &str) -> Option<String> {
    match path.split_once('.') {
        Some((kind, "kind")) => Some(kind.into()),
        Some((_, "t_us" | "race_us")) => None,
        _ => Some(path.into()),
    }
}

/// Lines that no shipped heat has.
fn rare() -> String {
    let outputs = [
        Output::Lost(1),
        Output::LapMissed { run: Millimetres::from_mm(1) },
        Output::Stray { contact: false, why: Stray::NoSignalDue },
        Output::Cleared,
        Output::Refused(Refused::Late),
    ];
    let mut text = Vec::new();
    for output in outputs {
        let decided = Decided { t: Span::ZERO, at: Instant::BOOT, race: None, output };
        write_line(&Line::of(Span::ZERO, &decided), &mut text).unwrap();
    }
    String::from_utf8(text).unwrap()
}

fn printed() -> Fields {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("json-page");
    fs::create_dir_all(&folder).unwrap();
    let path = |name: &str| folder.join(name).to_str().unwrap().to_string();
    let mut fields = Fields::new();
    add(&mut fields, "run", &rare());
    for heat in ["first", "jumped", "good-start", "over-fuel", "learn", "half-blind"] {
        let journal = path(&format!("{heat}.journal"));
        let heat = format!("sim/heats/{heat}.toml");
        add(&mut fields, "run", &said(&["run", &heat, "--json", "--journal", &journal]));
    }
    let (whole, cut, changed) = (path("first.journal"), path("cut.journal"), path("changed.journal"));
    let mut bytes = fs::read(&whole).unwrap();
    fs::write(&cut, &bytes[..bytes.len() / 2]).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    fs::write(&changed, bytes).unwrap();
    add(&mut fields, "judge", &said(&["judge", &whole, &cut, &changed, &path("jumped.journal"), "--json"]));
    // What the dash decided is said as `run` says it, and stands under that command.
    let of_run: BTreeSet<String> =
        fields["run"].iter().filter(|path| !path.starts_with("heat.")).cloned().collect();
    fields.get_mut("judge").unwrap().retain(|path| !of_run.contains(path));
    fs::write(path("some.nmea"), FIX).unwrap();
    add(&mut fields, "fixes", &said(&["fixes", &path("some.nmea"), "--json"]));
    let starts = ["--starts", "40", "--json"];
    add(&mut fields, "sweep", &said(&[&["sweep", "sim/heats/first.toml"], &starts[..]].concat()));
    add(&mut fields, "dock", &said(&[&["dock", "sim/heats/good-start.toml"], &starts[..]].concat()));
    // Cut short, no rule can be broken on purpose: the fields are the same.
    add(&mut fields, "prove", &said(&["prove", "--json", "--depth", "3", "--out", &path("proof")]));
    add(&mut fields, "clock-check", &said(&["clock-check", "--journal", &whole, "--json"]));
    add(&mut fields, "export", &said(&["export", &whole, "--csv", &path("first.csv"), "--json"]));
    let course = path("reach.toml");
    fs::copy(top().join("sim/heats/reach.toml"), &course).unwrap();
    let tape = ["--tape", "4.2", "--date", "2031-05-17", "--json"];
    add(&mut fields, "calibrate", &said(&[&["calibrate", "antenna", &course], &tape[..]].concat()));
    add(&mut fields, "heats", &said(&["heats", "--json"]));
    let named = |of| without_parents(of).iter().filter_map(|path| named(path)).collect();
    fields.iter().map(|(command, of)| (command.clone(), named(of))).collect()
}

/// Source: research-cruise raw GNSS log, 2020 (ATOMIC), one RMC; and a sentence whose sum is wrong.
const FIX: &str =
    "$GPRMC,060000.00,A,1353.25162451,N,05445.30213512,W,10.17,70.52,080220,16.8,W,D*05\r\n$GPRMC,1*00\r\n";

/// Rows of the page's tables: the first cell is the field, between ticks.
fn written() -> Fields {
    let page = fs::read_to_string(top().join("docs/json.md")).unwrap();
    let (mut fields, mut command) = (Fields::new(), None);
    for line in page.lines() {
        if let Some(heading) = line.strip_prefix("## ") {
            command = heading.strip_prefix("gunline ").map(String::from);
        }
        let cell = line.strip_prefix("| `").and_then(|rest| rest.split_once("` |"));
        if let (Some(command), Some((field, _))) = (&command, cell) {
            assert!(fields.entry(command.clone()).or_default().insert(field.into()), "twice: {field}");
        }
    }
    fields
}

#[test]
fn every_field_printed_is_on_the_page_and_every_field_on_the_page_is_printed() {
    let (printed, written) = (printed(), written());
    let lacks = |one: &Fields, other: &Fields| {
        let none = BTreeSet::new();
        let of = |(command, fields): (&String, &BTreeSet<String>)| {
            let has = other.get(command).unwrap_or(&none);
            fields.difference(has).map(|field| format!("{command} {field}")).collect::<Vec<_>>()
        };
        one.iter().flat_map(of).collect::<Vec<_>>()
    };
    assert_eq!(lacks(&printed, &written), Vec::<String>::new(), "printed, and not on the page");
    assert_eq!(lacks(&written, &printed), Vec::<String>::new(), "on the page, and not printed");
}
