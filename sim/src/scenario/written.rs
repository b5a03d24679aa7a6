//! Settings written as a settings file, every key with what it is for.
//!
//! What has no value in these settings stands there as a comment, so that an owner sees what else there is. The
//! text is read back before it is given out: what is written is what was there, to the last digit.
//!
//! Settings in, TOML out.

use std::collections::BTreeMap;
use std::fmt::Write;

use firmware::gnss::calendar::rfc3339;
use firmware::settings::Settings;

use super::keys::settings::KEYS;
use super::keys::{Key, Otherwise};
use super::value::Value;
use super::{parse_settings, settings_file};

/// How wide a comment is, letters.
const WIDTH: usize = 100;

/// The settings as a file; `None` when no file can say them: they did not come from one.
#[must_use]
pub fn settings_text(settings: &Settings) -> Option<String> {
    let values = settings_file::values(settings);
    let mut text = String::from(
        "# Settings of a dash. The race officials decide; engine limits come from the engine maker's manual.\n",
    );
    for table in tables() {
        write_table(&mut text, table, &values);
    }
    parse_settings("written", &text).is_ok_and(|read| read == *settings).then_some(text)
}

/// Every table once, in the order of the document.
fn tables() -> Vec<&'static str> {
    let mut tables = Vec::new();
    for table in KEYS.iter().map(Key::table) {
        if !tables.contains(&table) {
            tables.push(table);
        }
    }
    tables
}

fn write_table(text: &mut String, table: &str, values: &BTreeMap<String, Value>) {
    let Some(array) = table.strip_suffix("[]") else {
        let is_there = values.keys().any(|path| path.rsplit_once('.').is_some_and(|(of, _)| of == table));
        if !table.is_empty() {
            let _ = writeln!(text, "\n{}[{table}]", if is_there { "" } else { "#" });
        }
        return write_keys(text, table, table, values, true);
    };
    let rows = (0..).map(|row| format!("{array}[{row}]"));
    let rows: Vec<_> =
        rows.take_while(|row| values.keys().any(|path| path.starts_with(row.as_str()))).collect();
    if rows.is_empty() {
        let _ = writeln!(text, "\n#[[{array}]]");
        write_keys(text, table, table, values, true);
    }
    for (index, row) in rows.iter().enumerate() {
        let _ = writeln!(text, "\n[[{array}]]");
        write_keys(text, table, row, values, index == 0);
    }
}

/// The keys of a table, their values under a path of their own, with their words.
fn write_keys(
    text: &mut String,
    table: &str,
    path: &str,
    values: &BTreeMap<String, Value>,
    with_words: bool,
) {
    for key in KEYS.iter().filter(|key| key.table() == table) {
        if with_words {
            comment(text, key);
        }
        let own = if path.is_empty() { key.name().to_owned() } else { format!("{path}.{}", key.name()) };
        let _ = match values.get(&own) {
            Some(value) => writeln!(text, "{} = {}", key.name(), toml(value)),
            None => writeln!(text, "#{} = {}", key.name(), key.example()),
        };
    }
}

/// What a key is for, what it takes, and what holds without it.
fn comment(text: &mut String, key: &Key) {
    let without = match key.otherwise {
        Otherwise::Needed(_) | Otherwise::NeededInItsTable(_) => "needed".to_owned(),
        Otherwise::Is(value) => format!("without it {value}"),
        Otherwise::Means(words) => format!("without it: {words}"),
    };
    let words = format!("{} [{}; {without}]", key.why, key.takes.in_words());
    let mut line = String::from("#");
    for word in words.split_whitespace() {
        if line.chars().count() + word.chars().count() >= WIDTH {
            let _ = writeln!(text, "{line}");
            line = String::from("#");
        }
        let _ = write!(line, " {word}");
    }
    let _ = writeln!(text, "{line}");
}

/// A value as a file writes it. Moments and race times are not in settings.
fn toml(value: &Value) -> String {
    let list = |texts: Vec<String>| format!("[{}]", texts.join(", "));
    match value {
        Value::Number(number) => number.to_string(),
        Value::List(numbers) => list(numbers.iter().map(ToString::to_string).collect()),
        Value::Place(lat, lon) => format!("[{lat}, {lon}]"),
        Value::Bends(bends) => {
            list(bends.iter().map(|[lat, lon, radius]| format!("[{lat}, {lon}, {radius}]")).collect())
        }
        Value::Text(text) => format!("\"{text}\""),
        Value::Flag(flag) => flag.to_string(),
        Value::Day(midnight) => rfc3339(*midnight).to_string().chars().take(10).collect(),
        Value::Moment(_) | Value::Time(_) => String::new(),
    }
}
