//! Calibrations: five short measurements that make the settings true of this boat, each against something trusted.
//!
//! | what | against | file |
//! | --- | --- | --- |
//! | a thermocouple | melting ice, boiling water | `thermocouple.rs`, `steam.rs` |
//! | a tachometer | a known frequency | `tach.rs` |
//! | the antenna's place | a tape, or the bow at one mark on two headings | `antenna.rs` |
//! | the thumb | forty presses | `thumb.rs` |
//! | the board's crystal | the receiver's pulse | `crystal.rs` |
//!
//! Each is pure: figures in, a [`Found`] out, or [`Nonsense`] in words. `live.rs` gets the figures from a board, `readings.rs` from
//! a record, `file.rs` writes what was found into the owner's settings file, `command.rs` is what a person meets.

pub mod antenna;
pub mod command;
pub mod crystal;
pub mod file;
pub mod live;
pub mod readings;
pub mod steam;
pub mod tach;
pub mod thermocouple;
pub mod thumb;
mod words;

use firmware::calibration::Date;

/// What a calibration found.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// What was calibrated, in words.
    pub what: String,
    /// Each figure: its name with unit, before, after.
    pub figures: Vec<Figure>,
    /// What a person should know of it.
    pub notes: Vec<String>,
    /// What stands in the settings file afterwards.
    pub edits: Vec<Edit>,
}

/// One figure, before and after.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Its name, with its unit.
    pub name: String,
    /// As the settings had it.
    pub before: String,
    /// As it was found.
    pub after: String,
}

/// A change of a settings file.
#[derive(Clone, Debug, PartialEq)]
pub enum Edit {
    /// A key of a table gets this number, written with so many decimals.
    Number {
        /// The table.
        table: &'static str,
        /// The key.
        key: &'static str,
        /// The value.
        value: f64,
        /// Decimals.
        decimals: usize,
    },
    /// A key of `[calibration]` gets the day.
    Made(&'static str),
    /// The row of a thermocouple.
    Probe {
        /// Counted from 1.
        number: u8,
        /// What it showed in ice.
        ice_c: f64,
        /// What it showed in boiling water.
        boiling_c: f64,
        /// Where water boiled.
        boils_at_c: f64,
    },
}

/// Why figures make no calibration: what is wrong with them, and what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct Nonsense(pub String);

impl Nonsense {
    /// In these words.
    pub fn because(words: impl Into<String>) -> Self {
        Self(words.into())
    }
}

impl Figure {
    /// A figure with so many decimals.
    #[must_use]
    pub fn new(name: &str, before: Option<f64>, after: f64, decimals: usize) -> Self {
        let shown = |value: f64| format!("{value:.decimals$}");
        Self { name: name.to_owned(), before: before.map_or("never".to_owned(), shown), after: shown(after) }
    }
}

/// The mean of some figures and the standard deviation of one of them; nothing for less than two.
#[must_use]
pub fn mean_and_sd(figures: &[f64]) -> Option<(f64, f64)> {
    use statrs::statistics::Statistics as _;
    (figures.len() >= 2).then(|| (figures.mean(), figures.std_dev()))
}

/// A day as text, `2031-05-17`.
#[must_use]
pub fn day(date: Date) -> String {
    let midnight = i64::from(date.0).saturating_mul(86_400_000_000);
    let moment = firmware::gnss::calendar::rfc3339(firmware::units::Utc::from_unix_micros(midnight));
    moment.to_string().chars().take(10).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the calendar; 2031-05-17 is 22,416 days after 1970-01-01 (61 years of 365 days, 15 leap days, 136 days).
    #[test]
    fn a_date_reads_as_the_calendar_has_it() {
        assert_eq!(day(Date(22_416)), "2031-05-17");
        assert_eq!(day(Date(0)), "1970-01-01");
    }
}
