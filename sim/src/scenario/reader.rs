//! A TOML file read against the table of its keys: every value checked, every mistake collected.
//!
//! The walk goes through the file once. What it knows it checks and keeps under its path
//! (`thumb.reaction_sd_s`, `press[2].at`); what it does not know, or cannot take, becomes a [`Mistake`] that
//! points at it.
//!
//! Knows the keys and the report. Text in, a [`Reading`] out.

mod old;
mod unknown;

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::checked::{self, Wrong};
use super::forms::{FORM, Renamed};
use super::keys::{Key, Otherwise};
use super::report::{Mistake, Source};
use super::value::{FromValue, Value};

/// A file as read: checked values by their path, and what is wrong so far.
#[derive(Debug)]
pub struct Reading {
    source: Arc<Source>,
    keys: &'static [Key],
    values: BTreeMap<String, Value>,
    /// Tables that stand in the file, and where.
    tables: BTreeMap<String, Range<usize>>,
    /// Keys that stand in the file, right or wrong.
    written: BTreeMap<String, Range<usize>>,
    /// Paths that mistyped words were meant for: nothing more is said of their absence.
    meant: Vec<String>,
    mistakes: Vec<Mistake>,
    /// Keys of older forms, and the form of the file.
    renamed: &'static [Renamed],
    form: i64,
    notes: Vec<Mistake>,
}

impl Reading {
    /// Reads a file against its keys.
    #[must_use]
    pub fn new(source: &Arc<Source>, keys: &'static [Key]) -> Self {
        Self::of_forms(source, keys, &[])
    }

    /// The same for files that may be of older forms.
    #[must_use]
    pub fn of_forms(source: &Arc<Source>, keys: &'static [Key], renamed: &'static [Renamed]) -> Self {
        let mut reading = Self {
            renamed,
            form: FORM,
            notes: Vec::new(),
            source: Arc::clone(source),
            keys,
            values: BTreeMap::new(),
            tables: BTreeMap::new(),
            written: BTreeMap::new(),
            meant: Vec::new(),
            mistakes: Vec::new(),
        };
        let text = source.text.as_str();
        if text.trim().is_empty() {
            reading.mistakes.push(Mistake::of(
                source,
                "the file is empty",
                "see the examples in docs/settings.md",
            ));
            return reading;
        }
        match DeTable::parse_recoverable(text) {
            (table, errors) if errors.is_empty() => {
                reading.tables.insert(String::new(), 0..0);
                if reading.knows_form(table.get_ref()) {
                    reading.walk("", table.get_ref());
                    reading.look_for_missing();
                }
            }
            (table, errors) => reading.read_the_rest(table.get_ref(), &errors),
        }
        reading
    }

    /// Not all of the file is TOML: what is wrong on other lines is told too, but not what is missing.
    fn read_the_rest(&mut self, table: &DeTable<'_>, errors: &[toml::de::Error]) {
        let source = Arc::clone(&self.source);
        let broken: Vec<_> = errors.iter().map(|error| not_toml(&source, error)).collect();
        let line = |mistake: &Mistake| mistake.line_and_column().map(|(line, _)| line);
        self.walk("", table);
        self.mistakes.retain(|mistake| broken.iter().all(|other| line(other) != line(mistake)));
        self.mistakes.extend(broken);
    }

    /// The value at a path as a type; `None` when it is not there or not right.
    #[must_use]
    pub fn get<T: FromValue>(&self, path: &str) -> Option<T> {
        self.values.get(path).and_then(T::from_value)
    }

    /// Puts the value at a path into a field; leaves the field as it is when there is none.
    pub fn set<T: FromValue>(&self, path: &str, field: &mut T) {
        if let Some(value) = self.get(path) {
            *field = value;
        }
    }

    /// Does this key or table stand in the file, right or wrong?
    #[must_use]
    pub fn has(&self, path: &str) -> bool {
        self.written.contains_key(path) || self.tables.contains_key(path)
    }

    /// Does a mistyped word seem to mean this key or table, or the table that it stands in?
    #[must_use]
    pub fn means(&self, path: &str) -> bool {
        self.meant.iter().any(|meant| path == meant || path.starts_with(&format!("{meant}.")))
    }

    /// The paths of an array's tables, in their order: `press[0]`, `press[1]`.
    #[must_use]
    pub fn rows(&self, array: &str) -> Vec<String> {
        (0..).map(|row| format!("{array}[{row}]")).take_while(|row| self.tables.contains_key(row)).collect()
    }

    /// Every key in the file that stands in this table or one below it.
    pub fn written_in<'a>(&'a self, table: &'a str) -> impl Iterator<Item = &'a str> {
        let inside = move |path: &&str| path.strip_prefix(table).is_some_and(|rest| rest.starts_with('.'));
        self.written.keys().map(String::as_str).filter(inside)
    }

    /// A mistake at what stands at a path; where nothing does, at its table; and without that, the file's.
    #[must_use]
    pub fn mistake(&self, path: &str, what: impl Into<String>, right: impl Into<String>) -> Mistake {
        let mistake = match self.place(path) {
            Some(at) => Mistake::at(&self.source, at, what, right),
            None => Mistake::of(&self.source, what, right),
        };
        mistake.of_key(path)
    }

    /// Adds such a mistake.
    pub fn blame(&mut self, path: &str, what: impl Into<String>, right: impl Into<String>) {
        self.mistakes.push(self.mistake(path, what, right));
    }

    /// What is wrong so far, taken out.
    #[must_use]
    pub fn take_mistakes(&mut self) -> Vec<Mistake> {
        std::mem::take(&mut self.mistakes)
    }

    /// What was read as something newer, taken out.
    #[must_use]
    pub fn take_notes(&mut self) -> Vec<Mistake> {
        std::mem::take(&mut self.notes)
    }

    /// True when the file could be taken apart to its end.
    #[must_use]
    pub fn is_toml(&self) -> bool {
        self.tables.contains_key("")
    }

    /// True while nothing is wrong.
    #[must_use]
    pub const fn is_right(&self) -> bool {
        self.mistakes.is_empty()
    }

    fn place(&self, path: &str) -> Option<Range<usize>> {
        let found = self.written.get(path).or(self.tables.get(path));
        match (found, path.rsplit_once(['.', '['])) {
            (Some(at), _) => Some(at.clone()),
            (None, Some((table, _))) => self.place(table),
            (None, None) => None,
        }
    }

    fn walk(&mut self, table: &str, entries: &DeTable<'_>) {
        for (name, value) in entries {
            let path = if table.is_empty() {
                name.get_ref().to_string()
            } else {
                format!("{table}.{}", name.get_ref())
            };
            let general = without_indices(&path);
            if path == "form" && self.written.contains_key("form") {
                // It was looked at first.
            } else if self.renamed(&general, name, value) {
                // It was told.
            } else if name.get_ref().contains(['.', '[']) {
                self.unknown(table, name, value.get_ref());
            } else if let Some(key) = self.keys.iter().find(|key| key.path == general) {
                self.check(key, &path, value);
            } else if self.is_table(&general) {
                self.enter(&path, value);
            } else if self.is_table(&format!("{general}[]")) {
                self.enter_each(&path, value);
            } else {
                self.unknown(table, name, value.get_ref());
            }
        }
    }

    fn check(&mut self, key: &Key, path: &str, value: &Spanned<DeValue<'_>>) {
        if self.written.insert(path.to_owned(), value.span()).is_some() {
            let what = format!("`{}` stands here too, under its old name", shown(path));
            self.blame(path, what, "take out the old one");
        }
        match checked::value(&key.takes, value) {
            Ok(checked) => {
                self.values.insert(path.to_owned(), checked);
            }
            Err(Wrong { at, what, right }) => {
                let right = if right.is_empty() { right_for(key) } else { right };
                let what = format!("`{}` {what}", shown(path));
                self.mistakes.push(Mistake::at(&self.source, at, what, right).of_key(path));
            }
        }
    }

    fn enter(&mut self, path: &str, value: &Spanned<DeValue<'_>>) {
        self.tables.insert(path.to_owned(), value.span());
        match value.get_ref() {
            DeValue::Table(entries) => self.walk(path, entries),
            other => {
                let what = format!("`{path}` is a table, not {}", checked::kind(other));
                self.blame(path, what, format!("write [{path}] on a line of its own, and its keys below"));
            }
        }
    }

    fn enter_each(&mut self, path: &str, value: &Spanned<DeValue<'_>>) {
        self.tables.insert(path.to_owned(), value.span());
        let right = format!("write [[{path}]] on a line of its own, and its keys below, once for each");
        let DeValue::Array(elements) = value.get_ref() else {
            let what = format!("`{path}` is a list of tables, not {}", checked::kind(value.get_ref()));
            return self.blame(path, what, right);
        };
        for (row, element) in elements.iter().enumerate() {
            let row = format!("{path}[{row}]");
            match element.get_ref() {
                DeValue::Table(entries) => {
                    self.tables.insert(row.clone(), element.span());
                    self.walk(&row, entries);
                }
                other => {
                    let what = format!("`{path}` is a list of tables, and this is {}", checked::kind(other));
                    let mistake = Mistake::at(&self.source, element.span(), what, right.as_str());
                    self.mistakes.push(mistake.of_key(path));
                }
            }
        }
    }

    fn is_table(&self, path: &str) -> bool {
        let is_in = |key: &&Key| key.path.strip_prefix(path).is_some_and(|rest| rest.starts_with('.'));
        let was_in = |old: &Renamed| old.was.strip_prefix(path).is_some_and(|rest| rest.starts_with('.'));
        self.keys.iter().any(|key| is_in(&key)) || self.renamed.iter().any(was_in)
    }

    fn look_for_missing(&mut self) {
        for key in self.keys {
            match (key.otherwise, key.table().strip_suffix("[]")) {
                (Otherwise::Needed(example), _) if self.tables.contains_key(key.table()) => {
                    self.needs(key.table(), key.name(), example);
                }
                (Otherwise::NeededInItsTable(example), Some(array)) => {
                    self.rows(array).iter().for_each(|row| self.needs(row, key.name(), example));
                }
                (Otherwise::NeededInItsTable(example), None) if self.tables.contains_key(key.table()) => {
                    self.needs(key.table(), key.name(), example);
                }
                (Otherwise::Needed(_), _) => self.needs_table(key.table()),
                _ => {}
            }
        }
    }

    fn needs(&mut self, table: &str, name: &str, example: &str) {
        let path = joined(table, name);
        if self.has(&path) || self.means(&path) {
            return;
        }
        let place = if table.is_empty() { "write, before any table" } else { "write" };
        self.blame(&path, format!("`{}` is missing", shown(&path)), format!("{place}: {name} = {example}"));
    }

    /// A table that is not there at all is missed once, with all that it needs.
    fn needs_table(&mut self, table: &'static str) {
        if self.means(table) {
            return;
        }
        self.meant.push(table.to_owned());
        let line = |key: &Key| match key.otherwise {
            Otherwise::Needed(example) if key.table() == table => {
                Some(format!("\n{} = {example}", key.name()))
            }
            _ => None,
        };
        let lines: String = self.keys.iter().filter_map(line).collect();
        self.blame(table, format!("the table [{table}] is missing"), format!("write\n[{table}]{lines}"));
    }
}

/// What to write for a key: what it takes, and an example.
fn right_for(key: &Key) -> String {
    let takes = key.takes.in_words();
    format!("write {takes}, such as: {} = {}", key.name(), key.example())
}

fn joined(table: &str, name: &str) -> String {
    if table.is_empty() { name.to_owned() } else { format!("{table}.{name}") }
}

/// `press[2].at` as the tables of keys write it: `press[].at`.
fn without_indices(path: &str) -> String {
    let mut parts = path.split('[');
    let first = parts.next().unwrap_or_default().to_owned();
    parts.fold(first, |general, part| {
        general + "[" + part.trim_start_matches(|letter: char| letter.is_ascii_digit())
    })
}

/// A path as people read it; the line beside it tells which row is meant.
pub fn shown(path: &str) -> String {
    without_indices(path).replace("[]", "")
}

fn not_toml(source: &Arc<Source>, error: &toml::de::Error) -> Mistake {
    let right = match error.message() {
        "duplicate key" => "each key may stand once in its table, and each table once in the file",
        message if message.starts_with("invalid date") || message.starts_with("invalid time") => {
            "write a date and time that exist: 2031-05-17T19:05:00.000Z"
        }
        _ => "TOML is written like this: key = 1.5, key = \"text\", [table]",
    };
    Mistake::at(source, error.span().unwrap_or(0..0), format!("not TOML: {}", error.message()), right)
}
