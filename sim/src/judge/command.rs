//! What `gunline judge` runs: words in; the judgement to standard output, the rest to standard error.
//!
//! Exit status 0: every record is good. 1: one is not, or is not whole. 2: a file is no journal, or the words are wrong.
//! 3: the machine failed us.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::Args;

use super::fleet::{self, Fleet};
use super::{Answer, Asked, Judgement, NoJudgement, judge, lines, page, text};
use crate::outlet::{Wrong, to_stdout};
use crate::report::suffered;

/// The words after `gunline judge`.
#[derive(Args, Debug)]
pub struct JudgeWords {
    /// Journals as a board or the simulator recorded them. Several are taken for the boats of one heat.
    #[arg(required = true)]
    journals: Vec<PathBuf>,
    /// JSON objects, one a line, instead of the text.
    #[arg(long)]
    json: bool,
    /// Writes the report into this folder: one page for each record, and one for the fleet.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// The record must be signed with this key: 64 hexadecimal digits, or a file that holds them.
    #[arg(long, value_name = "KEY")]
    public_key: Option<String>,
    /// Which heat of the record, 1 for the first; without it the last one in which a clock was set.
    #[arg(long, value_name = "N")]
    heat: Option<usize>,
}

/// Runs it; gives the exit status.
///
/// # Errors
/// Words for a person, and the exit status they make.
pub fn run(words: &JudgeWords) -> Result<u8, Wrong> {
    let key = words.public_key.as_deref().map(key_of).transpose()?;
    let asked = Asked { key, heat: words.heat };
    let mut judged = Vec::new();
    for path in &words.journals {
        let bytes = fs::read(path).map_err(|error| unread(path, &error))?;
        let judgement = judge(&bytes, asked).map_err(|why| {
            let status = if matches!(why, NoJudgement::Spoiled(_)) { 1 } else { 2 };
            (status, format!("error: {}: {why}", path.display()))
        })?;
        judged.push((name_of(path), judgement));
    }
    let fleet = (judged.len() > 1).then(|| Fleet::of(&judged));
    to_stdout(|out| say(&judged, fleet.as_ref(), words.json, out))?;
    if let Some(dir) = &words.out {
        write_pages(&judged, fleet.as_ref(), dir)
            .map_err(|error| (3, format!("error: cannot write into {}: {error}", dir.display())))?;
    }
    let all_good = judged.iter().all(|(_, judgement)| judgement.answer() == Answer::Good);
    Ok(u8::from(!all_good))
}

fn say(
    judged: &[(String, Judgement)],
    fleet: Option<&Fleet>,
    as_json: bool,
    out: &mut impl Write,
) -> io::Result<()> {
    for (name, judgement) in judged {
        if as_json {
            lines::write(name, judgement, out)?;
        } else {
            text::write(name, judgement, out)?;
            writeln!(out)?;
        }
    }
    match fleet {
        Some(fleet) if as_json => fleet::write_lines(fleet, out),
        Some(fleet) => fleet::write_text(fleet, out),
        None => Ok(()),
    }
}

fn write_pages(judged: &[(String, Judgement)], fleet: Option<&Fleet>, dir: &Path) -> io::Result<()> {
    fs::create_dir_all(dir)?;
    let one = judged.len() == 1;
    for (number, (name, judgement)) in judged.iter().enumerate() {
        let file = if one { "judge.html".into() } else { format!("judge-{}.html", number + 1) };
        let path = dir.join(file);
        fs::write(&path, page::page(name, judgement)?)?;
        eprintln!("report: {}", path.display());
        // For the crew's book, as `run --out` writes it.
        let book = if one { "engine-book.csv".into() } else { format!("engine-book-{}.csv", number + 1) };
        fs::write(dir.join(book), suffered::book(&judgement.log, &judgement.summary))?;
    }
    if let Some(fleet) = fleet {
        let path = dir.join("fleet.html");
        fs::write(&path, page::fleet_page(fleet))?;
        eprintln!("report: {}", path.display());
    }
    Ok(())
}

fn name_of(path: &Path) -> String {
    path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned())
}

/// The machine refused to read; a file that is not there is wrong input.
pub(crate) fn unread(path: &Path, error: &io::Error) -> Wrong {
    let wrong_input = matches!(error.kind(), io::ErrorKind::NotFound | io::ErrorKind::IsADirectory);
    (if wrong_input { 2 } else { 3 }, format!("error: {}: {error}", path.display()))
}

/// A key by its 64 hexadecimal digits, or from a file that holds them; lines that begin with # are passed over.
///
/// # Errors
/// Words that say why it is no key. The key itself is not repeated in them.
pub fn key_of(words: &str) -> Result<[u8; 32], Wrong> {
    let is_digits = words.len() == 64 && words.bytes().all(|byte| byte.is_ascii_hexdigit());
    let path = Path::new(words);
    if !is_digits && !path.exists() {
        return Err((
            2,
            format!("error: {words} is neither a key, which has 64 hexadecimal digits, nor a file"),
        ));
    }
    if is_digits { key_from(words) } else { key_in(path) }
}

/// A key in a file.
///
/// # Errors
/// The same.
pub fn key_in(path: &Path) -> Result<[u8; 32], Wrong> {
    key_from(&fs::read_to_string(path).map_err(|error| unread(path, &error))?)
}

fn key_from(text: &str) -> Result<[u8; 32], Wrong> {
    let lines = text.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#'));
    let digits: String = lines.collect();
    let no_key =
        || (2, "error: a key is 64 hexadecimal digits, 32 bytes; this is something else".to_string());
    if digits.len() != 64 || !digits.is_ascii() {
        return Err(no_key());
    }
    let mut key = [0; 32];
    for (place, byte) in key.iter_mut().enumerate() {
        let pair = digits.get(2 * place..2 * place + 2).ok_or_else(no_key)?;
        *byte = u8::from_str_radix(pair, 16).map_err(|_| no_key())?;
    }
    Ok(key)
}
