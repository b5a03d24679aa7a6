//! What a check found: how it stands, at which mark, what is so, and what would be right.
//!
//! This file knows nobody.

use serde::Serialize;

/// How it stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Standing {
    /// As it should be.
    Good,
    /// Worth knowing; the course stands.
    Note,
    /// The course does not stand like this.
    Wrong,
}

/// One thing that was found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// How it stands.
    pub standing: Standing,
    /// At which mark, where it is at one.
    pub mark: Option<String>,
    /// What is so.
    pub what: String,
    /// What would be right; nothing where all is well.
    pub right: String,
}

/// All is well.
#[must_use]
pub fn good(what: impl Into<String>) -> Finding {
    Finding { standing: Standing::Good, mark: None, what: what.into(), right: String::new() }
}

/// Worth knowing.
#[must_use]
pub fn note(mark: Option<String>, what: impl Into<String>, right: impl Into<String>) -> Finding {
    Finding { standing: Standing::Note, mark, what: what.into(), right: right.into() }
}

/// Wrong.
#[must_use]
pub fn wrong(mark: Option<String>, what: impl Into<String>, right: impl Into<String>) -> Finding {
    Finding { standing: Standing::Wrong, mark, what: what.into(), right: right.into() }
}
