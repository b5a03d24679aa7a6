//! The schemas against the reader, on files drawn from the tables of keys: what the one refuses the other refuses.
//!
//! What a schema cannot say is listed in `schema::BEYOND`; no such mistake is drawn here, and rules between keys are
//! checked behind the reader that is asked.

use std::sync::Arc;

use serde_json::Value;

use super::drawn::{Draw, array_of};
use crate::scenario::keys::{Key, Otherwise, heat, settings};
use crate::scenario::reader::Reading;
use crate::scenario::report::Source;
use crate::scenario::{heat_schema, settings_schema};

/// Debug builds draw fewer.
const FILES: u64 = if cfg!(debug_assertions) { 2_000 } else { 10_000 };

/// A file, one line a key, and whether it is right.
fn file(keys: &[Key], draw: &mut Draw) -> (String, bool) {
    let needed_tables = ["course", "start"];
    let is_needed = |key: &Key| {
        matches!(key.otherwise, Otherwise::Needed(_))
            && (key.table().is_empty() || needed_tables.contains(&key.table()))
    };
    let mut lines: Vec<(&Key, String)> = Vec::new();
    for key in keys.iter().filter(|key| array_of(key).is_none()) {
        if is_needed(key) || draw.one_in(6) {
            lines.push((key, draw.good(&key.takes)));
        }
    }
    // What a table needs must be there with it, and with every table below it.
    for key in keys.iter().filter(|key| array_of(key).is_none()) {
        let table = format!("{}.", key.table());
        let is_there = lines.iter().any(|(other, _)| other.path.starts_with(&table));
        let is_written = lines.iter().any(|(other, _)| other.path == key.path);
        if matches!(key.otherwise, Otherwise::NeededInItsTable(_)) && is_there && !is_written {
            lines.push((key, draw.good(&key.takes)));
        }
    }
    let broken = if draw.one_in(2) { draw.below(4) } else { usize::MAX };
    let at = draw.below(lines.len());
    match broken {
        0 => lines[at].1 = draw.bad(&lines[at].0.takes),
        1 => {
            let needed: Vec<_> = (0..lines.len())
                .filter(|line| !matches!(lines[*line].0.otherwise, Otherwise::Is(_) | Otherwise::Means(_)))
                .filter(|line| is_needed(lines[*line].0))
                .collect();
            lines.remove(draw.pick(&needed));
        }
        _ => {}
    }
    let mut text: String = lines.iter().map(|(key, value)| format!("{} = {value}\n", key.path)).collect();
    text += &rows(keys, draw, broken == 2);
    if broken == 3 {
        text += draw.pick(&["no_such_key = 1\n", "course.no_such_key = 1\n", "no_such_table.a = 1\n"]);
    }
    (text, broken == usize::MAX)
}

/// Lists of tables, inline; with one key of one of them spoilt if that is asked for.
fn rows(keys: &[Key], draw: &mut Draw, spoilt: bool) -> String {
    let mut arrays: Vec<_> = keys.iter().filter_map(array_of).collect();
    arrays.dedup();
    let victim = draw.pick(&arrays);
    let mut text = String::new();
    let mut done = Vec::new();
    for array in arrays {
        if done.contains(&array) {
            continue;
        }
        done.push(array);
        let is_victim = spoilt && array == victim;
        let own: Vec<_> = keys.iter().filter(|key| array_of(key) == Some(array)).collect();
        let bad = draw.below(own.len());
        let row = |draw: &mut Draw| {
            let value = |(index, key): (usize, &&Key), draw: &mut Draw| {
                let value =
                    if is_victim && index == bad { draw.bad(&key.takes) } else { draw.good(&key.takes) };
                format!("{} = {value}", key.name())
            };
            let mut values = Vec::new();
            for entry in own.iter().enumerate() {
                values.push(value(entry, draw));
            }
            format!("{{ {} }}", values.join(", "))
        };
        let many = usize::from(is_victim) + draw.below(3);
        let rows: Vec<_> = (0..many).map(|_| row(draw)).collect();
        if many > 0 {
            text += &format!("{array} = [{}]\n", rows.join(", "));
        }
    }
    text
}

/// TOML as an editor's checker sees it: dates are texts.
fn json(value: toml::Value) -> Value {
    match value {
        toml::Value::Datetime(moment) => Value::String(moment.to_string()),
        toml::Value::Array(list) => list.into_iter().map(json).collect(),
        toml::Value::Table(table) => table.into_iter().map(|(key, value)| (key, json(value))).collect(),
        other => serde_json::to_value(other).unwrap(),
    }
}

#[track_caller]
fn agree(keys: &'static [Key], schema: &Value, seed: u64) {
    let validator = jsonschema::draft202012::new(schema).unwrap();
    let mut wrong = 0;
    for number in 0..FILES {
        let mut draw = Draw::new(seed + number);
        let (text, is_right) = file(keys, &mut draw);
        let table: toml::Table = toml::from_str(&text).unwrap_or_else(|why| panic!("{text}\n{why}"));
        let source = Arc::new(Source { name: "drawn.toml".to_owned(), text: text.clone() });
        let told = Reading::new(&source, keys).take_mistakes();
        let json = json(toml::Value::Table(table));
        let says = validator.validate(&json);
        assert_eq!(told.is_empty(), is_right, "{text}\n{told:?}");
        assert_eq!(says.is_ok(), is_right, "{text}\n{says:?}");
        wrong += u64::from(!is_right);
    }
    assert!((FILES / 3..FILES * 2 / 3).contains(&wrong), "{wrong} of {FILES}");
}

/// The validator is the jsonschema crate, draft 2020-12.
#[test]
fn schema_and_reader_agree_on_drawn_settings_files() {
    agree(settings::KEYS, &settings_schema(), 0);
}

#[test]
fn schema_and_reader_agree_on_drawn_heat_files() {
    agree(heat::KEYS, &heat_schema(), 1_000_000);
}

#[test]
fn the_schemas_are_schemas() {
    for schema in [settings_schema(), heat_schema()] {
        assert!(jsonschema::meta::is_valid(&schema));
    }
}
