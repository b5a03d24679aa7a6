//! A sweep as JSON lines: what machines read, and how its parts come together again.
//!
//! The first line tells the plan, each further one an outcome, the last one what it all comes to. Numbers are written
//! so that they read back to the same bits.

use std::io::{self, BufRead, Write};

use serde::{Deserialize, Serialize};

use super::tally::{Coverage, Interval, Tally, coverage, tally};
use super::{Outcome, Plan, Sweep, Who};

/// One line.
#[derive(Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
enum Line {
    Sweep(Plan),
    Start(Outcome),
    Driver(Driver),
    Foretold(Foretold),
}

/// What one driver's starts come to. Intervals are `[figure, low, high]`.
#[derive(Serialize, Deserialize)]
struct Driver {
    who: Who,
    starts: usize,
    crossed: usize,
    early: usize,
    share_early: [f64; 3],
    median_lateness_s: Option<[f64; 3]>,
    median_lateness_at_risk_s: Option<f64>,
    median_lengths_lost: Option<[f64; 3]>,
}

/// How well margins were foretold.
#[derive(Serialize, Deserialize)]
struct Foretold {
    before_s: f64,
    asked: usize,
    opening: usize,
    covered: [f64; 3],
    error_rms_s: f64,
    stated_rms_s: f64,
}

const fn triple(interval: Interval) -> [f64; 3] {
    [interval.value, interval.low, interval.high]
}

impl From<&Tally> for Driver {
    fn from(tally: &Tally) -> Self {
        Self {
            who: tally.who,
            starts: tally.starts,
            crossed: tally.crossed,
            early: tally.early,
            share_early: triple(tally.share_early),
            median_lateness_s: tally.lateness_s.map(triple),
            median_lateness_at_risk_s: tally.lateness_at_risk_s,
            median_lengths_lost: tally.lengths_lost.map(triple),
        }
    }
}

impl From<Coverage> for Foretold {
    fn from(coverage: Coverage) -> Self {
        Self {
            before_s: coverage.before_s,
            asked: coverage.asked,
            opening: coverage.opening,
            covered: triple(coverage.covered),
            error_rms_s: coverage.error_s,
            stated_rms_s: coverage.stated_s,
        }
    }
}

/// Writes a sweep.
///
/// # Errors
/// Whatever the writer could not do.
pub fn write(sweep: &Sweep, out: &mut impl Write) -> io::Result<()> {
    let mut line = |line: Line| -> io::Result<()> {
        serde_json::to_writer(&mut *out, &line)?;
        out.write_all(b"\n")
    };
    line(Line::Sweep(sweep.plan.clone()))?;
    sweep.outcomes.iter().try_for_each(|outcome| line(Line::Start(*outcome)))?;
    for who in [Who::Dash, Who::Stopwatch] {
        line(Line::Driver(Driver::from(&tally(sweep, who))))?;
    }
    coverage(sweep).into_iter().try_for_each(|coverage| line(Line::Foretold(coverage.into())))
}

/// Reads the plan and the outcomes of a sweep or a part of one.
///
/// # Errors
/// In words, with the number of the line.
pub fn read(input: impl BufRead) -> Result<Sweep, String> {
    let mut sweep: Option<Sweep> = None;
    for (number, text) in (1..).zip(input.lines()) {
        let line = text.map_err(|error| error.to_string()).and_then(|text| {
            serde_json::from_str::<Line>(&text).map_err(|error| format!("line {number}: {error}"))
        })?;
        match (line, sweep.as_mut()) {
            (Line::Sweep(plan), None) => sweep = Some(Sweep { plan, outcomes: Vec::new() }),
            (Line::Start(outcome), Some(sweep)) => sweep.outcomes.push(outcome),
            (Line::Driver(_) | Line::Foretold(_), Some(_)) => {}
            _ => return Err(format!("line {number}: a sweep begins with one line of kind 'sweep'")),
        }
    }
    sweep.ok_or_else(|| "there is no sweep in it".into())
}
