//! `docs/settings.md` is printed from the tables of keys: this prints it, and holds the file against the print.

use std::fmt::Write as _;
use std::path::PathBuf;

use crate::scenario::keys::{Key, Otherwise, Takes, heat, one_of, settings};
use crate::scenario::{heat_schema, settings_schema};

const BEGINNING: &str = include_str!("settings.md");

/// The whole document.
fn print() -> String {
    let (before, rest) = BEGINNING.split_once("<!-- settings -->\n").unwrap();
    let (between, after) = rest.split_once("<!-- heat -->\n").unwrap();
    format!("{before}{}{between}{}{after}", tables(settings::KEYS), tables(heat::KEYS))
}

/// A table for each run of keys that stand in the same table of a file.
fn tables(keys: &[Key]) -> String {
    let mut text = String::new();
    let mut table = None;
    for key in keys {
        // A table of limits is small: its rows' keys stand among those of the engine.
        let of = match key.path {
            path if path.starts_with("engine.start.") => "engine.start",
            path if path.starts_with("engine.") => "engine",
            _ => key.table(),
        };
        if table != Some(of) {
            text += &heading(of, table.is_none());
            table = Some(of);
        }
        let name = key.path.strip_prefix(of).unwrap_or(key.path).trim_start_matches('.');
        let cells = [format!("`{name}`"), takes(&key.takes), otherwise(key.otherwise), key.why.to_owned()];
        writeln!(text, "| {} |", cells.join(" | ")).unwrap();
    }
    text
}

fn heading(table: &str, first: bool) -> String {
    let title = match table.strip_suffix("[]") {
        _ if table.is_empty() => "At the top of the file".to_owned(),
        Some(array) => format!("`[[{array}]]`, once for each"),
        None => format!("`[{table}]`"),
    };
    let gap = if first { "" } else { "\n" };
    format!("{gap}### {title}\n\n| key | takes | without it | what for |\n| --- | --- | --- | --- |\n")
}

fn takes(takes: &Takes) -> String {
    match *takes {
        Takes::Number { unit, from, to } => format!("{from} to {to} {unit}").trim().to_owned(),
        Takes::Whole { unit, from, to } => format!("whole, {from} to {to} {unit}").trim().to_owned(),
        Takes::Word(words) => one_of(words),
        _ => takes.in_words(),
    }
}

fn otherwise(otherwise: Otherwise) -> String {
    match otherwise {
        Otherwise::Needed(_) => "needed".to_owned(),
        Otherwise::NeededInItsTable(_) => "needed with its table".to_owned(),
        Otherwise::Is(value) => format!("`{value}`"),
        Otherwise::Means(words) => words.to_owned(),
    }
}

/// To print the files anew: `GUNLINE_PRINT_DOCS=1 cargo test -p gunline document`.
#[track_caller]
fn assert_printed(name: &str, print: &str) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../docs").join(name);
    if std::env::var_os("GUNLINE_PRINT_DOCS").is_some() {
        std::fs::write(&path, print).unwrap();
    }
    let written = std::fs::read_to_string(&path).unwrap();
    for (ours, theirs) in print.lines().zip(written.lines()) {
        assert_eq!(ours, theirs, "docs/{name} is not what the tables of keys say");
    }
    assert_eq!(print, written);
}

#[test]
fn the_document_lists_every_key_as_the_reader_knows_it() {
    assert_printed("settings.md", &print());
}

#[test]
fn the_schemas_beside_the_document_are_those_of_the_tables() {
    assert_printed("settings.schema.json", &format!("{:#}\n", settings_schema()));
    assert_printed("heat.schema.json", &format!("{:#}\n", heat_schema()));
}
