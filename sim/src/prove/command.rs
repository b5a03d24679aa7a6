//! What `gunline prove` does: words in; a table or lines to standard output, the rest to standard error.

use std::io::{self, IsTerminal, Write};
use std::path::PathBuf;
use std::time::{Duration, Instant};

use clap::Args;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::counter;
use super::search::{Bounds, Found, search};
use super::stage::Scene;
use crate::outlet::{Wrong, to_stdout};
use crate::sweep::command::in_pool;

/// The words after `gunline prove`.
#[derive(Args, Debug)]
pub struct ProveWords {
    /// JSON objects, one a line, instead of the table.
    #[arg(long)]
    json: bool,
    /// Writes a heat file into this folder for each rule that can be broken.
    #[arg(long, value_name = "DIR", default_value = "proof")]
    out: PathBuf,
    /// Goes no further than so many happenings; the proof is then not complete, and says so.
    #[arg(long)]
    depth: Option<u32>,
    /// Threads; the result does not depend on them. Without it, one for each core.
    #[arg(long)]
    threads: Option<usize>,
}

/// The rules that the search holds the dash to, and what each is about.
pub const RULES: [(&str, &str); 23] = [
    ("C1", "arming; bounce is one press"),
    ("C2", "the thumb's lateness comes off"),
    ("C3", "several signals are averaged"),
    ("C4", "beyond the gate nothing is averaged"),
    ("C5", "who may replace zero"),
    ("C6", "strays move nothing"),
    ("C7", "holding the button clears clock and heat"),
    ("C8", "a schedule stands alone"),
    ("C9", "the page button names another signal"),
    ("C11", "zero never moves unsaid"),
    ("C12", "each count sounds once"),
    ("S1", "milling before the clock is armed"),
    ("S2", "the early window"),
    ("S3", "the first crossing after zero is the start"),
    ("S4", "legal"),
    ("S5", "early, and what it costs"),
    ("S6", "too close to call"),
    ("S7", "called anew when zero moves"),
    ("L1", "each crossing ends a lap"),
    ("L2", "too soon is no lap"),
    ("L3", "the wrong way, and after the finish, is nothing"),
    ("P2", "a restart with the power on keeps zero"),
    ("P5", "and the heat goes on as it was"),
];

/// The two that hang on how many laps are owed.
pub const FINISH: [(&str, &str); 2] = [("L4", "laps owed"), ("L8", "the finish")];

/// Explores, prints, and writes what it found against the rules.
///
/// # Errors
/// 1 with a rule broken, never put to the test, or the search cut short, 3 when the disk or the threads fail; with words.
pub fn run(words: &ProveWords) -> Result<(), Wrong> {
    let bounds = Bounds { depth: words.depth.unwrap_or(u32::MAX), first: false };
    let (bar, begun) = (bar(), Instant::now());
    let found = in_pool(words.threads, || Ok(search(&Scene::new(), bounds, &bar)))?;
    bar.finish_and_clear();
    let print = if words.json { lines } else { table };
    to_stdout(|out| print(&found, begun.elapsed(), out))?;
    for counter in found.broken.values() {
        let path = counter::write(counter, &words.out)
            .map_err(|error| (3, format!("error: cannot write {}: {error}", words.out.display())))?;
        eprintln!("rule {} can be broken: play {}", counter.breach.rule, path.display());
    }
    if !found.broken.is_empty() {
        return Err((1, format!("{} rules can be broken", found.broken.len())));
    }
    if !found.closed {
        return Err((1, "not proved: the search was cut short".to_owned()));
    }
    match rules().find(|(rule, _)| verdict(&found, rule) == NOT_REACHED) {
        Some((rule, _)) => Err((1, format!("not proved: rule {rule} was never put to the test"))),
        None => Ok(()),
    }
}

fn rules() -> impl Iterator<Item = (&'static str, &'static str)> {
    RULES.into_iter().chain(FINISH)
}

/// What is said of a rule that no state ever asked for.
const NOT_REACHED: &str = "not reached";

/// `held`, `broken`, or why neither can be said.
fn verdict(found: &Found, rule: &str) -> &'static str {
    match (found.broken.contains_key(rule), found.demanded.get(rule), found.closed) {
        (true, ..) => "BROKEN",
        (false, None, _) if !is_implied(rule) => NOT_REACHED,
        (false, _, false) => "held so far",
        (false, _, true) => "held",
    }
}

/// Rules that forbid and never demand: every step was held against them.
fn is_implied(rule: &str) -> bool {
    matches!(rule, "C8" | "C11" | "P5")
}

fn table(found: &Found, took: Duration, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "{} states, {} transitions, depth {}", found.states, found.transitions, found.depth)?;
    let closed = if found.closed { "closed: no state is left" } else { "CUT SHORT: states are left" };
    writeln!(out, "{closed}; {:.1} s\n", took.as_secs_f64())?;
    for (rule, about) in rules() {
        let times = found.demanded.get(rule).map_or_else(|| "at each step".to_owned(), u64::to_string);
        writeln!(out, "{rule:<4} {:<11} {times:>12}  {about}", verdict(found, rule))?;
        if let Some(counter) = found.broken.get(rule) {
            writeln!(out, "     after {} happenings: {}", counter.steps.len(), counter.breach.says)?;
        }
    }
    writeln!(out, "\nThe dash advises; the race officials decide. What the proof leaves out: docs/proof.md.")
}

fn lines(found: &Found, took: Duration, out: &mut dyn Write) -> io::Result<()> {
    for (rule, about) in rules() {
        let counter = found.broken.get(rule);
        let line = serde_json::json!({
            "kind": "rule", "rule": rule, "about": about, "verdict": verdict(found, rule),
            "demanded": found.demanded.get(rule).copied().unwrap_or(0),
            "steps": counter.map(|counter| counter.steps.len()),
            "says": counter.map(|counter| counter.breach.says.as_str()),
        });
        writeln!(out, "{line}")?;
    }
    let line = serde_json::json!({
        "kind": "proof", "states": found.states, "transitions": found.transitions, "depth": found.depth,
        "closed": found.closed, "took_s": took.as_secs_f64(),
    });
    writeln!(out, "{line}")
}

/// A spinner that only a person sees.
fn bar() -> ProgressBar {
    let target =
        if io::stderr().is_terminal() { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
    let style = ProgressStyle::with_template("{spinner} {pos} transitions, {per_sec}, {msg}, {elapsed}");
    let bar = ProgressBar::with_draw_target(None, target);
    bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_spinner()));
    bar.enable_steady_tick(Duration::from_millis(200));
    bar
}
