//! Many starts as a table that a person reads.

use std::io::{self, Write};

use super::Starts;
use super::tally::{ALERTS, FELT_S, Tally, tally};
use crate::sweep::tally::Interval;
use crate::words;

/// A bar of the picture: so wide in seconds, so many characters at most.
const BAR_S: f64 = 0.5;
const BAR_WIDE: usize = 50;

/// Writes the table.
///
/// # Errors
/// Whatever the writer could not do.
pub fn write(starts: &Starts, out: &mut impl Write) -> io::Result<()> {
    let (plan, tally) = (&starts.plan, tally(starts));
    let switches = if plan.switches { "sees the switches" } else { "sees no switches" };
    writeln!(
        out,
        "{} (invented): {} starts, seed {}; the dash {switches}; starting limit {} degrees C\n",
        plan.heat, plan.starts, plan.seed, plan.limit_c
    )?;
    let mut row = |name: &str, figure: String| writeln!(out, "{name:62}{figure}");
    row("hot starts warned of at least 1 s before the limit", percent(tally.in_time))?;
    row("  the same, where the fire was felt 2 s before the limit", percent(tally.in_time_where_possible))?;
    row("hot starts warned of before the limit at all", percent(tally.before))?;
    row("false warnings on good starts", percent(tally.false_on_good))?;
    row("warnings on warm starts (the first row passed, no limit)", percent(tally.called_warm))?;
    row("starts that used up a row's time, warned of 1 s before", percent(tally.long_in_time))?;
    row(
        "hot starts; of them felt less than 2 s before the limit",
        format!("{}; {}", tally.hot, tally.sudden),
    )?;
    times(&tally, out)?;
    bars(&tally, out)?;
    kinds(&tally, out)?;
    writeln!(out, "\nWhat was wrong, how many, hot ones among them, and of those warned of in time:")?;
    for (cause, all, hot, in_time) in &tally.causes {
        writeln!(out, "  {:24}{all:>6}{hot:>6}{in_time:>6}", cause.words())?;
    }
    writeln!(out, "\nIn brackets: 95 % intervals, exact. Nobody acts on a warning in these starts.")?;
    writeln!(
        out,
        "Engine, limits and faults are invented: this tests the dash, it promises nothing for an engine."
    )?;
    writeln!(out, "The engine maker's manual rules.")
}

/// How much time anybody had.
fn times(tally: &Tally, out: &mut impl Write) -> io::Result<()> {
    writeln!(
        out,
        "\nHot starts by the time from the fire's first warmth to the limit; warned before it; 1 s before it:"
    )?;
    let mut from = 0.0;
    for (end, (all, before, ahead)) in FELT_S.into_iter().zip(tally.by_time) {
        let class =
            if end.is_finite() { format!("{from:.1} to {end:.1} s") } else { format!("from {from:.1} s") };
        writeln!(out, "  {class:24}{all:>6}{before:>6}{ahead:>6}")?;
        from = end;
    }
    Ok(())
}

/// How early the hot starts were said.
fn bars(tally: &Tally, out: &mut impl Write) -> io::Result<()> {
    let quantiles = [0.01, 0.1, 0.5, 0.9].map(|part| tally.lead_s(part));
    if let [Some(first), Some(tenth), Some(half), Some(most)] = quantiles {
        writeln!(
            out,
            "\nSeconds from warning to limit; 1, 10, 50, 90 %: {first:.2} {tenth:.2} {half:.2} {most:.2}"
        )?;
    } else {
        return writeln!(out, "\nNo hot start was warned of.");
    }
    let bar = |lead: f64| (lead / BAR_S).floor().clamp(-4.0, 20.0) as i64;
    let counts: Vec<usize> =
        (-4..=20).map(|k| tally.leads_s.iter().filter(|lead| bar(**lead) == k).count()).collect();
    let most = counts.iter().copied().max().unwrap_or(1).max(1);
    for (k, count) in (-4..=20).zip(&counts).filter(|(_, count)| **count > 0) {
        let wide = (count * BAR_WIDE).div_ceil(most);
        writeln!(out, "  {:>5.1} s {count:>6} {}", f64::from(k) * BAR_S, "#".repeat(wide))?;
    }
    Ok(())
}

fn kinds(tally: &Tally, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "\nWhat the starts truly were, and in how many the dash raised each alert:")?;
    for (kind, all, raised) in &tally.kinds {
        let said: Vec<String> = ALERTS
            .iter()
            .zip(raised)
            .filter(|(_, count)| **count > 0)
            .map(|(alert, count)| format!("{} {count}", words::alert(*alert)))
            .collect();
        writeln!(out, "  {:44}{all:>6}   {}", kind.words(), said.join(", "))?;
    }
    Ok(())
}

fn percent(share: Interval) -> String {
    let of = |x: f64| x * 100.0;
    format!("{:.2} % [{:.2}, {:.2}]", of(share.value), of(share.low), of(share.high))
}
