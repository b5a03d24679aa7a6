//! Many starts as JSON lines: the plan, each outcome, and what it all comes to.

use std::io::{self, Write};

use serde::Serialize;

use super::tally::tally;
use super::{Outcome, Plan, Starts};
use crate::sweep::tally::Interval;

/// One line.
#[derive(Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
enum Line<'a> {
    Dock(&'a Plan),
    Start {
        #[serde(flatten)]
        outcome: Plain,
    },
    Sum(Sum),
}

/// An outcome; its own `kind` is called `truth` here.
#[derive(Serialize)]
struct Plain {
    start: u64,
    cause: super::drawn::Cause,
    truth: super::Kind,
    peak_c: f64,
    fire_s: Option<f64>,
    limit_s: Option<f64>,
    rise_c_s: Option<f64>,
    lead_s: Option<f64>,
    raised: Vec<(String, f64)>,
}

impl From<&Outcome> for Plain {
    fn from(outcome: &Outcome) -> Self {
        Self {
            start: outcome.start,
            cause: outcome.cause,
            truth: outcome.kind,
            peak_c: outcome.peak_c,
            fire_s: outcome.fire_s,
            limit_s: outcome.limit_s,
            rise_c_s: outcome.rise_c_s,
            lead_s: outcome.lead_s(),
            // By the names that alerts have in every other line.
            raised: outcome.raised.iter().map(|(id, at_s)| (crate::words::kebab(id), *at_s)).collect(),
        }
    }
}

/// What it comes to. Intervals are `[figure, low, high]`.
#[derive(Serialize)]
struct Sum {
    hot: usize,
    sudden: usize,
    in_time: [f64; 3],
    in_time_where_possible: [f64; 3],
    before: [f64; 3],
    false_on_good: [f64; 3],
    called_warm: [f64; 3],
    long_in_time: [f64; 3],
    median_lead_s: Option<f64>,
}

const fn triple(interval: Interval) -> [f64; 3] {
    [interval.value, interval.low, interval.high]
}

/// Writes them.
///
/// # Errors
/// Whatever the writer could not do.
pub fn write(starts: &Starts, out: &mut impl Write) -> io::Result<()> {
    let mut line = |line: Line<'_>| -> io::Result<()> {
        serde_json::to_writer(&mut *out, &line)?;
        out.write_all(b"\n")
    };
    line(Line::Dock(&starts.plan))?;
    starts.outcomes.iter().try_for_each(|outcome| line(Line::Start { outcome: outcome.into() }))?;
    let tally = tally(starts);
    line(Line::Sum(Sum {
        hot: tally.hot,
        sudden: tally.sudden,
        in_time: triple(tally.in_time),
        in_time_where_possible: triple(tally.in_time_where_possible),
        before: triple(tally.before),
        false_on_good: triple(tally.false_on_good),
        called_warm: triple(tally.called_warm),
        long_in_time: triple(tally.long_in_time),
        median_lead_s: tally.lead_s(0.5),
    }))
}
