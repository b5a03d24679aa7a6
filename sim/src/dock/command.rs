//! What `gunline dock` runs: words in; the table or the lines to standard output, the rest to standard error.

use std::fs::{self, File};
use std::io::{self, BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};

use clap::Args;

use super::{Starts, histogram, lines, starts, table};
use crate::outlet::{Wrong, to_stdout};
use crate::scenario;
use crate::sweep::command::{bar, in_pool};
use crate::world::maths::span;

/// The words after `gunline dock`.
#[derive(Args, Debug)]
pub struct DockWords {
    /// The heat file: the engine, the hand at the dock and the settings from which the starts depart.
    heat: PathBuf,
    /// How many starts.
    #[arg(long, default_value_t = 5_000)]
    starts: u64,
    /// Draws from this seed instead of the heat file's.
    #[arg(long)]
    seed: Option<u64>,
    /// All starts have a junction of this lag, s, and the dash is told so; without it, each start draws its own.
    #[arg(long, value_name = "S", value_parser = lag)]
    probe_lag: Option<f64>,
    /// Threads; the result does not depend on them. Without it, one for each core.
    #[arg(long)]
    threads: Option<usize>,
    /// JSON objects, one a line, instead of the table.
    #[arg(long)]
    json: bool,
    /// Writes the table, the lines and the histogram into this folder.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

/// Runs it.
///
/// # Errors
/// Words for a person, and the exit status they make.
pub fn run(words: &DockWords) -> Result<(), Wrong> {
    let all = in_pool(words.threads, || draw(words))?;
    to_stdout(|out| if words.json { lines::write(&all, out) } else { table::write(&all, out) })?;
    match &words.out {
        Some(dir) => {
            files(&all, dir).map_err(|error| (3, format!("error: cannot write {}: {error}", dir.display())))
        }
        None => Ok(()),
    }
}

fn draw(words: &DockWords) -> Result<Starts, Wrong> {
    let mut heat = scenario::load(&words.heat)
        .map_err(|report| (report.exit_status(), report.render(io::stderr().is_terminal())))?;
    if let Some(lag_s) = words.probe_lag {
        heat.settings.engine.start.probe_lag = span(lag_s);
    }
    starts(&heat, words.probe_lag, words.seed.unwrap_or(heat.seed), words.starts, bar())
        .map_err(|error| (2, format!("error: {error}")))
}

/// A junction's lag, as the settings take it.
fn lag(word: &str) -> Result<f64, String> {
    let lag_s = word.parse().ok().filter(|lag_s| (0.001..=3.0).contains(lag_s));
    lag_s.ok_or_else(|| "a lag is from 0.001 to 3 s".to_owned())
}

fn files(all: &Starts, dir: &Path) -> io::Result<()> {
    fs::create_dir_all(dir)?;
    let mut table = Vec::new();
    table::write(all, &mut table)?;
    fs::write(dir.join("dock.txt"), table)?;
    let mut text = BufWriter::new(File::create(dir.join("dock.jsonl"))?);
    lines::write(all, &mut text)?;
    text.flush()?;
    fs::write(dir.join("dock.svg"), histogram(all)?)?;
    eprintln!("dock: {} (3 files)", dir.display());
    Ok(())
}
