//! Settings files that are each broken in one thing, made for every key: each gets the right line and the right key.

use super::keys::{another, beside};
use crate::scenario::keys::{Key, Otherwise, Takes, settings::KEYS};
use crate::scenario::number::Decimal;
use crate::scenario::{measure, parse_settings};

/// A broken file: what was done, the text, and the line and the key that must be told.
struct Broken {
    what: String,
    text: String,
    line: usize,
    key: String,
    /// What the words must hold, of what is wrong or of what would be right.
    says: String,
}

/// All limits an owner's, inline.
const OWNERS: &str = "engine.demonstration = false
engine.n1_tach.rpm_at_100 = 4200
engine.n2_tach.rpm_at_100 = 10000
engine.n2_overspeed_pct = 112
engine.egt_starting = [{ above_c = 800, allowed_s = 10 }]
engine.egt_running = [{ above_c = 780, allowed_s = 300 }]
engine.n1 = [{ above_pct = 102, allowed_s = 300 }]
engine.n2 = [{ above_pct = 103, allowed_s = 20 }]
calibration.probe = [{ number = 1, ice_c = 0.6, boiling_c = 99.1, boils_at_c = 99.6, made = 2031-05-17 }]
";

fn course() -> String {
    "course.line_left = [45.0, -30.0]\ncourse.line_right = [45.0, -29.998]\ncourse.lap_length_m = 4023.36\n"
        .to_owned()
}

/// Values that a key does not take, and what must be said of each.
fn wrong_values(key: &Key) -> Vec<(&'static str, String, String)> {
    let beyond = |end: Decimal, step: i64| end.plus(Decimal::whole(step)).unwrap().to_string();
    let ends = |from: Decimal, to: Decimal, unit: &str| {
        let range = format!("from {from} to {to} {unit}").trim_end().to_owned();
        let mut all = vec![
            ("too low", beyond(from, -1), range.clone()),
            ("too high", beyond(to, 1), range),
            ("of another kind", "true".to_owned(), "number".to_owned()),
        ];
        if let Some(first) = measure::units_for(unit).first() {
            let wrong = if *first == "kg" { "mph" } else { "kg" };
            all.push(("in a unit of something else", format!("\"1 {wrong}\""), "but must be".to_owned()));
            all.push(("in no unit", "\"1 blink\"".to_owned(), "no unit here is called blink".to_owned()));
            all.push(("a text without a unit", "\"1\"".to_owned(), "needs a unit".to_owned()));
        }
        all
    };
    match key.takes {
        Takes::Number { unit, from, to } => {
            ends(Decimal::parse(from).unwrap(), Decimal::parse(to).unwrap(), unit)
        }
        Takes::Whole { unit, from, to } => ends(Decimal::whole(from), Decimal::whole(to), unit),
        Takes::Word(_) => vec![("no word of its", "\"nonsense\"".to_owned(), "takes".to_owned())],
        Takes::Flag => vec![("no flag", "1".to_owned(), "true or false".to_owned())],
        Takes::List { .. } => vec![("no list", "1".to_owned(), "list".to_owned())],
        Takes::Bends { .. } => vec![("a bend too short", "[[45.0, -30.0]]".to_owned(), "radius".to_owned())],
        Takes::Place => vec![("half a place", "[45.0]".to_owned(), "latitude".to_owned())],
        Takes::Day => vec![("in quotes", "\"2031-05-17\"".to_owned(), "without quotes".to_owned())],
        Takes::Text | Takes::File | Takes::Moment | Takes::RaceTime => Vec::new(),
    }
}

fn of_plain_key(key: &Key, all: &mut Vec<Broken>) {
    // Whatever holds for the form is told before all else, in words of its own.
    if key.path == "form" {
        return;
    }
    let others = beside(key);
    let line = others.lines().count() + 1;
    let mut add = |what: &str, last: String, at: &str, says: &str| {
        let (what, text) = (format!("{} {what}", key.path), format!("{others}{last}\n"));
        all.push(Broken { what, text, line, key: at.to_owned(), says: says.to_owned() });
    };
    for (what, value, says) in wrong_values(key) {
        add(what, format!("{} = {value}", key.path), key.path, &says);
    }
    let misspelt = format!("{}x", key.path);
    add(
        "misspelt",
        format!("{misspelt} = {}", another(key)),
        &misspelt,
        &format!("did you mean `{}`", key.name()),
    );
    let (elsewhere, belongs) = (format!("screen.{}", key.name()), format!("[{}]", key.table()));
    if KEYS.iter().filter(|other| other.name() == key.name()).count() == 1 && key.table() != "screen" {
        add("in another table", format!("{elsewhere} = {}", another(key)), &elsewhere, &belongs);
    }
}

fn of_row_key(key: &Key, array: &str, all: &mut Vec<Broken>) {
    let (before, own): (Vec<_>, Vec<_>) =
        OWNERS.lines().partition(|line| !line.starts_with(&format!("{array} ")));
    let before = course() + &before.join("\n") + "\n";
    let line = before.lines().count() + 1;
    let key_in_row = format!("{array}[0].{}", key.name());
    let example = key.example();
    let right = format!("{} = {example}", key.name());
    for (what, value, says) in wrong_values(key) {
        let wrong = own[0].replace(&right, &format!("{} = {value}", key.name()));
        assert_ne!(wrong, own[0], "{right}");
        let what = format!("{} {what}", key.path);
        all.push(Broken { what, text: format!("{before}{wrong}\n"), line, key: key_in_row.clone(), says });
    }
    let gone = own[0].replace(&format!("{right}, "), "").replace(&format!(", {right}"), "");
    all.push(Broken {
        what: format!("{} missing", key.path),
        text: format!("{before}{gone}\n"),
        line,
        key: key_in_row,
        says: "is missing".to_owned(),
    });
}

/// A table's needed keys, each left out where its table stands.
fn without_needed(key: &Key, all: &mut Vec<Broken>) {
    let sibling = match (key.otherwise, key.table()) {
        (Otherwise::Needed(_), "course") => String::new(),
        (Otherwise::NeededInItsTable(_), "rules.floor") => "rules.floor.grace_s = 4\n".to_owned(),
        (Otherwise::NeededInItsTable(_), "gun.heard") => "gun.heard.air_c = 10\n".to_owned(),
        (Otherwise::NeededInItsTable(_), "run_in") => {
            let bends = "run_in.bends = [[45.0043, -30.0015, 138.0], [44.9919, -30.0015, 138.0]]\n";
            if key.name() == "turns" { bends.to_owned() } else { "run_in.turns = \"left\"\n".to_owned() }
        }
        _ => return,
    };
    let kept: String =
        course().lines().filter(|line| !line.starts_with(key.path)).map(|line| format!("{line}\n")).collect();
    // It is told where its table first stands.
    let line = if sibling.is_empty() { 1 } else { kept.lines().count() + 1 };
    let says = format!("{} = ", key.name());
    all.push(Broken {
        what: format!("{} missing", key.path),
        text: kept + &sibling,
        line,
        key: key.path.to_owned(),
        says,
    });
}

/// Keys that others hang on: without them, or with another value, a second thing is wrong.
fn brings_a_second(key: &str) -> bool {
    [
        "early_time_s",
        "demonstration",
        "speeds_m_s",
        "n2_overspeed_pct",
        "pulls_m_s2",
        "cut_",
        "turns",
        "bends",
    ]
    .iter()
    .any(|part| key.contains(part))
}

#[test]
fn each_of_more_than_200_broken_files_is_told_with_its_line_and_its_key() {
    let mut all = Vec::new();
    for key in KEYS {
        match key.table().strip_suffix("[]") {
            Some(array) => of_row_key(key, array, &mut all),
            None => of_plain_key(key, &mut all),
        }
        without_needed(key, &mut all);
    }
    assert!(all.len() >= 200, "{}", all.len());
    for Broken { what, text, line, key, says } in &all {
        let report = parse_settings("broken.toml", text).expect_err(what);
        let mistakes = report.mistakes();
        let told = mistakes.iter().find(|mistake| {
            let at = mistake.line_and_column().map(|(line, _)| line);
            at == Some(*line) && mistake.key() == Some(key.as_str())
        });
        let told = told.unwrap_or_else(|| panic!("{what}: line {line}, key {key}\n{text}\n{report}"));
        let words = format!("{} {}", told.what(), told.right());
        assert!(words.contains(says.as_str()), "{what}: {says:?}\n{text}\n{report}");
        assert!(
            mistakes.len() == 1 || brings_a_second(key) || key.starts_with("screen."),
            "{what}\n{text}\n{report}"
        );
        let json = told.json();
        assert_eq!((json["line"].as_u64(), json["key"].as_str()), (Some(*line as u64), Some(key.as_str())));
    }
}
