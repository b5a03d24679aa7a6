//! What was found, into the owner's settings file: his comments, his order and his spelling stay.
//!
//! The file is changed in memory, checked as a whole as if he had written it, and only then put in the old one's place in
//! one step. Text in, text out; one function touches the disk.

use std::io;
use std::path::Path;

use firmware::calibration::Date;
use toml_edit::{ArrayOfTables, DocumentMut, Item, Table, Value, value};

use super::{Edit, day};

/// Why a file cannot be changed.
#[derive(Debug, thiserror::Error)]
pub enum NotChanged {
    /// It is not TOML.
    #[error("not TOML: {0}")]
    NotToml(#[from] toml_edit::TomlError),
    /// Something else stands where a table belongs.
    #[error("`{0}` is not a table: write [{0}] on a line of its own")]
    NotATable(&'static str),
}

/// The text with the changes in it.
///
/// # Errors
/// [`NotChanged`].
pub fn changed(text: &str, edits: &[Edit], made: Date) -> Result<String, NotChanged> {
    let mut document: DocumentMut = text.parse()?;
    for edit in edits {
        match edit {
            Edit::Number { table, key, value, decimals } => {
                set(table_of(&mut document, table)?, key, number(*value, *decimals));
            }
            Edit::Made(key) => set(table_of(&mut document, "calibration")?, key, date(made)),
            Edit::Probe { number: which, ice_c, boiling_c, boils_at_c } => {
                let row = probe_row(table_of(&mut document, "calibration")?, *which)?;
                set(row, "number", Value::from(i64::from(*which)));
                let figures = [("ice_c", ice_c), ("boiling_c", boiling_c), ("boils_at_c", boils_at_c)];
                figures.into_iter().for_each(|(key, degrees)| set(row, key, number(*degrees, 3)));
                set(row, "made", date(made));
            }
        }
    }
    Ok(document.to_string())
}

/// Puts a text in a file's place in one step: the old one or the new one, never a half.
///
/// # Errors
/// The disk's own.
pub fn replace(path: &Path, text: &str) -> io::Result<()> {
    let mut beside = path.as_os_str().to_owned();
    beside.push(".new");
    std::fs::write(&beside, text)?;
    std::fs::rename(&beside, path)
}

/// A number with its decimals, as a person writes it.
fn number(number: f64, decimals: usize) -> Value {
    let text = format!("{number:.decimals$}");
    text.parse().unwrap_or_else(|_| Value::from(number))
}

fn date(made: Date) -> Value {
    day(made).parse().unwrap_or_else(|_| Value::from(day(made)))
}

/// Sets a key and leaves the comment behind its old value where it is.
fn set(table: &mut Table, key: &str, mut new: Value) {
    match table.get_mut(key).and_then(Item::as_value_mut) {
        Some(old) => {
            *new.decor_mut() = old.decor().clone();
            *old = new;
        }
        None => _ = table.insert(key, value(new)),
    }
}

/// A table by its path, made where it is not there.
fn table_of<'a>(document: &'a mut DocumentMut, path: &'static str) -> Result<&'a mut Table, NotChanged> {
    let mut table = document.as_table_mut();
    for name in path.split('.') {
        let made = || {
            let mut table = Table::new();
            table.set_implicit(true);
            Item::Table(table)
        };
        let item = table.entry(name).or_insert_with(made);
        if item.is_inline_table() {
            let inline = std::mem::take(item).into_table().map_err(|_| NotChanged::NotATable(path))?;
            *item = Item::Table(inline);
        }
        table = item.as_table_mut().ok_or(NotChanged::NotATable(path))?;
    }
    table.set_implicit(false);
    Ok(table)
}

/// The row of a thermocouple, made where it is not there.
fn probe_row(table: &mut Table, which: u8) -> Result<&mut Table, NotChanged> {
    let made = || Item::ArrayOfTables(ArrayOfTables::new());
    let rows = table.entry("probe").or_insert_with(made);
    if let Some(array) = rows.as_array() {
        let tables = array.iter().filter_map(|row| row.as_inline_table().cloned());
        *rows = Item::ArrayOfTables(tables.map(toml_edit::InlineTable::into_table).collect());
    }
    let rows = rows.as_array_of_tables_mut().ok_or(NotChanged::NotATable("calibration.probe"))?;
    let is_it = |row: &Table| row.get("number").and_then(Item::as_integer) == Some(i64::from(which));
    let found = rows.iter().position(is_it);
    if found.is_none() {
        rows.push(Table::new());
    }
    let place = found.unwrap_or(rows.len().saturating_sub(1));
    rows.get_mut(place).ok_or(NotChanged::NotATable("calibration.probe"))
}

#[cfg(test)]
mod tests {
    use super::*;

    const OWN: &str = "# my boat\n[thumb]\nreaction_mean_s = 0.19 # by the book\n\n[engine]\nprobes = 2\n";

    fn thumb(value: f64) -> [Edit; 2] {
        let key = "reaction_mean_s";
        [Edit::Number { table: "thumb", key, value, decimals: 3 }, Edit::Made("thumb_made")]
    }

    #[test]
    fn the_owner_s_comments_and_order_stay() {
        let text = changed(OWN, &thumb(0.2314), Date(22_416)).unwrap();
        assert_eq!(
            text,
            "# my boat\n[thumb]\nreaction_mean_s = 0.231 # by the book\n\n[engine]\nprobes = 2\n\n\
             [calibration]\nthumb_made = 2031-05-17\n"
        );
    }

    #[test]
    fn a_second_calibration_of_a_probe_takes_the_place_of_the_first() {
        let probe = |number, ice_c| [Edit::Probe { number, ice_c, boiling_c: 99.0, boils_at_c: 99.6 }];
        let once = changed("", &probe(1, 0.6), Date(22_416)).unwrap();
        let both = changed(&once, &probe(2, 0.4), Date(22_416)).unwrap();
        let again = changed(&both, &probe(1, 0.7), Date(22_417)).unwrap();
        assert_eq!(again.matches("[[calibration.probe]]").count(), 2);
        assert!(again.contains("number = 1\nice_c = 0.700"), "{again}");
        assert!(again.contains("made = 2031-05-18"), "{again}");
    }

    #[test]
    fn what_is_written_is_read_by_the_settings_file_s_own_reader() {
        let line = "[course]\nline_left = [45.0, -30.0]\nline_right = [45.0, -29.998]\nlap_length_m = 4000\n";
        let probe = Edit::Probe { number: 2, ice_c: 0.4, boiling_c: 99.0, boils_at_c: 99.6 };
        let crystal = Edit::Number { table: "crystal", key: "fast_ppm", value: -3.25, decimals: 3 };
        let text = changed(line, &[probe, crystal, Edit::Made("crystal_made")], Date(22_416)).unwrap();
        let settings = crate::scenario::parse_settings("invented.toml", &text).unwrap();
        assert_eq!(settings.timebase.crystal.as_ppb(), -3_250);
        assert_eq!(settings.calibrations.crystal, Some(Date(22_416)));
        let points = settings.engine.calibrated.0[1].unwrap();
        assert_eq!(
            (points.ice.as_milli(), points.boils_at.as_milli(), points.made),
            (400, 99_600, Date(22_416))
        );
    }
}
