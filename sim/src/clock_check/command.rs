//! What `gunline clock-check` runs: words in; the result to standard output, the certificate into a file.
//!
//! Exit status 0: done, and within what was allowed. 1: outside of it. 2: the table or the words are wrong. 3: the machine
//! failed us.

use std::fs;
use std::io::{self, Write};
use std::path::PathBuf;

use clap::Args;
use serde_json::json;
use sha2::{Digest as _, Sha256};

use super::{Fit, fit, page, read};
use crate::judge::command::unread;
use crate::outlet::Wrong;
use crate::timeline::hex;

/// The words after `gunline clock-check`.
#[derive(Args, Debug)]
pub struct ClockWords {
    /// A table of pairs: `reference_s,board_s`, or `reference_frame,board_frame` off a film; or, with --journal, a
    /// journal whose pulses are the reference.
    file: PathBuf,
    /// The file is a journal: its pulses per second are the reference.
    #[arg(long, conflicts_with = "frames_per_second")]
    journal: bool,
    /// The film's rate.
    #[arg(long, value_name = "RATE")]
    frames_per_second: Option<f64>,
    /// How far the offset may grow from 0 to 300 s; beyond it the answer is no.
    #[arg(long, value_name = "MS")]
    within_ms: Option<f64>,
    /// Writes the certificate, a page that prints.
    #[arg(long, value_name = "FILE.html")]
    certificate: Option<PathBuf>,
    /// The board, in words, for the certificate.
    #[arg(long, default_value = "not stated")]
    board: String,
    /// The day of the comparison, for the certificate.
    #[arg(long, default_value = "not stated")]
    date: String,
    /// The board's temperature in degrees Celsius, for the certificate.
    #[arg(long, value_name = "DEGREES", allow_hyphen_values = true)]
    temperature: Option<f64>,
    /// The program file that the board was flashed with: its SHA-256 goes into the certificate.
    #[arg(long, value_name = "FILE")]
    firmware: Option<PathBuf>,
    /// One JSON object instead of the text.
    #[arg(long)]
    json: bool,
}

/// What stands in the certificate besides the figures.
#[derive(Clone, Debug)]
pub struct About {
    /// The board, in words.
    pub board: String,
    /// The day.
    pub date: String,
    /// Degrees Celsius.
    pub temperature: Option<f64>,
    /// SHA-256 of the program file.
    pub firmware: Option<String>,
    /// What the reference was.
    pub reference: String,
    /// How far the offset may grow, milliseconds.
    pub within_ms: Option<f64>,
}

/// The moments whose offsets are certified: zero, the one-minute gun's distance, the five-minute gun's.
pub const MOMENTS_S: [f64; 3] = [0.0, 60.0, 300.0];

/// Runs it; gives the exit status.
///
/// # Errors
/// Words for a person, and the exit status they make.
pub fn run(words: &ClockWords) -> Result<u8, Wrong> {
    let bytes = fs::read(&words.file).map_err(|error| unread(&words.file, &error))?;
    let wrong = |why: &dyn std::fmt::Display| (2, format!("error: {}: {why}", words.file.display()));
    let (pairs, reading_sd_s) = if words.journal {
        (read::pulses(&bytes).map_err(|why| wrong(&why))?, read::STAMP_S)
    } else {
        let text = String::from_utf8(bytes).map_err(|_| wrong(&"not a text"))?;
        read::table(&text, words.frames_per_second).map_err(|why| wrong(&why))?
    };
    let fit = fit(&pairs, reading_sd_s).map_err(|why| wrong(&why))?;
    let about = about(words)?;
    let mut out = io::stdout().lock();
    let said = if words.json { say_json(&fit, &about, &mut out) } else { say(&fit, &about, &mut out) };
    said.map_err(|error| (3, format!("error: cannot write to standard output: {error}")))?;
    if let Some(path) = &words.certificate {
        fs::write(path, page::page(&fit, &about))
            .map_err(|error| (3, format!("error: cannot write {}: {error}", path.display())))?;
        eprintln!("certificate: {}", path.display());
    }
    Ok(u8::from(!is_within(&fit, about.within_ms)))
}

fn about(words: &ClockWords) -> Result<About, Wrong> {
    let digest = |path: &PathBuf| {
        fs::read(path).map(|bytes| hex(&Sha256::digest(bytes))).map_err(|error| unread(path, &error))
    };
    let reference = match (words.journal, words.frames_per_second) {
        (true, _) => "the receiver's pulse per second, as stamped in the board's journal".to_string(),
        (_, Some(rate)) => format!("a lamp filmed at {rate} frames a second beside the board's"),
        _ => "a table of moments".to_string(),
    };
    Ok(About {
        board: words.board.clone(),
        date: words.date.clone(),
        temperature: words.temperature,
        firmware: words.firmware.as_ref().map(digest).transpose()?,
        reference,
        within_ms: words.within_ms,
    })
}

/// By how much the offset grows from 0 to 300 s, and one standard deviation: what is shared drops out.
#[must_use]
pub fn growth(fit: &Fit) -> (f64, f64) {
    (300.0 * fit.drift, 300.0 * fit.drift_sd)
}

/// The growth, with its 95 % bar on top, stays within what was allowed; without a limit everything does.
#[must_use]
pub fn is_within(fit: &Fit, within_ms: Option<f64>) -> bool {
    let (by, sd) = growth(fit);
    within_ms.is_none_or(|limit| (by.abs() + fit.reach() * sd) * 1e3 <= limit)
}

fn say(fit: &Fit, about: &About, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "reference   {}", about.reference)?;
    writeln!(out, "pairs       {}, over {:.1} s", fit.count, fit.last_s - fit.first_s)?;
    for moment in MOMENTS_S {
        let (offset, sd) = fit.at(moment);
        let beyond = if fit.is_beyond(moment) { "  (beyond what was compared)" } else { "" };
        writeln!(out, "at {moment:>5} s  {:+.3} ms ± {:.3} ms{beyond}", offset * 1e3, sd * 1e3)?;
    }
    writeln!(out, "drift       {:+.3} ppm ± {:.3} ppm", fit.drift * 1e6, fit.drift_sd * 1e6)?;
    writeln!(out, "scatter     {:.3} ms", fit.scatter_s * 1e3)?;
    writeln!(out, "{}", verdict(fit, about))
}

/// The answer in a sentence.
#[must_use]
pub fn verdict(fit: &Fit, about: &About) -> String {
    let (by, sd) = growth(fit);
    let grows = format!("in 300 s the offset grows by {:+.3} ms ± {:.3} ms", by * 1e3, sd * 1e3);
    match about.within_ms {
        None => format!("{grows}; no limit was named"),
        Some(limit) if is_within(fit, about.within_ms) => {
            format!("{grows}: with its 95 % bar on top, within {limit} ms")
        }
        Some(limit) => format!("{grows}: with its 95 % bar on top, NOT within {limit} ms"),
    }
}

fn say_json(fit: &Fit, about: &About, out: &mut impl Write) -> io::Result<()> {
    let moments = MOMENTS_S.map(|moment| {
        let (offset, sd) = fit.at(moment);
        json!({ "at_s": moment, "offset_us": offset * 1e6, "sigma_us": sd * 1e6, "beyond": fit.is_beyond(moment) })
    });
    let told = json!({
        "kind": "clock-check", "pairs": fit.count, "offsets": moments, "drift_ppm": fit.drift * 1e6,
        "drift_sigma_ppm": fit.drift_sd * 1e6, "scatter_us": fit.scatter_s * 1e6, "reference": about.reference,
        "board": about.board, "date": about.date, "temperature_c": about.temperature, "firmware": about.firmware,
        "within_ms": about.within_ms, "is_within": is_within(fit, about.within_ms),
    });
    serde_json::to_writer(&mut *out, &told)?;
    writeln!(out)
}
