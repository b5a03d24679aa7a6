//! What `gunline sweep` runs: words in; the table or the lines to standard output, the rest to standard error.

use std::fs::{self, File};
use std::io::{self, BufReader, BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::{Shard, Sweep, histogram, lines, merge, sweep, table};
use crate::outlet::{Wrong, to_stdout};
use crate::scenario;

/// The words after `gunline sweep`.
#[derive(Args, Debug)]
pub struct SweepWords {
    /// The heat file: course, boat, receiver and settings. Without [run_in] in them, the lane is that of the world's
    /// own oval.
    #[arg(required_unless_present = "merge")]
    heat: Option<PathBuf>,
    /// How many starts; each is driven twice, by the dash and by stopwatch.
    #[arg(long, default_value_t = 2_000)]
    starts: u64,
    /// Draws from this seed instead of the heat file's.
    #[arg(long)]
    seed: Option<u64>,
    /// Runs only this part of the starts, such as 2/8; `--json` then makes what `--merge` takes.
    #[arg(long, value_name = "I/N")]
    shard: Option<Shard>,
    /// Threads; the result does not depend on them. Without it, one for each core.
    #[arg(long)]
    threads: Option<usize>,
    /// Runs nothing: puts together what other runs wrote with `--json`.
    #[arg(long, value_name = "FILE", num_args = 1.., conflicts_with_all = ["heat", "shard", "seed"])]
    merge: Vec<PathBuf>,
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
pub fn run(words: &SweepWords) -> Result<(), Wrong> {
    let whole = match &words.heat {
        Some(heat) => in_pool(words.threads, || drive(heat, words))?,
        None => together(&words.merge)?,
    };
    to_stdout(|out| if words.json { lines::write(&whole, out) } else { table::write(&whole, out) })?;
    match &words.out {
        Some(dir) => {
            files(&whole, dir).map_err(|error| (3, format!("error: cannot write {}: {error}", dir.display())))
        }
        None => Ok(()),
    }
}

fn drive(heat: &Path, words: &SweepWords) -> Result<Sweep, Wrong> {
    let heat = scenario::load(heat)
        .map_err(|report| (report.exit_status(), report.render(io::stderr().is_terminal())))?;
    let shard = words.shard.unwrap_or(Shard::WHOLE);
    sweep(&heat, words.seed.unwrap_or(heat.seed), words.starts, shard, bar())
        .map_err(|error| (2, format!("error: {error}")))
}

/// Runs work on so many threads; without a number, on as many as there are cores.
pub(crate) fn in_pool<T: Send>(
    threads: Option<usize>,
    work: impl FnOnce() -> Result<T, Wrong> + Send,
) -> Result<T, Wrong> {
    let Some(threads) = threads else { return work() };
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    pool.map_err(|error| (3, format!("error: cannot start {threads} threads: {error}")))?.install(work)
}

fn together(files: &[PathBuf]) -> Result<Sweep, Wrong> {
    let read = |path: &PathBuf| {
        let file = File::open(path).map_err(|error| error.to_string());
        file.and_then(|file| lines::read(BufReader::new(file)))
            .map_err(|error| (2, format!("error: {}: {error}", path.display())))
    };
    let parts = files.iter().map(read).collect::<Result<Vec<_>, _>>()?;
    merge(parts).map_err(|error| (2, format!("error: {error}")))
}

fn files(whole: &Sweep, dir: &Path) -> io::Result<()> {
    fs::create_dir_all(dir)?;
    let mut table = Vec::new();
    table::write(whole, &mut table)?;
    fs::write(dir.join("sweep.txt"), table)?;
    let mut text = BufWriter::new(File::create(dir.join("sweep.jsonl"))?);
    lines::write(whole, &mut text)?;
    text.flush()?;
    fs::write(dir.join("sweep.svg"), histogram(whole)?)?;
    eprintln!("sweep: {} (3 files)", dir.display());
    Ok(())
}

/// A bar that only a person sees.
pub(crate) fn bar() -> ProgressBar {
    let target =
        if io::stderr().is_terminal() { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
    let style = ProgressStyle::with_template("{bar:40} {pos} of {len} starts, {per_sec}, {eta} to go");
    ProgressBar::with_draw_target(None, target)
        .with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}
