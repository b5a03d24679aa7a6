//! What is wrong with a file, said so that it can be put right: file, line, key, and what would be right.
//!
//! Mistakes are collected, not thrown: a file is read to its end and everything wrong with it comes at once.
//!
//! This file knows nobody. Mistakes in, text for people out.

use std::fmt;
use std::ops::Range;
use std::sync::Arc;

use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};

/// A file as it was read: the name that people know it by, and its text.
#[derive(Debug)]
pub struct Source {
    /// The path as it was given.
    pub name: String,
    /// All of it; empty when it could not be read.
    pub text: String,
}

/// One thing that is wrong.
#[derive(Clone, Debug)]
pub struct Mistake {
    source: Arc<Source>,
    /// Where in the file, in bytes; none when it is the file itself.
    at: Option<Range<usize>>,
    /// The path of the key or the table, where there is one.
    key: Option<String>,
    what: String,
    right: String,
    /// The machine's doing, not the writer's.
    machine: bool,
}

impl Mistake {
    /// A mistake in the text of a file, at a range of its bytes: what is wrong, and what would be right.
    #[must_use]
    pub fn at(
        source: &Arc<Source>,
        at: Range<usize>,
        what: impl Into<String>,
        right: impl Into<String>,
    ) -> Self {
        let (what, right) = (what.into(), right.into());
        Self { source: Arc::clone(source), at: Some(at), key: None, what, right, machine: false }
    }

    /// A mistake that is the whole file's.
    #[must_use]
    pub fn of(source: &Arc<Source>, what: impl Into<String>, right: impl Into<String>) -> Self {
        let (what, right) = (what.into(), right.into());
        Self { source: Arc::clone(source), at: None, key: None, what, right, machine: false }
    }

    /// The same, marked as the machine's doing: a disk, a permission.
    #[must_use]
    pub fn by_the_machine(self) -> Self {
        Self { machine: true, ..self }
    }

    /// The same, at a key or a table.
    #[must_use]
    pub fn of_key(self, path: impl Into<String>) -> Self {
        Self { key: Some(path.into()), ..self }
    }

    /// The path of the key or the table that it is about, as in `engine.n1[0].above_pct`.
    #[must_use]
    pub fn key(&self) -> Option<&str> {
        self.key.as_deref()
    }

    /// As one JSON object: file, line and column, key, what is wrong, what would be right.
    #[must_use]
    pub fn json(&self) -> serde_json::Value {
        let (line, column) = self.line_and_column().unzip();
        serde_json::json!({
            "file": self.file(), "line": line, "column": column, "key": self.key, "what": self.what, "right": self.right,
        })
    }

    /// As a note for people, not an error.
    #[must_use]
    pub fn render_note(&self, in_colour: bool) -> String {
        let renderer = if in_colour { Renderer::styled() } else { Renderer::plain() };
        renderer.render(&[self.group(&Level::NOTE)])
    }

    /// The file's name.
    #[must_use]
    pub fn file(&self) -> &str {
        &self.source.name
    }

    /// Line and column, counted from 1 in characters; none when the mistake is the whole file's.
    #[must_use]
    pub fn line_and_column(&self) -> Option<(usize, usize)> {
        let before = self.source.text.get(..self.at.as_ref()?.start)?;
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        let column = before.get(line_start..)?.chars().count() + 1;
        Some((before.matches('\n').count() + 1, column))
    }

    /// What is wrong.
    #[must_use]
    pub fn what(&self) -> &str {
        &self.what
    }

    /// What would be right.
    #[must_use]
    pub fn right(&self) -> &str {
        &self.right
    }

    fn group(&self, level: &Level<'static>) -> Group<'_> {
        let title = level.clone().primary_title(self.what.as_str());
        let group = match &self.at {
            Some(at) => title.element(
                Snippet::source(self.source.text.as_str())
                    .path(self.source.name.as_str())
                    .annotation(AnnotationKind::Primary.span(at.clone())),
            ),
            None => title.element(Origin::path(self.source.name.as_str())),
        };
        group.element(Level::HELP.message(self.right.as_str()))
    }
}

/// Everything that is wrong, in the order of files and lines. Never empty.
#[derive(Clone, Debug)]
pub struct Report(Vec<Mistake>);

impl Report {
    /// `Ok` when nothing is wrong.
    ///
    /// # Errors
    /// The mistakes, put in the order in which they stand in each file.
    pub fn unless_right<T>(good: T, mut mistakes: Vec<Mistake>) -> Result<T, Self> {
        if mistakes.is_empty() {
            return Ok(good);
        }
        let files: Vec<_> = mistakes.iter().map(|mistake| mistake.file().to_owned()).collect();
        let first_met = |mistake: &Mistake| files.iter().position(|file| file == mistake.file());
        mistakes.sort_by_key(|mistake| (first_met(mistake), mistake.at.as_ref().map(|at| at.start)));
        Err(Self(mistakes))
    }

    /// One by one.
    #[must_use]
    pub fn mistakes(&self) -> &[Mistake] {
        &self.0
    }

    /// The program's exit status: 3 when the machine failed us, else 2, the input is wrong.
    #[must_use]
    pub fn exit_status(&self) -> u8 {
        if self.0.iter().any(|mistake| mistake.machine) { 3 } else { 2 }
    }

    /// As text with the lines in question; in colour for a terminal, plain for anything else.
    #[must_use]
    pub fn render(&self, in_colour: bool) -> String {
        let renderer = if in_colour { Renderer::styled() } else { Renderer::plain() };
        let each = |mistake: &Mistake| renderer.render(&[mistake.group(&Level::ERROR)]);
        self.0.iter().map(each).collect::<Vec<_>>().join("\n\n")
    }
}

impl From<Mistake> for Report {
    fn from(only: Mistake) -> Self {
        Self(vec![only])
    }
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(false))
    }
}

impl std::error::Error for Report {}
