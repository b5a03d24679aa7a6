//! The `gunline` command: words in, exit status out.
//!
//! 0: done and good. 1: done, and the answer is no. 2: the input or the words of the command are wrong. 3: the
//! machine failed us. What is asked for goes to standard output, everything else to standard error.

#![forbid(unsafe_code)]

use std::fs;
use std::io::{self, BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use gunline::fixes::{self, Form};
use gunline::log::Log;
use gunline::{json, play, report, scenario, timeline, wave};

/// A start clock for a race with a flying start, and its simulator.
///
/// Practice and advice only: the race officials decide, the engine maker's manual rules, and all limits that
/// ship are demonstration data. See docs/cautions.md.
#[derive(Parser)]
#[command(
    name = "gunline",
    version,
    after_help = "Exit status: 0 done and good; 1 done, and the answer is no; \
2 the input or the words of the command are wrong; 3 the machine failed us (disk, port, permission)."
)]
struct Words {
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Subcommand)]
enum Verb {
    /// Plays one heat in virtual time and prints its timeline.
    Run(RunWords),
    /// Shows what the dash's own decoder makes of a receiver's bytes.
    Fixes {
        /// The receiver's bytes: NMEA 0183, UBX, or both mixed.
        file: PathBuf,
        /// One JSON object a line: a fix, or a rejected sentence with its reason.
        #[arg(long)]
        json: bool,
    },
}

#[derive(clap::Args)]
struct RunWords {
    /// The heat file.
    heat: PathBuf,
    /// JSON objects, one a line, instead of the timeline.
    #[arg(long)]
    json: bool,
    /// Writes the report into this folder: pictures, tables, and one page that holds all.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Writes what the dash recorded.
    #[arg(long, value_name = "FILE")]
    journal: Option<PathBuf>,
    /// Writes signals over time (VCD, IEEE 1364).
    #[arg(long, value_name = "FILE.vcd")]
    wave: Option<PathBuf>,
    /// Draws from this seed instead of the heat file's.
    #[arg(long)]
    seed: Option<u64>,
}

/// What went wrong, in words, and the exit status it makes.
struct Failure {
    status: u8,
    says: String,
}

impl Failure {
    /// The machine refused to read or write `path`; a file that is not there is wrong input.
    fn of(path: &Path, error: &io::Error) -> Self {
        let wrong_input = matches!(error.kind(), io::ErrorKind::NotFound | io::ErrorKind::IsADirectory);
        Self { status: if wrong_input { 2 } else { 3 }, says: format!("error: {}: {error}", path.display()) }
    }

    fn writing(path: &Path, error: &io::Error) -> Self {
        Self { status: 3, says: format!("error: cannot write {}: {error}", path.display()) }
    }
}

fn main() -> ExitCode {
    let done = match Words::parse().verb {
        Verb::Run(words) => run(&words),
        Verb::Fixes { file, json } => show_fixes(&file, if json { Form::Json } else { Form::Text }),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("{}", failure.says);
            ExitCode::from(failure.status)
        }
    }
}

fn run(words: &RunWords) -> Result<(), Failure> {
    let mut heat = scenario::load(&words.heat).map_err(|report| Failure {
        status: report.exit_status(),
        says: report.render(io::stderr().is_terminal()),
    })?;
    heat.seed = words.seed.unwrap_or(heat.seed);
    let log = play::play(&heat);
    print(|out| if words.json { json::write(&log, out) } else { timeline::write(&log, out) })?;
    write_files(&log, words)
}

fn write_files(log: &Log, words: &RunWords) -> Result<(), Failure> {
    if let Some(path) = &words.journal {
        fs::write(path, &log.journal).map_err(|error| Failure::writing(path, &error))?;
        eprintln!("journal: {} ({} bytes)", path.display(), log.journal.len());
    }
    if let Some(path) = &words.wave {
        write_wave(log, path).map_err(|error| Failure::writing(path, &error))?;
        eprintln!("waves: {}", path.display());
    }
    if let Some(dir) = &words.out {
        let files = report::write(log, dir).map_err(|error| Failure::writing(dir, &error))?;
        let page = files.iter().find(|file| file.extension().is_some_and(|kind| kind == "html"));
        eprintln!("report: {} ({} files)", page.unwrap_or(dir).display(), files.len());
    }
    Ok(())
}

fn write_wave(log: &Log, path: &Path) -> io::Result<()> {
    let mut out = BufWriter::new(fs::File::create(path)?);
    wave::write(log, &mut out)?;
    out.flush()
}

fn show_fixes(file: &Path, form: Form) -> Result<(), Failure> {
    let bytes = fs::read(file).map_err(|error| Failure::of(file, &error))?;
    let mut counts = None;
    print(|out| {
        counts = Some(fixes::write(&bytes, form, out)?);
        Ok(())
    })?;
    if let Some(counts) = counts {
        eprintln!("{}", fixes::summary(&counts));
    }
    Ok(())
}

/// Writes to standard output; a reader that has heard enough and closed the pipe is no failure.
fn print(write: impl FnOnce(&mut BufWriter<io::StdoutLock<'_>>) -> io::Result<()>) -> Result<(), Failure> {
    let mut out = BufWriter::new(io::stdout().lock());
    match write(&mut out).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure { status: 3, says: format!("error: cannot write to standard output: {error}") })
        }
        _ => Ok(()),
    }
}
