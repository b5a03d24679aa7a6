//! What `gunline calibrate` runs: words and a settings file in; before and after shown, and the file changed when its owner
//! says so.
//!
//! Exit status 0: found, and written or left as the owner wished. 1: what was measured makes no calibration. 2: the words,
//! the settings file or the record are wrong. 3: the machine failed us.

use std::fs;
use std::io::{self, BufRead as _, IsTerminal as _, Write as _};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use firmware::calibration::Date;
use firmware::settings::Settings;
use serde_json::json;

use super::antenna::Measured;
use super::live::{Board, Pace};
use super::tach::Known;
use super::thermocouple::Read;
use super::thumb::Where;
pub use super::words::CalibrateWords;
use super::words::{Target, What};
use super::{Found, Nonsense, antenna, crystal, day, file, readings, tach, thermocouple, thumb};
use crate::board::Trouble;
use crate::clock_check::{fit, read};
use crate::outlet::{Wrong, to_stdout};
use crate::{scenario, words};

fn today() -> Date {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    Date(u16::try_from(since.as_secs() / 86_400).unwrap_or_default())
}

/// Runs it; gives the exit status.
///
/// # Errors
/// Words for a person, and the exit status they make.
pub fn run(words: &CalibrateWords) -> Result<u8, Wrong> {
    let target = words.what.target();
    let text = fs::read_to_string(&target.settings).map_err(|error| unread(&target.settings, &error))?;
    let name = target.settings.display().to_string();
    let settings = scenario::parse_settings(&name, &text)
        .map_err(|report| (report.exit_status(), report.render(io::stderr().is_terminal())))?;
    let found = match words.what.find(&settings)? {
        Ok(found) => found,
        Err(nonsense) => return Err((1, format!("no calibration: {nonsense}"))),
    };
    let made = target.date.unwrap_or_else(today);
    let changed =
        file::changed(&text, &found.edits, made).map_err(|why| (2, format!("error: {name}: {why}")))?;
    // As if he had written it: what the dash would refuse does not get into his file.
    scenario::parse_settings(&name, &changed).map_err(|report| {
        (1, format!("no calibration: the settings would be wrong\n{}", report.render(false)))
    })?;
    if !target.json {
        show(&found, made)?;
    }
    let written = write(target, &name, &changed)?;
    if target.json { tell(&found, made, written) } else { Ok(()) }?;
    Ok(0)
}

/// Writes the file if its owner says so; true when it was written.
fn write(target: &Target, name: &str, changed: &str) -> Result<bool, Wrong> {
    if !(target.yes || (!target.json && asked(&target.settings))) {
        eprintln!("nothing is written");
        return Ok(false);
    }
    file::replace(&target.settings, changed)
        .map_err(|error| (3, format!("error: cannot write {name}: {error}")))?;
    eprintln!("written: {name}. The board has it after: gunline board settings {name}");
    Ok(true)
}

impl What {
    const fn target(&self) -> &Target {
        match self {
            Self::Thermocouple { target, .. }
            | Self::Tach { target, .. }
            | Self::Antenna { target, .. }
            | Self::Thumb { target, .. }
            | Self::Crystal { target, .. } => target,
        }
    }

    /// What was measured comes to.
    fn find(&self, settings: &Settings) -> Result<Result<Found, Nonsense>, Wrong> {
        Ok(match self {
            Self::Thermocouple { probe, from, boiling, ice_at, boiling_at, pace, air, .. } => {
                let (hpa, by_height) = air.hpa();
                let (ice_c, boiling_c) = if let Some(path) = &from.journal {
                    let record = bytes(path)?;
                    let read = |at: Option<f64>| readings::probe(&record, *probe, at.unwrap_or_default());
                    (read(*ice_at), read(*boiling_at))
                } else if let Some(mut board) = at_board(from.port.as_deref(), from.board, pace)? {
                    let mut read = |place| board.probe(*probe, place).map_err(trouble);
                    (read("melting ice")?, read("water that boils hard")?)
                } else {
                    (from.ice.into_iter().collect(), boiling.iter().copied().collect())
                };
                thermocouple::find(&Read { number: *probe, ice_c, boiling_c, hpa, by_height }, settings)
            }
            Self::Tach { shaft, from, pace, at, hz, percent, cycles, .. } => {
                let counted_hz = if let Some(path) = &from.journal {
                    readings::counted_hz(&bytes(path)?, *shaft, at.unwrap_or_default())
                } else if let Some(mut board) = at_board(from.port.as_deref(), from.board, pace)? {
                    board.counted_hz(*shaft).map_err(trouble)?
                } else {
                    from.counted.unwrap_or_default()
                };
                let known = Known { shaft: *shaft, counted_hz, hz: *hz, percent: *percent, cycles: *cycles };
                tach::find(&known, settings)
            }
            Self::Antenna { tape, sd, journal, first, second, .. } => {
                antenna::find(measured(*tape, *sd, journal.as_deref(), first.zip(*second))?, settings)
            }
            Self::Thumb { from, pace, between_ms, .. } => {
                let between = Duration::from_millis(*between_ms);
                let (delays, place) = match at_board(from.port.as_deref(), from.board, pace)? {
                    Some(mut board) => (board.presses(between).map_err(trouble)?, Where::Board),
                    None => presses(&from.journal, from.delays.as_deref(), from.here)?,
                };
                thumb::find(&delays, place, settings)
            }
            Self::Crystal { from, pace, .. } => {
                if let Some(path) = &from.journal {
                    let pulses = read::pulses(&bytes(path)?).map_err(|why| wrong(path, &why))?;
                    let line = fit(&pulses, read::STAMP_S).map_err(|why| wrong(path, &why))?;
                    crystal::find(&line, settings)
                } else {
                    let mut board = Board::open(from.port.as_deref(), pace).map_err(trouble)?;
                    crystal::live(board.crystal_ppm().map_err(trouble)?, settings)
                }
            }
        })
    }
}

/// The board, where it is what was named.
fn at_board(port: Option<&str>, board: bool, pace: &Pace) -> Result<Option<Board>, Wrong> {
    (board || port.is_some()).then(|| Board::open(port, pace).map_err(trouble)).transpose()
}

fn trouble(why: Trouble) -> Wrong {
    (why.exit_status(), why.told(io::stderr().is_terminal()))
}

fn measured(
    tape: Option<f64>,
    sd: f64,
    journal: Option<&Path>,
    moments: Option<(f64, f64)>,
) -> Result<Measured, Wrong> {
    let (Some(path), Some((first, second))) = (journal, moments) else {
        return Ok(Measured::Tape(tape.unwrap_or_default(), sd));
    };
    let record = bytes(path)?;
    let place = |at: f64| {
        let none = || wrong(path, &format!("there is no fix around {at} s of the board's clock"));
        readings::place(&record, at).ok_or_else(none)
    };
    Ok(Measured::Headings(place(first)?, place(second)?))
}

fn presses(journals: &[PathBuf], delays: Option<&Path>, here: bool) -> Result<(Vec<f64>, Where), Wrong> {
    if here {
        return Ok((at_the_keyboard()?, Where::Keyboard));
    }
    if let Some(path) = delays {
        let text = fs::read_to_string(path).map_err(|error| unread(path, &error))?;
        let number = |(place, line): (usize, &str)| {
            let parsed = line.trim().parse::<f64>().ok().filter(|delay| delay.is_finite());
            parsed.ok_or_else(|| {
                wrong(path, &format!("line {}: write one delay in seconds, such as 0.231", place + 1))
            })
        };
        let filled = text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty());
        return Ok((filled.map(number).collect::<Result<_, _>>()?, Where::Written));
    }
    let mut delays = Vec::new();
    for path in journals {
        delays.extend(readings::presses(&bytes(path)?));
    }
    Ok((delays, Where::Gun))
}

/// Forty signals at moments that cannot be guessed, and Enter after each.
fn at_the_keyboard() -> Result<Vec<f64>, Wrong> {
    let machine = |error: io::Error| (3, format!("error: the terminal: {error}"));
    eprintln!("{} times: wait for NOW, then press Enter at once. Begin with Enter.", thumb::ASKED);
    let mut input = io::stdin().lock();
    let mut line = String::new();
    input.read_line(&mut line).map_err(machine)?;
    let mut delays = Vec::new();
    for number in 1..=thumb::ASKED {
        let mut drawn = [0; 2];
        getrandom::fill(&mut drawn).map_err(|error| (3, format!("error: no random numbers: {error}")))?;
        // One to four seconds.
        let wait = 1_000 + u64::from(u16::from_le_bytes(drawn)) * 3_000 / 65_536;
        std::thread::sleep(Duration::from_millis(wait));
        eprint!("\x07{number:>3}  NOW ");
        io::stderr().flush().map_err(machine)?;
        let shown = std::time::Instant::now();
        line.clear();
        if input.read_line(&mut line).map_err(machine)? == 0 {
            break;
        }
        let delay = shown.elapsed().as_secs_f64();
        eprintln!("     {delay:.3} s");
        delays.push(delay);
    }
    Ok(delays)
}

fn tell(found: &Found, made: Date, written: bool) -> Result<(), Wrong> {
    let figures: Vec<_> = found
        .figures
        .iter()
        .map(|it| json!({ "name": it.name, "before": it.before, "after": it.after }))
        .collect();
    let told = json!({ "kind": "calibration", "what": found.what, "made": day(made), "figures": figures,
        "notes": found.notes, "written": written });
    to_stdout(|out| writeln!(out, "{told}"))
}

fn show(found: &Found, made: Date) -> Result<(), Wrong> {
    to_stdout(|out| {
        writeln!(out, "{}, {}\n", found.what, day(made))?;
        writeln!(out, "{:<40}{:>12}{:>12}", "", "before", "after")?;
        for figure in &found.figures {
            writeln!(out, "{:<40}{:>12}{:>12}", figure.name, figure.before, figure.after)?;
        }
        writeln!(out)?;
        found.notes.iter().try_for_each(|note| writeln!(out, "* {note}"))?;
        writeln!(out, "\n{}", words::CAUTION)
    })
}

/// Asks the owner, where there is one to ask.
fn asked(path: &Path) -> bool {
    if !(io::stdin().is_terminal() && io::stderr().is_terminal()) {
        return false;
    }
    eprint!("write it into {}? [y/N] ", path.display());
    let mut answer = String::new();
    let heard = io::stderr().flush().and_then(|()| io::stdin().lock().read_line(&mut answer));
    heard.is_ok() && answer.trim().eq_ignore_ascii_case("y")
}

fn bytes(path: &Path) -> Result<Vec<u8>, Wrong> {
    fs::read(path).map_err(|error| unread(path, &error))
}

fn wrong(path: &Path, why: &dyn std::fmt::Display) -> Wrong {
    (2, format!("error: {}: {why}", path.display()))
}

fn unread(path: &Path, error: &io::Error) -> Wrong {
    crate::judge::command::unread(path, error)
}
