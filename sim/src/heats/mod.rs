//! The heats that ship, out of the program itself: an installed `gunline` has no repository beside it.
//!
//! All of them are invented. The files are built in as they stand in `sim/heats`.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use include_dir::{Dir, File, include_dir};
use serde_json::json;

use crate::outlet::{Wrong, to_stdout};

static SHIPPED: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/heats");

/// The words after `gunline heats`.
#[derive(Args, Debug)]
pub struct HeatsWords {
    /// Writes the heats, and the settings that they need, into this folder. A file that differs is not written over.
    #[arg(long, value_name = "DIR")]
    write: Option<PathBuf>,
    /// JSON objects, one a line, instead of the list.
    #[arg(long)]
    json: bool,
}

/// Lists the heats, or writes them.
///
/// # Errors
/// 2 when a file there differs, 3 when the disk refuses; with words.
pub fn run(words: &HeatsWords) -> Result<(), Wrong> {
    if let Some(dir) = &words.write {
        write(dir)?;
    }
    to_stdout(|out| {
        for (file, title) in shipped() {
            let place = words.write.as_ref().map_or_else(|| file.path().into(), |dir| dir.join(file.path()));
            if words.json {
                writeln!(out, "{}", json!({ "kind": "heat-file", "file": place, "title": title }))?;
            } else {
                writeln!(out, "{:<32}  {title}", place.display())?;
            }
        }
        Ok(())
    })
}

/// The heat files with their titles, by name. What has no title is settings for them.
fn shipped() -> Vec<(&'static File<'static>, String)> {
    let mut heats: Vec<_> = SHIPPED
        .files()
        .filter_map(|file| {
            let table: toml::Table = file.contents_utf8()?.parse().ok()?;
            Some((file, table.get("title")?.as_str()?.to_string()))
        })
        .collect();
    heats.sort_by_key(|(file, _)| file.path());
    heats
}

/// All or nothing: looks first whether anything would be lost.
fn write(dir: &Path) -> Result<(), Wrong> {
    let own = |file: &File<'_>| fs::read(dir.join(file.path())).is_ok_and(|found| found != file.contents());
    if let Some(file) = SHIPPED.files().find(|file| own(file)) {
        let path = dir.join(file.path());
        return Err((
            2,
            format!("error: {} is there already, and differs: nothing was written", path.display()),
        ));
    }
    let write = || -> io::Result<()> {
        fs::create_dir_all(dir)?;
        SHIPPED.files().try_for_each(|file| fs::write(dir.join(file.path()), file.contents()))
    };
    write().map_err(|error| (3, format!("error: cannot write into {}: {error}", dir.display())))
}
