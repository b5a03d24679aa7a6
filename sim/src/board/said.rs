//! What a verb of `gunline board` has to say on standard output: words, or one JSON object.

use std::io::Write;

use serde::Serialize;
use serde_json::{Value, json};

use super::Trouble;
use crate::outlet::to_stdout;

/// Both forms.
pub struct Said {
    text: String,
    json: Value,
}

impl Said {
    /// Words, and the same for machines.
    pub fn new(text: String, json: &impl Serialize) -> Self {
        Self { text, json: serde_json::to_value(json).unwrap_or(Value::Null) }
    }

    /// That it was done: without words on standard output.
    pub fn done() -> Self {
        Self { text: String::new(), json: json!({ "done": true }) }
    }

    /// Says it.
    pub fn tell(&self, json: bool) -> Result<(), Trouble> {
        let write =
            to_stdout(|out| if json { writeln!(out, "{}", self.json) } else { write!(out, "{}", self.text) });
        write.map_err(|(_, says)| Trouble::Outlet(says))
    }
}
