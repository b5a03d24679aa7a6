//! The `gunline` command: words in, exit status out.
//!
//! 0: done and good. 1: done, and the answer is no. 2: the input or the words of the command are wrong. 3: the
//! machine failed us. What is asked for goes to standard output, everything else to standard error.

#![forbid(unsafe_code)]

use std::fs;
use std::io::{self, BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{CommandFactory, Parser, Subcommand};
use firmware::journal::signature::public_key;
use firmware::units::Span;
use gunline::bench::command::{BenchWords, run as bench};
use gunline::board::Trouble;
use gunline::board::command::{self, BoardWords, PackWords};
use gunline::calibrate::command::{CalibrateWords, run as calibrate};
use gunline::clock_check::command::{ClockWords, run as clock_check};
use gunline::dock::command::{DockWords, run as dock};
use gunline::export::command::{ExportWords, run as export};
use gunline::fixes::{self, Form};
use gunline::heats::{HeatsWords, run as heats};
use gunline::judge::command::{JudgeWords, key_in, run as judge};
use gunline::log::Log;
use gunline::manual::{CompletionWords, ManualWords, completions, manual};
use gunline::outlet::to_stdout;
use gunline::practice::command::{PracticeWords, run as practice};
use gunline::prove::command::{ProveWords, run as prove};
use gunline::scenario::{Heat, race_time};
use gunline::sensors::Part;
use gunline::stimulus::Stimulus;
use gunline::survey::command::{SurveyWords, run as survey};
use gunline::sweep::command::{SweepWords, run as sweep};
use gunline::{json, learned, play, report, scenario, timeline, wave};

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
    /// Drives thousands of starts, by the dash's run-in number and by stopwatch, and compares.
    Sweep(SweepWords),
    /// Serves a page on this machine to practise starts by hand, with the real dash. See docs/practice.md.
    Practice(PracticeWords),
    /// Explores every reachable state of the timing logic and checks each written rule.
    Prove(ProveWords),
    /// Draws thousands of engine starts at the dock and counts what the dash said of them, and when.
    Dock(DockWords),
    /// An official's check of a record: whole? untouched? Do its inputs lead to its decisions? See docs/officials.md.
    Judge(JudgeWords),
    /// Writes a record for maps and tables: GPX 1.1, KML 2.2, CSV. See docs/export.md.
    Export(ExportWords),
    /// Holds a board's clock against a reference and writes a certificate. See docs/officials.md.
    ClockCheck(ClockWords),
    /// Measures what the settings say of this boat: thermocouple, tachometer, antenna, thumb, crystal. See
    /// docs/calibration.md.
    Calibrate(CalibrateWords),
    /// Turns marks into a course, checks it and draws it. See docs/survey.md.
    Survey(SurveyWords),
    /// Checks settings and writes what a board takes.
    Pack(PackWords),
    /// Talks with a board over its USB cable: settings in, journal out. See docs/protocol.md.
    Board(BoardWords),
    /// Lists the invented heats that ship, or writes them into a folder.
    Heats(HeatsWords),
    /// Prints what a shell needs to complete these words. See docs/install.md.
    Completions(CompletionWords),
    /// Prints or writes the manual's pages, for man.
    Manual(ManualWords),
    /// Plays a heat to a board in real time and compares its decisions with the simulator's. See docs/bench.md.
    Bench(BenchWords),
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
    /// Signs the journal's seals with this secret Ed25519 key: a file with 64 hexadecimal digits.
    #[arg(long, value_name = "KEYFILE", requires = "journal")]
    key: Option<PathBuf>,
    /// Writes signals over time (VCD, IEEE 1364).
    #[arg(long, value_name = "FILE.vcd")]
    wave: Option<PathBuf>,
    /// Writes the heat as what happens at a board's pins, for an emulated board to be played to.
    #[arg(long, value_name = "FILE")]
    stimulus: Option<PathBuf>,
    /// A look at display, lamps and beeper in the stimulus, [-]M:SS.mmm; may be given more than once. Without it
    /// there are ten, evenly spread.
    #[arg(long, value_name = "RACE_TIME", value_parser = race_time::parse, allow_hyphen_values = true)]
    look: Vec<Span>,
    /// Plays only what comes after this race time, [-]M:SS.mmm; the board is switched on then.
    #[arg(long, value_name = "RACE_TIME", value_parser = race_time::parse, allow_hyphen_values = true)]
    from: Option<Span>,
    /// Plays only what comes before this race time.
    #[arg(long, value_name = "RACE_TIME", value_parser = race_time::parse, allow_hyphen_values = true)]
    until: Option<Span>,
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

impl From<Trouble> for Failure {
    fn from(trouble: Trouble) -> Self {
        Self { status: trouble.exit_status(), says: trouble.told(io::stderr().is_terminal()) }
    }
}

fn main() -> ExitCode {
    let done = match Words::parse().verb {
        Verb::Run(words) => run(&words),
        Verb::Fixes { file, json } => show_fixes(&file, if json { Form::Json } else { Form::Text }),
        Verb::Sweep(words) => sweep(&words).map_err(|(status, says)| Failure { status, says }),
        Verb::Practice(words) => practice(&words).map_err(|(status, says)| Failure { status, says }),
        Verb::Prove(words) => prove(&words).map_err(|(status, says)| Failure { status, says }),
        Verb::Dock(words) => dock(&words).map_err(|(status, says)| Failure { status, says }),
        Verb::Export(words) => export(&words).map_err(|(status, says)| Failure { status, says }),
        Verb::Judge(words) => return answered(judge(&words)),
        Verb::ClockCheck(words) => return answered(clock_check(&words)),
        Verb::Calibrate(words) => return answered(calibrate(&words)),
        Verb::Survey(words) => return answered(survey(&words)),
        Verb::Pack(words) => command::pack(&words).map_err(Failure::from),
        Verb::Bench(words) => return answered(bench(&words)),
        Verb::Board(words) => command::board(&words).map_err(Failure::from),
        Verb::Heats(words) => heats(&words).map_err(|(status, says)| Failure { status, says }),
        Verb::Completions(words) => {
            completions(Words::command(), &words).map_err(|(status, says)| Failure { status, says })
        }
        Verb::Manual(words) => {
            manual(Words::command(), &words).map_err(|(status, says)| Failure { status, says })
        }
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("{}", failure.says);
            ExitCode::from(failure.status)
        }
    }
}

/// An answer that may be no: its exit status, or that of what went wrong.
fn answered(answer: Result<u8, (u8, String)>) -> ExitCode {
    ExitCode::from(answer.unwrap_or_else(|(status, says)| {
        eprintln!("{says}");
        status
    }))
}

fn run(words: &RunWords) -> Result<(), Failure> {
    let mut heat = scenario::load(&words.heat).map_err(|report| Failure {
        status: report.exit_status(),
        says: report.render(io::stderr().is_terminal()),
    })?;
    heat.seed = words.seed.unwrap_or(heat.seed);
    let part = part(words)?;
    let key = words.key.as_deref().map(key_in).transpose();
    let key = key.map_err(|(status, says)| Failure { status, says })?;
    let log = play::play_signed(&heat, part, key);
    if let Some(key) = key {
        eprintln!("signed with the key whose public half is {}", timeline::hex(&public_key(&key)));
    }
    print(|out| if words.json { json::write(&log, out) } else { timeline::write(&log, out) })?;
    if let Some(boat) = learned::accepted(&log) {
        eprintln!("accepted, for the settings file:\n{boat}");
    }
    write_files(&log, words)?;
    match &words.stimulus {
        Some(path) => write_stimulus((&heat, part), &words.look, path),
        None => Ok(()),
    }
}

/// The part of the heat that the words ask for.
fn part(words: &RunWords) -> Result<Part, Failure> {
    let part = Part { from: words.from, until: words.until };
    let wrong = |says: &str| Err(Failure { status: 2, says: format!("error: {says}") });
    if part.from.zip(part.until).is_some_and(|(from, until)| until <= from) {
        return wrong("--until must come after --from");
    }
    if words.stimulus.is_none() && !words.look.is_empty() {
        return wrong("--look is a look in the stimulus: give --stimulus FILE too");
    }
    Ok(part)
}

fn write_stimulus((heat, part): (&Heat, Part), looks: &[Span], path: &Path) -> Result<(), Failure> {
    let refused = |why| Failure { status: 2, says: format!("error: no stimulus for this heat: {why}") };
    let stimulus = Stimulus::new(heat, part, looks).map_err(refused)?;
    let write = || {
        let mut out = BufWriter::new(fs::File::create(path)?);
        stimulus.write(&mut out)?;
        out.flush()
    };
    write().map_err(|error| Failure::writing(path, &error))?;
    eprintln!("stimulus: {} ({} lines)", path.display(), stimulus.happenings().len());
    Ok(())
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
    to_stdout(write).map_err(|(status, says)| Failure { status, says })
}
