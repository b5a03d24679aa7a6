//! What `gunline export` runs: a journal or a heat file in, files for maps and tables out.
//!
//! A heat file is played first, and what its dash recorded is exported. Exit status 0: every file is written. 2: the words
//! or the record are wrong. 3: the machine failed us.

use std::fs;
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::json;

use super::{Exported, gather, gpx, kml, tables};
use crate::judge::command::unread;
use crate::outlet::{Wrong, to_stdout};
use crate::replay::replay;
use crate::{play, scenario};

/// The words after `gunline export`.
#[derive(Args, Debug)]
pub struct ExportWords {
    /// A journal, as a board or the simulator recorded it; or a heat file, which is played first.
    record: PathBuf,
    /// Writes the way and what happened as GPX 1.1.
    #[arg(long, value_name = "FILE")]
    gpx: Option<PathBuf>,
    /// Writes the same as KML 2.2.
    #[arg(long, value_name = "FILE")]
    kml: Option<PathBuf>,
    /// Writes a table with a row for each fix.
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Writes a table with a row for each decision.
    #[arg(long, value_name = "FILE")]
    events: Option<PathBuf>,
    /// Which heat of the record, 1 for the first; without it the last one in which a clock was set.
    #[arg(long, value_name = "N")]
    heat: Option<usize>,
    /// Says what was written as JSON objects, one a line.
    #[arg(long)]
    json: bool,
}

/// Runs it.
///
/// # Errors
/// Words for a person, and the exit status they make.
pub fn run(words: &ExportWords) -> Result<(), Wrong> {
    let asked = [&words.gpx, &words.kml, &words.csv, &words.events];
    if asked.iter().all(|path| path.is_none()) {
        return Err((
            2,
            "error: say what to write: --gpx, --kml, --csv or --events, each with a file".into(),
        ));
    }
    let (title, journal) = journal_of(&words.record)?;
    let replayed =
        replay(&journal).map_err(|why| (2, format!("error: {}: {why}", words.record.display())))?;
    if !replayed.agrees() {
        eprintln!(
            "caution: this record is not whole, or does not lead to its own decisions: gunline judge says more"
        );
    }
    let heat = gather(&journal, words.heat, &title)
        .map_err(|why| (2, format!("error: {}: {why}", words.record.display())))?;
    let names = ["gpx", "kml", "csv", "events"];
    let mut written = Vec::new();
    for (format, path) in names.into_iter().zip(asked) {
        let Some(path) = path else { continue };
        let bytes = made(format, &heat).map_err(|why| (3, format!("error: {}: {why}", path.display())))?;
        fs::write(path, &bytes)
            .map_err(|error| (3, format!("error: cannot write {}: {error}", path.display())))?;
        written.push((format, path, bytes.len()));
    }
    to_stdout(|out| {
        for (format, path, bytes) in &written {
            if words.json {
                let told = json!({ "kind": "written", "format": format, "file": path, "bytes": bytes,
                    "fixes": heat.points.len(), "events": heat.events.len() });
                writeln!(out, "{told}")?;
            } else {
                writeln!(out, "{format:<6}  {}  {bytes} bytes", path.display())?;
            }
        }
        Ok(())
    })
}

/// One format's bytes.
fn made(format: &str, heat: &Exported) -> Result<Vec<u8>, String> {
    match format {
        "gpx" => gpx::gpx(heat).map_err(|error| error.to_string()),
        "kml" => kml::kml(heat).map_err(|error| error.to_string()),
        "csv" => tables::track(heat).map_err(|error| error.to_string()),
        _ => tables::events(heat).map_err(|error| error.to_string()),
    }
}

/// Title and journal. A heat file is told by its ending.
fn journal_of(path: &Path) -> Result<(String, Vec<u8>), Wrong> {
    if path.extension().is_some_and(|ending| ending == "toml") {
        let heat = scenario::load(path)
            .map_err(|report| (report.exit_status(), report.render(std::io::stderr().is_terminal())))?;
        return Ok((heat.title.clone(), play::play(&heat).journal));
    }
    let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    Ok((name, fs::read(path).map_err(|error| unread(path, &error))?))
}
