//! JSON Schema (draft 2020-12) of settings files and heat files, drawn from the tables of keys.
//!
//! Editors that know TOML complete and check a file by it. It says of each key what the reader says: kind, range,
//! units, what must be there. What hangs on two keys at once, or on a text's value, only `gunline pack` tells;
//! [`BEYOND`] lists it.
//!
//! Keys in, JSON out.

use serde_json::{Map, Value, json};

use super::keys::{Key, Otherwise, RADIUS_M, Takes};
use super::{degrees, measure};

/// What a schema cannot say, in words; `gunline pack` checks it all the same.
pub const BEYOND: [&str; 7] = [
    "the range of a number that stands in a text with its unit, or of degrees in a text",
    "numbers with more than 18 decimals, and those that are not numbers (nan, inf)",
    "a date and time that does not exist, that stands in quotes, or that stands where a text is wanted",
    "keys that hang on each other: early_costs and early_time_s, demonstration and the limits, rows and lists in order",
    "a course that makes no line, bends that make no lane, a pull that is none",
    "what a heat file has twice over: a recording beside what it replaces; times outside of the world's",
    "files that are named and are not there",
];

/// The schema of files with these keys.
#[must_use]
pub fn schema(title: &str, keys: &[Key]) -> Value {
    let mut schema = object(keys, "");
    schema.insert("$schema".to_owned(), json!("https://json-schema.org/draft/2020-12/schema"));
    schema.insert("title".to_owned(), json!(title));
    schema.insert("$comment".to_owned(), json!(format!("Not said here: {}.", BEYOND.join("; "))));
    Value::Object(schema)
}

/// The table of this path: its keys, the tables in it, and what must be there.
fn object(keys: &[Key], table: &str) -> Map<String, Value> {
    let (mut properties, mut required) = (Map::new(), Vec::new());
    for key in keys {
        let rest = if table.is_empty() { Some(key.path) } else { below(key.path, table) };
        let Some(rest) = rest else { continue };
        let needed = matches!(key.otherwise, Otherwise::Needed(_));
        let needed_here = match rest.split_once('.') {
            None => {
                properties.insert(rest.to_owned(), described(key));
                needed || matches!(key.otherwise, Otherwise::NeededInItsTable(_))
            }
            Some((name, _)) => {
                let path = if table.is_empty() { name.to_owned() } else { format!("{table}.{name}") };
                let own = name.trim_end_matches("[]");
                if !properties.contains_key(own) {
                    properties.insert(own.to_owned(), inner(keys, &path));
                }
                needed
            }
        };
        let name = rest.split(['.', '[']).next().unwrap_or(rest);
        if needed_here && !required.contains(&name) {
            required.push(name);
        }
    }
    let mut object = Map::new();
    object.insert("type".to_owned(), json!("object"));
    object.insert("properties".to_owned(), Value::Object(properties));
    object.insert("additionalProperties".to_owned(), json!(false));
    if !required.is_empty() {
        object.insert("required".to_owned(), json!(required));
    }
    object
}

fn inner(keys: &[Key], path: &str) -> Value {
    let table = Value::Object(object(keys, path));
    if path.ends_with("[]") { json!({ "type": "array", "items": table }) } else { table }
}

fn below<'a>(path: &'a str, table: &str) -> Option<&'a str> {
    path.strip_prefix(table)?.strip_prefix('.')
}

/// A key with its words: what it is for, what it takes, and what holds without it.
fn described(key: &Key) -> Value {
    let mut schema = taken(&key.takes);
    let takes = key.takes.in_words();
    let without = match key.otherwise {
        Otherwise::Needed(_) | Otherwise::NeededInItsTable(_) => "Needed".to_owned(),
        Otherwise::Is(value) => format!("Without it: {value}"),
        Otherwise::Means(words) => format!("Without it: {words}"),
    };
    schema.insert("description".to_owned(), json!(format!("{} Takes {takes}. {without}.", key.why)));
    let value = |text: &str| written(text).filter(|_| !matches!(key.takes, Takes::Moment));
    match key.otherwise {
        Otherwise::Is(text) => value(text).map(|value| schema.insert("default".to_owned(), value)),
        Otherwise::Needed(text) | Otherwise::NeededInItsTable(text) => {
            value(text).map(|value| schema.insert("examples".to_owned(), json!([value])))
        }
        Otherwise::Means(_) => None,
    };
    Value::Object(schema)
}

/// A value of the tables of keys as JSON: numbers, lists, words and flags are written alike in both.
fn written(text: &str) -> Option<Value> {
    serde_json::from_str(text).ok()
}

fn taken(takes: &Takes) -> Map<String, Value> {
    let schema = match *takes {
        Takes::Number { unit, from, to } => numbers("number", written(from), written(to), unit),
        Takes::Whole { unit, from, to } => numbers("integer", Some(json!(from)), Some(json!(to)), unit),
        Takes::List { each, most } => json!({ "type": "array", "items": taken(each), "maxItems": most }),
        Takes::Place => tuple(&[latitude(), longitude()]),
        Takes::Bends { most } => {
            let radius = numbers("number", written(RADIUS_M.0), written(RADIUS_M.1), "m");
            let bend = tuple(&[latitude(), longitude(), radius]);
            json!({ "type": "array", "items": bend, "maxItems": most })
        }
        Takes::Word(words) => json!({ "enum": words }),
        Takes::Flag => json!({ "type": "boolean" }),
        Takes::Text => json!({ "type": "string" }),
        Takes::File => json!({ "type": "string", "minLength": 1 }),
        Takes::Moment => json!({ "type": "string", "pattern": MOMENT }),
        Takes::RaceTime => json!({ "anyOf": [
            { "type": "number", "minimum": -86_400, "maximum": 86_400 },
            { "type": "string", "pattern": RACE_TIME },
        ] }),
    };
    let Value::Object(schema) = schema else { return Map::new() };
    schema
}

/// UTC from 1980 to 2079, as RFC 3339 writes it with a Z.
const MOMENT: &str =
    "^(19[89][0-9]|20[0-7][0-9])-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(:[0-9]{2}(\\.[0-9]+)?)?Z$";

/// `[-]M:SS.mmm`, up to a day.
const RACE_TIME: &str =
    "^-?0*(([0-9]{1,3}|1[0-3][0-9]{2}|14[0-3][0-9]):[0-5][0-9](\\.[0-9]{1,6})?|1440:00(\\.0{1,6})?)$";

fn numbers(kind: &str, from: Option<Value>, to: Option<Value>, unit: &str) -> Value {
    let number = json!({ "type": kind, "minimum": from, "maximum": to });
    match measure::pattern(unit) {
        Some(pattern) => json!({ "anyOf": [number, { "type": "string", "pattern": pattern }] }),
        None => number,
    }
}

fn tuple(items: &[Value]) -> Value {
    json!({ "type": "array", "prefixItems": items, "items": false, "minItems": items.len() })
}

fn latitude() -> Value {
    angle(85, "NS")
}

fn longitude() -> Value {
    angle(180, "EW")
}

fn angle(most: i64, letters: &str) -> Value {
    json!({ "anyOf": [
        { "type": "number", "minimum": -most, "maximum": most },
        { "type": "string", "pattern": degrees::pattern(letters) },
    ] })
}
