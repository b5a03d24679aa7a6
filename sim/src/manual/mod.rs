//! The words of the command, for a shell and for the manual: completions, and pages in `man`'s language.
//!
//! Both are made of the same description that reads the command line, so that they cannot differ from it. Each page has
//! the caution and the exit statuses.
//!
//! A description in, text out.

use std::fs;
use std::io::{self, Write};
use std::path::PathBuf;

use clap::{Args, Command, ValueEnum};
use clap_complete::{Shell, generate};
use clap_mangen::Man;
use clap_mangen::roff::{Roff, roman};

use crate::outlet::{Wrong, to_stdout};

/// The words after `gunline completions`.
#[derive(Args, Debug)]
pub struct CompletionWords {
    /// The shell. What is printed belongs where docs/install.md says.
    shell: ShellName,
}

/// The shells.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum ShellName {
    /// GNU Bash.
    Bash,
    /// Z shell.
    Zsh,
    /// fish.
    Fish,
    /// PowerShell.
    #[value(name = "powershell")]
    PowerShell,
    /// Elvish.
    Elvish,
}

/// The words after `gunline manual`.
#[derive(Args, Debug)]
pub struct ManualWords {
    /// Writes a page for each command into this folder; without it, the one on gunline itself is printed.
    dir: Option<PathBuf>,
}

/// What each page says besides its own words.
const CAUTION: &str = "Practice and advice only: the race officials decide, the engine maker's manual rules, and all limits \
                       that ship are demonstration data. This work can hurt people: read docs/cautions.md.";

/// The exit statuses.
const STATUSES: [(&str, &str); 4] = [
    ("0", "Done and good."),
    ("1", "Done, and the answer is no: a call broken, a record altered, a rule violated."),
    ("2", "The input or the words of the command are wrong."),
    ("3", "The machine failed us: disk, port, permission."),
];

/// Prints completions.
///
/// # Errors
/// 3, when standard output cannot be written to.
pub fn completions(mut gunline: Command, words: &CompletionWords) -> Result<(), Wrong> {
    let shell = match words.shell {
        ShellName::Bash => Shell::Bash,
        ShellName::Zsh => Shell::Zsh,
        ShellName::Fish => Shell::Fish,
        ShellName::PowerShell => Shell::PowerShell,
        ShellName::Elvish => Shell::Elvish,
    };
    let mut text = Vec::new();
    generate(shell, &mut gunline, "gunline", &mut text);
    to_stdout(|out| out.write_all(&text))
}

/// Writes or prints the manual.
///
/// # Errors
/// 3, when the disk or standard output cannot be written to.
pub fn manual(mut gunline: Command, words: &ManualWords) -> Result<(), Wrong> {
    gunline.build();
    let failed = |error: &io::Error| (3, format!("error: cannot write the manual: {error}"));
    let pages = pages(&gunline).map_err(|error| failed(&error))?;
    let Some(dir) = &words.dir else {
        return to_stdout(|out| pages.first().map_or(Ok(()), |(_, page)| out.write_all(page)));
    };
    let write = || -> io::Result<()> {
        fs::create_dir_all(dir)?;
        pages.iter().try_for_each(|(name, page)| fs::write(dir.join(name), page))
    };
    write().map_err(|error| failed(&error))?;
    eprintln!("manual: {} ({} pages)", dir.display(), pages.len());
    Ok(())
}

/// Every page, the whole command's first: file name and text.
fn pages(gunline: &Command) -> io::Result<Vec<(String, Vec<u8>)>> {
    let mut pages = Vec::new();
    let mut waiting = vec![("gunline".to_string(), gunline.clone())];
    while let Some((name, command)) = waiting.pop() {
        let inner = command.get_subcommands().filter(|inner| inner.get_name() != "help");
        waiting.extend(inner.map(|inner| (format!("{name}-{}", inner.get_name()), inner.clone())));
        pages.push((format!("{name}.1"), page(&name, command)?));
    }
    pages.sort();
    Ok(pages)
}

fn page(name: &str, command: Command) -> io::Result<Vec<u8>> {
    let has_inner = command.get_subcommands().next().is_some();
    // The statuses have a section of their own.
    let man = Man::new(command.after_help("").disable_help_subcommand(true)).title(name).manual("Gunline");
    let mut page = Vec::new();
    man.render_title(&mut page)?;
    man.render_name_section(&mut page)?;
    man.render_synopsis_section(&mut page)?;
    man.render_description_section(&mut page)?;
    man.render_options_section(&mut page)?;
    if has_inner {
        man.render_subcommands_section(&mut page)?;
    }
    let mut rest = Roff::new();
    rest.control("SH", ["EXIT STATUS"]);
    for (status, means) in STATUSES {
        rest.control("TP", []).text([roman(status)]).text([roman(means)]);
    }
    rest.control("SH", ["CAUTION"]).text([roman(CAUTION)]);
    rest.to_writer(&mut page)?;
    Ok(page)
}
