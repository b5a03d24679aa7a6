//! What `gunline bench` runs: words in; differences as they come and the verdict to standard output, the rest to
//! standard error.

use std::fs;
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::{Duration, Instant as Here};

use clap::Args;
use firmware::bench::Told;
use firmware::screen::Units;
use firmware::units::{Instant, Span};
use indicatif::{ProgressBar, ProgressStyle};
use serde_json::json;

use super::compare::{Beside, Difference};
use super::host::{AHEAD, Bench};
use super::script::Script;
use super::verdict::Verdict;
use crate::board::Trouble;
use crate::board::command::ReachWords;
use crate::board::conversation::Reach;
use crate::board::port::Line;
use crate::log::Decided;
use crate::outlet::{Wrong, to_stdout};
use crate::scenario::race_time;
use crate::sensors::Part;
use crate::{scenario, timeline, words};

/// The words after `gunline bench`.
#[derive(Args, Debug)]
pub struct BenchWords {
    /// The heat file.
    heat: PathBuf,
    #[command(flatten)]
    reach: ReachWords,
    /// Plays only what comes after this race time, [-]M:SS.mmm; the dash begins then.
    #[arg(long, value_name = "RACE_TIME", value_parser = race_time::parse, allow_hyphen_values = true)]
    from: Option<Span>,
    /// Plays only what comes before this race time.
    #[arg(long, value_name = "RACE_TIME", value_parser = race_time::parse, allow_hyphen_values = true)]
    until: Option<Span>,
    /// Draws from this seed instead of the heat file's.
    #[arg(long)]
    seed: Option<u64>,
    /// Writes the verdict and the histogram of latencies into this folder.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// JSON objects, one a line: differences as they come, then the verdict.
    #[arg(long)]
    json: bool,
}

/// From the board's word to the heat's first moment.
const LEAD: Span = Span::from_millis(1_000);

/// So long the board is left alone between two questions.
const ASK_EVERY: Duration = Duration::from_millis(40);

/// So long after the last input the board is still listened to: what is due is decided by then.
const AFTER: Span = Span::from_millis(300);

/// Runs it: 0 equal, 1 different.
///
/// # Errors
/// Words for a person, and the exit status they make.
pub fn run(words: &BenchWords) -> Result<u8, Wrong> {
    let mut heat = scenario::load(&words.heat)
        .map_err(|report| (report.exit_status(), report.render(io::stderr().is_terminal())))?;
    heat.seed = words.seed.unwrap_or(heat.seed);
    let part = Part { from: words.from, until: words.until };
    if part.from.zip(part.until).is_some_and(|(from, until)| until <= from) {
        return Err((2, "error: --until must come after --from".to_owned()));
    }
    let script = Script::of(&heat, part);
    if script.is_cut {
        eprintln!("the heat restarts its board in the middle; only what comes before that is played");
    }
    let mut verdict = Verdict { title: heat.title.clone(), ..Verdict::default() };
    play(&words.reach.reach(), &script, &mut verdict, words.json)
        .map_err(|trouble| (trouble.exit_status(), trouble.told(false)))?;
    if let Some(dir) = &words.out {
        files(&verdict, dir)
            .map_err(|error| (3, format!("error: cannot write {}: {error}", dir.display())))?;
    }
    to_stdout(|out| {
        if words.json { writeln!(out, "{}", verdict.json()) } else { write!(out, "{}", verdict.text()) }
    })?;
    Ok(u8::from(!verdict.is_equal()))
}

/// Plays a script to the board and writes down what came of it; says differences at once, on standard output.
///
/// # Errors
/// The board refuses, or goes away in the middle.
pub fn play(reach: &Reach, script: &Script, verdict: &mut Verdict, json: bool) -> Result<(), Trouble> {
    let (board, _) = reach.connect()?;
    let mut bench = Bench::enter(board, &script.settings)?;
    eprintln!("the board is on the bench: its screen says so. BENCH ONLY, boat out of gear, engine cold");
    let length = u64::try_from(script.length().as_micros() / 1_000).unwrap_or(0);
    let bar = ProgressBar::new(length).with_style(style());
    let (beside, begins) = (Beside::new(&script.settings), script.begins);
    let mut playing = Playing { json, beside, verdict, later: Span::ZERO, begins, bar };
    let played = playing.play(&mut bench, script);
    // A board that has gone leaves the bench by itself.
    let left = bench.leave();
    played.and(left)
}

/// A heat that is being played.
struct Playing<'a> {
    json: bool,
    beside: Beside,
    verdict: &'a mut Verdict,
    /// From the simulated board's clock to the real one's.
    later: Span,
    /// The true race time when the simulated board's clock stood at zero.
    begins: Span,
    bar: ProgressBar,
}

impl Playing<'_> {
    fn play(&mut self, bench: &mut Bench<Box<dyn Line>>, script: &Script) -> Result<(), Trouble> {
        let first = bench.exchange(Instant::BOOT)?.now;
        self.later = first.since(Instant::BOOT) + LEAD;
        for (at, input) in &script.inputs {
            let at = at.plus(self.later);
            bench.put(at, *input);
            self.beside.feed(at, *input);
        }
        let (end, since) = (first.plus(LEAD + script.length()), Here::now());
        let mut now = first;
        while now <= end.plus(AFTER) {
            let standing = bench.exchange(now.plus(AHEAD))?;
            let mut is_quiet = true;
            while let Some(told) = bench.told() {
                self.hear(told, end)?;
                is_quiet = false;
            }
            now = standing.now;
            self.verdict.lost = standing.lost;
            self.show(now, first);
            if is_quiet {
                thread::sleep(ASK_EVERY);
            }
        }
        (self.verdict.board, self.verdict.here) = (now.since(first), span(since.elapsed()));
        for difference in self.beside.end() {
            self.differ(difference)?;
        }
        self.verdict.agreed = self.beside.agreed;
        self.bar.finish_and_clear();
        Ok(())
    }

    fn hear(&mut self, told: Told, end: Instant) -> Result<(), Trouble> {
        match told {
            Told::Fed { late_us } => {
                self.verdict.inputs += 1;
                self.verdict.fed.all_us.push(late_us);
            }
            // The board goes on after the last input; the simulator's record does not.
            Told::Decided { at, .. } if at > end => {}
            Told::Decided { at, late_us, output } => {
                self.verdict.decided.all_us.push(late_us);
                for difference in self.beside.hear((at, output)) {
                    self.differ(difference)?;
                }
            }
        }
        Ok(())
    }

    /// Says a difference at once.
    fn differ(&mut self, difference: Difference) -> Result<(), Trouble> {
        self.verdict.differences += 1;
        let (who, (at, output)) = match difference {
            Difference::BoardAlone(decision) => ("board", decision),
            Difference::HereAlone(decision) => ("simulator", decision),
        };
        let t = at.plus(-self.later).since(Instant::BOOT) + self.begins;
        let decided = Decided { t, at, race: None, output };
        let says = timeline::sentence(&decided, Units::default()).unwrap_or_else(|| format!("{output:?}"));
        let written = self.bar.suspend(|| {
            to_stdout(|out| {
                if self.json {
                    let json =
                        json!({ "kind": "difference", "only": who, "t_us": t.as_micros(), "says": says });
                    writeln!(out, "{json}")
                } else {
                    writeln!(out, "{:>12}  only the {who}: {says}", words::clock(t))
                }
            })
        });
        written.map_err(|(_, says)| Trouble::Outlet(says))
    }

    fn show(&self, now: Instant, first: Instant) {
        let into = now.since(first.plus(LEAD));
        self.bar.set_position(u64::try_from(into.as_micros() / 1_000).unwrap_or(0));
        let (equal, different) = (self.beside.agreed, self.verdict.differences);
        let clock = words::clock(into + self.begins);
        self.bar.set_message(format!("{clock}  {equal} decisions equal, {different} different"));
    }
}

fn span(time: Duration) -> Span {
    Span::from_micros(i64::try_from(time.as_micros()).unwrap_or(i64::MAX))
}

fn files(verdict: &Verdict, dir: &Path) -> io::Result<()> {
    fs::create_dir_all(dir)?;
    fs::write(dir.join("bench.txt"), verdict.text())?;
    fs::write(dir.join("bench.json"), format!("{}\n", verdict.json()))?;
    fs::write(dir.join("latency.svg"), verdict.histogram()?)?;
    eprintln!("bench: {} (3 files)", dir.display());
    Ok(())
}

fn style() -> ProgressStyle {
    let template = "{wide_bar} {msg}  {elapsed}";
    ProgressStyle::with_template(template).unwrap_or_else(|_| ProgressStyle::default_bar())
}
