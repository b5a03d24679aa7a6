//! Every key that a file may hold: what it takes, from where to where, what holds without it, and why.
//!
//! These tables are the one place where a key is described. The reader checks files against them, error
//! messages quote them, and `docs/settings.md` is printed from them.
//!
//! Plain data; this file knows exact decimals.

pub mod heat;
pub mod settings;

use super::number::Decimal;

/// One key of a file.
#[derive(Clone, Copy, Debug)]
pub struct Key {
    /// Tables and name, as in `rules.floor.grace_s`; `press[].at` is a key of each `[[press]]`.
    pub path: &'static str,
    /// What may stand behind the equals sign.
    pub takes: Takes,
    /// What holds when it is not there.
    pub otherwise: Otherwise,
    /// What it is for, and where its default comes from.
    pub why: &'static str,
}

/// The unit of how far temperatures are apart: 9 degF are 5 degC there, and as a temperature they are -12.8.
pub(super) const DIFFERENCE: &str = "degrees C of difference";

/// The least and the largest radius of a bend, metres; a boat turns the other way round the negative ones.
pub(super) const RADIUS_M: (&str, &str) = ("-5000", "5000");

/// What a key takes.
#[derive(Clone, Copy, Debug)]
pub enum Takes {
    /// A number with a unit, from the one to the other.
    Number {
        /// Its unit, as printed.
        unit: &'static str,
        /// The least it may be.
        from: &'static str,
        /// The most it may be.
        to: &'static str,
    },
    /// A whole number.
    Whole {
        /// What is counted.
        unit: &'static str,
        /// The least it may be.
        from: i64,
        /// The most it may be.
        to: i64,
    },
    /// A list of whole numbers or numbers.
    List {
        /// What each of them is.
        each: &'static Takes,
        /// The most there may be.
        most: usize,
    },
    /// Latitude and longitude.
    Place,
    /// Bends: of each latitude, longitude and radius.
    Bends {
        /// The most there may be.
        most: usize,
    },
    /// One of these words.
    Word(&'static [&'static str]),
    /// `true` or `false`.
    Flag,
    /// Any text.
    Text,
    /// A file, relative to the one that names it.
    File,
    /// A moment in UTC.
    Moment,
    /// A day.
    Day,
    /// `"[-]M:SS.mmm"`, or seconds.
    RaceTime,
}

/// What holds when a key is not there.
#[derive(Clone, Copy, Debug)]
pub enum Otherwise {
    /// The file is wrong without it; this is an example.
    Needed(&'static str),
    /// The table it stands in is wrong without it; this is an example.
    NeededInItsTable(&'static str),
    /// This value.
    Is(&'static str),
    /// What these words say.
    Means(&'static str),
}

/// A row of a table of keys.
const fn key(path: &'static str, takes: Takes, otherwise: Otherwise, why: &'static str) -> Key {
    Key { path, takes, otherwise, why }
}

/// A number from the one to the other.
const fn number(unit: &'static str, from: &'static str, to: &'static str) -> Takes {
    Takes::Number { unit, from, to }
}

/// A whole number from the one to the other.
const fn whole(unit: &'static str, from: i64, to: i64) -> Takes {
    Takes::Whole { unit, from, to }
}

impl Key {
    /// The key's own name, without its tables.
    #[must_use]
    pub fn name(&self) -> &'static str {
        self.path.rsplit_once('.').map_or(self.path, |(_, name)| name)
    }

    /// The table it stands in; nothing for the top of the file.
    #[must_use]
    pub fn table(&self) -> &'static str {
        self.path.rsplit_once('.').map_or("", |(table, _)| table)
    }

    /// A value that would be right.
    #[must_use]
    pub fn example(&self) -> String {
        match (self.otherwise, self.takes) {
            (Otherwise::Needed(text) | Otherwise::NeededInItsTable(text) | Otherwise::Is(text), _) => {
                text.to_owned()
            }
            (Otherwise::Means(_), takes) => takes.example(),
        }
    }
}

impl Takes {
    /// The least that it takes, or a stock example.
    fn example(&self) -> String {
        match *self {
            Self::Number { from, .. } => from.to_owned(),
            Self::Whole { from, .. } => from.to_string(),
            Self::List { .. } => "[]".to_owned(),
            Self::Place => "[45.0, -30.0]".to_owned(),
            Self::Bends { .. } => "[[45.01, -30.0, 200.0]]".to_owned(),
            Self::Word(words) => one_of(words.get(..1).unwrap_or_default()),
            Self::Flag => "true".to_owned(),
            Self::Text | Self::File => "\"track.nmea\"".to_owned(),
            Self::Moment => "2031-05-17T19:05:00.000Z".to_owned(),
            Self::Day => "2031-05-17".to_owned(),
            Self::RaceTime => "\"-4:59.730\"".to_owned(),
        }
    }

    /// What it is, in words: "a whole number from 1 to 100 laps".
    #[must_use]
    pub fn in_words(&self) -> String {
        match *self {
            Self::Number { unit, from, to } => format!("a number from {from} to {to}{}", spaced(unit)),
            Self::Whole { unit, from, to } => format!("a whole number from {from} to {to}{}", spaced(unit)),
            Self::List { each: Self::Whole { unit, from, to }, most } => {
                format!("up to {most} whole numbers in brackets, each from {from} to {to}{}", spaced(unit))
            }
            Self::List { each, most } => format!("up to {most} in brackets, each {}", each.in_words()),
            Self::Place => "[latitude, longitude] in degrees, WGS 84, north and east positive".to_owned(),
            Self::Bends { most } => {
                let (from, to) = RADIUS_M;
                format!(
                    "up to {most} bends in brackets, each [latitude, longitude, radius]: degrees like a place's, \
                     and a number from {from} to {to} m"
                )
            }
            Self::Word(words) => one_of(words),
            Self::Flag => "true or false".to_owned(),
            Self::Text => "a text in quotes".to_owned(),
            Self::File => "a file's path in quotes".to_owned(),
            Self::Day => "a date without quotes".to_owned(),
            Self::Moment => "a date and time with a Z for UTC, without quotes".to_owned(),
            Self::RaceTime => "a race time \"[-]M:SS.mmm\", or seconds; negative before zero".to_owned(),
        }
    }
}

/// `"a", "b" or "c"`, each in quotes.
#[must_use]
pub fn one_of(words: &[&str]) -> String {
    let quoted: Vec<_> = words.iter().map(|word| format!("\"{word}\"")).collect();
    match quoted.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, first)) => format!("{} or {last}", first.join(", ")),
        None => String::new(),
    }
}

/// A bound as it is written in the tables; a test reads them all.
pub(super) fn bound(text: &str) -> Decimal {
    Decimal::parse(text).unwrap_or_default()
}

fn spaced(unit: &str) -> String {
    if unit.is_empty() { String::new() } else { format!(" {unit}") }
}
