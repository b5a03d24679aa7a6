//! A sweep as a table that a person reads.

use std::io::{self, Write};

use super::tally::{Interval, LENGTH_M, Tally, coverage, tally};
use super::{Sweep, Who};

/// Writes the table.
///
/// # Errors
/// Whatever the writer could not do.
pub fn write(sweep: &Sweep, out: &mut impl Write) -> io::Result<()> {
    let plan = &sweep.plan;
    let (dash, stopwatch) = (tally(sweep, Who::Dash), tally(sweep, Who::Stopwatch));
    writeln!(out, "{} (invented): {} starts, seed {}", plan.heat, dash.starts, plan.seed)?;
    writeln!(out, "Both drivers accept to be early in {:.1} % of their starts.\n", plan.risk * 100.0)?;
    writeln!(out, "{:34}{:>24}{:>24}", "", "by the dash", "by stopwatch")?;
    let mut row = |name: &str, figure: &dyn Fn(&Tally) -> String| {
        writeln!(out, "{name:34}{:>24}{:>24}", figure(&dash), figure(&stopwatch))
    };
    row("crossed the line", &|t| format!("{} of {}", t.crossed, t.starts))?;
    row("early", &|t| percent(t.share_early))?;
    row("median lateness, legal starts", &|t| t.lateness_s.map_or("-".into(), |i| with_unit(i, "s", 3)))?;
    row("the same, early exactly as accepted", &|t| {
        t.lateness_at_risk_s.map_or("-".into(), |seconds| format!("{seconds:.3} s"))
    })?;
    row("median boat lengths lost", &|t| t.lengths_lost.map_or("-".into(), |i| with_unit(i, "", 1)))?;
    writeln!(out, "\nHow well the dash foretold the margin of going flat out at once:")?;
    for told in coverage(sweep) {
        writeln!(
            out,
            "  {:>2.0} s before zero: error {:.3} s RMS, {:.3} s stated; within its 95 % bar in {} of {}",
            told.before_s,
            told.error_s,
            told.stated_s,
            percent(told.covered),
            told.asked
        )?;
    }
    writeln!(out, "\nIn brackets: 95 % intervals, exact. A boat length is taken as {LENGTH_M} m.")?;
    writeln!(
        out,
        "Drivers, boats and noise are models: this compares, it does not promise. The officials decide."
    )
}

fn percent(share: Interval) -> String {
    let of = |x: f64| x * 100.0;
    format!("{:.2} % [{:.2}, {:.2}]", of(share.value), of(share.low), of(share.high))
}

fn with_unit(interval: Interval, unit: &str, digits: usize) -> String {
    let Interval { value, low, high } = interval;
    let gap = if unit.is_empty() { "" } else { " " };
    format!("{value:.digits$}{gap}{unit} [{low:.digits$}, {high:.digits$}]")
}
