//! Scenarios: heat files and settings files, and errors that point into them.
//!
//! [`load`] reads a heat with everything it names; [`load_settings`] reads settings alone. Each gives typed,
//! checked values, or a [`Report`] of everything that is wrong, each mistake with its file, line and key.
//!
//! Inside, text flows one way: `files` fetches it, `reader` checks it against the tables in `keys`, and
//! `settings_file` and `heat_file` put the values where the core and the world want them.

mod calibration_table;
mod checked;
mod degrees;
mod engine_csv;
mod engine_table;
mod fields;
mod files;
mod forms;
pub mod hands_csv;
mod heat_file;
pub mod keys;
mod measure;
pub(crate) mod nearest;
pub mod number;
pub mod race_time;
pub(crate) mod reader;
pub mod report;
mod run_in_table;
mod schema;
mod settings_file;
mod start_table;
#[cfg(test)]
mod tests;
mod truth;
pub mod value;
mod written;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use firmware::settings::Settings;

pub use files::{Files, disk};
pub use report::{Mistake, Report, Source};
pub use written::settings_text;

use crate::recording::EngineRow;
use crate::world::WorldSettings;

/// A heat, as its file tells it.
#[derive(Clone, Debug, PartialEq)]
pub struct Heat {
    /// What it is called.
    pub title: String,
    /// What the dash was told.
    pub settings: Settings,
    /// Every draw comes from this.
    pub seed: u64,
    /// The dash was told zero beforehand.
    pub scheduled: bool,
    /// The truth: the zero, boat and engine, sensors, presses, contacts, and what goes wrong. What has a
    /// recording is turned off in its feeds.
    pub world: WorldSettings,
    /// Where the track comes from.
    pub boat: BoatSource,
    /// Where temperatures and shaft speeds come from.
    pub engine: EngineSource,
}

/// Where the track comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum BoatSource {
    /// The world's own boat and driver.
    World,
    /// A receiver's recording: NMEA 0183, each sentence timed by its own UTC.
    Recording {
        /// Its file.
        path: PathBuf,
        /// What is in it.
        bytes: Vec<u8>,
    },
}

/// Where temperatures and shaft speeds come from.
#[derive(Clone, Debug, PartialEq)]
pub enum EngineSource {
    /// The world's own engine.
    World,
    /// A recording, in the order of time.
    Recording(Vec<EngineRow>),
}

/// Loads a heat file, the settings file that it names, and its recordings.
///
/// # Errors
/// Everything that is wrong with any of them.
pub fn load(path: &Path) -> Result<Heat, Report> {
    load_from(path, &disk)
}

/// The same from files that need not be on a disk.
///
/// # Errors
/// Everything that is wrong with any of them.
pub fn load_from(path: &Path, files: Files<'_>) -> Result<Heat, Report> {
    match files::text(path, files) {
        Ok(source) => {
            let (heat, mistakes) = heat_file::read(&source, path, files);
            Report::unless_right(heat, mistakes)
        }
        Err(unusable) => Err(unusable.file(path).into()),
    }
}

/// Loads a settings file.
///
/// # Errors
/// Everything that is wrong with it.
pub fn load_settings(path: &Path) -> Result<Settings, Report> {
    load_settings_noting(path).map(|(settings, _)| settings)
}

/// The same, with what was read as something newer: keys of an older form.
///
/// # Errors
/// Everything that is wrong with it.
pub fn load_settings_noting(path: &Path) -> Result<(Settings, Vec<Mistake>), Report> {
    match files::text(path, &disk) {
        Ok(source) => settings_from(&source),
        Err(unusable) => Err(unusable.file(path).into()),
    }
}

/// Reads the text of a settings file; `name` is what reports call it.
///
/// # Errors
/// Everything that is wrong with it.
pub fn parse_settings(name: &str, text: &str) -> Result<Settings, Report> {
    let source = Arc::new(Source { name: name.to_owned(), text: text.to_owned() });
    settings_from(&source).map(|(settings, _)| settings)
}

fn settings_from(source: &Arc<Source>) -> Result<(Settings, Vec<Mistake>), Report> {
    let (settings, told) = settings_file::read(source);
    Report::unless_right((settings, told.notes), told.mistakes)
}

/// JSON Schema (draft 2020-12) of settings files.
#[must_use]
pub fn settings_schema() -> serde_json::Value {
    schema::schema("A settings file", keys::settings::KEYS)
}

/// JSON Schema (draft 2020-12) of heat files.
#[must_use]
pub fn heat_schema() -> serde_json::Value {
    schema::schema("A heat file", keys::heat::KEYS)
}
