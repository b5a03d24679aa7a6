//! The report of a heat: pictures, tables and one page that holds them all.
//!
//! Everything is made from the log, so the same log gives the same files, byte for byte; no clock is read and
//! nothing is fetched. Each picture is a file of its own and stands in the page as well.
//!
//! Knows the log. A log in, files in a folder out.

pub mod calibrations;
mod csv;
mod engine;
mod page;
pub(crate) mod palette;
mod run_in;
pub mod settings;
mod speed;
pub(crate) mod suffered;
mod track;

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use page::Picture;

use crate::log::Log;
use crate::summary::{Scale, Summary};

/// Writes the report of a simulated heat into `dir`, which is made if need be; gives the files written.
///
/// # Errors
/// Whatever kept a file from being written.
pub fn write(log: &Log, dir: &Path) -> io::Result<Vec<PathBuf>> {
    write_on(log, Scale::TrueZero, dir)
}

/// Writes the report of a log whose times count from whatever `scale` says.
///
/// # Errors
/// Whatever kept a file from being written.
pub fn write_on(log: &Log, scale: Scale, dir: &Path) -> io::Result<Vec<PathBuf>> {
    fs::create_dir_all(dir)?;
    let mut written = Vec::new();
    for (name, text) in files(log, scale)? {
        let path = dir.join(name);
        fs::write(&path, text)?;
        written.push(path);
    }
    Ok(written)
}

/// Every file of the report: name and text.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn files(log: &Log, scale: Scale) -> io::Result<Vec<(&'static str, String)>> {
    let summary = Summary::of(log, scale);
    let pictures = [
        Picture { svg: run_in::draw(log, &summary)?, caption: RUN_IN },
        Picture { svg: track::draw(log, &summary)?, caption: TRACK },
        Picture { svg: speed::draw(log, &summary)?, caption: SPEED },
        Picture { svg: engine::draw(log, &summary)?, caption: ENGINE },
    ];
    let page = page::page(log, &summary, &pictures);
    let names = ["run-in.svg", "track.svg", "speed.svg", "engine.svg"];
    let mut files = vec![("report.html", page)];
    files.extend(names.into_iter().zip(pictures.map(|picture| picture.svg)));
    files.push(("table.csv", csv::decisions(log)));
    files.push(("track.csv", csv::track(log)));
    files.push(("engine-book.csv", suffered::book(log, &summary)));
    Ok(files)
}

const RUN_IN: &str = "The run-in: the bow's distance to the line, and the start call with its error bar.";
const TRACK: &str = "The antenna's way over the water. Ring: the start; cross: a lap; triangle: the line crossed \
                     while milling.";
const SPEED: &str = "Speed over ground against distance run, from one lap before the start.";
const ENGINE: &str = "What the gauges told the dash, with the limits from the settings. Triangle: an exceedance \
                      was called.";

#[cfg(test)]
mod tests;
