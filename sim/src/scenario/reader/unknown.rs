//! Words that no table of keys knows, and what was probably meant.
//!
//! Knows the keys and the reader.

use std::borrow::Cow;

use toml::Spanned;
use toml::de::DeValue;

use super::super::keys::Key;
use super::super::nearest::did_you_mean;
use super::super::report::Mistake;
use super::{Reading, joined, shown, without_indices};

impl Reading {
    pub(super) fn unknown(&mut self, table: &str, name: &Spanned<Cow<'_, str>>, value: &DeValue<'_>) {
        let word = name.get_ref().as_ref();
        let mut elements = value.as_array().into_iter().flat_map(|list| list.iter());
        let is_table = value.is_table() || elements.any(|element| element.get_ref().is_table());
        let what = match (is_table, shown(table).as_str()) {
            (true, table) => format!("there is no table [{}]", joined(table, word)),
            (false, "") => format!("there is no key `{word}` at the top of the file"),
            (false, table) => format!("there is no key `{word}` in [{table}]"),
        };
        let right = self.instead(table, word, is_table);
        let path = joined(table, word);
        self.mistakes.push(Mistake::at(&self.source, name.span(), what, right).of_key(path));
    }

    /// What to write instead of an unknown word.
    fn instead(&mut self, table: &str, word: &str, is_table: bool) -> String {
        let siblings = self.names_in(&without_indices(table), is_table);
        let elsewhere = self.keys.iter().find(|key| !is_table && key.name() == word).map(Key::table);
        if let Some(near) = did_you_mean(word, &siblings) {
            let path = joined(table, near);
            let right = match (is_table, elsewhere) {
                (true, _) => format!("did you mean [{path}]?"),
                (false, Some(table)) if !table.is_empty() => {
                    let table = table.trim_end_matches("[]");
                    format!("it belongs in [{table}]; or did you mean `{near}`?")
                }
                (false, _) => format!("did you mean `{near}`?"),
            };
            self.meant.push(path);
            return right;
        }
        if self.is_table(word) {
            return format!("[{word}] is a table: write [{word}] on a line of its own, and its keys below");
        }
        match (elsewhere, is_table) {
            (Some(""), _) => "it belongs at the top of the file, before any table".to_owned(),
            (Some(table), _) => format!("it belongs in [{}]", table.trim_end_matches("[]")),
            (None, _) if siblings.is_empty() => "take it out".to_owned(),
            (None, true) => format!("the tables are: {}", siblings.join(", ")),
            (None, false) => format!("its keys are: {}", siblings.join(", ")),
        }
    }

    /// The names of a table's keys, or of the tables in it.
    fn names_in(&self, table: &str, tables: bool) -> Vec<&'static str> {
        let mut names = Vec::new();
        for key in self.keys {
            let rest = match table {
                "" => Some(key.path),
                table => key.path.strip_prefix(table).and_then(|rest| rest.strip_prefix('.')),
            };
            let (name, is_table) = match rest.and_then(|rest| rest.split_once('.')) {
                Some((name, _)) => (name.trim_end_matches("[]"), true),
                None => (rest.unwrap_or_default(), false),
            };
            if !name.is_empty() && is_table == tables && !names.contains(&name) {
                names.push(name);
            }
        }
        names
    }
}
