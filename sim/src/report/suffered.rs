//! What the engine suffered: a table for the page, and a file for the crew's book.
//!
//! The account is the newest in the record, as a dash would find it again after a cut of power; the exceedances are
//! the heat's own, with both shafts as the gauges showed them when each was called.
//!
//! Knows the log and the words. A log in, text out.

use firmware::engine::suffered::Accounts;
use firmware::engine::watch::BANDS_MAX;
use firmware::journal::Reader;
use firmware::output::{Quantity, Suffering};
use firmware::units::Span;
use maud::{Markup, html};

use crate::log::Log;
use crate::summary::{Exceedance, Summary, secs};
use crate::words;

/// One line of the account.
struct Line {
    what: String,
    unit: &'static str,
    heat: u32,
    total: u32,
}

/// The account of a log, line by line; nothing when the engine did nothing.
fn account(log: &Log) -> Option<(Accounts, Vec<Line>)> {
    let accounts = Reader::new(&log.journal).newest_suffered()?;
    let settings = &log.settings.engine.watch;
    let bands = (0..=settings.bands.len().min(BANDS_MAX - 1) as u8).map(Suffering::BandSeconds);
    let excess = [Quantity::Egt, Quantity::N1, Quantity::N2].map(Suffering::Exceeded);
    let counts = [Suffering::RunSeconds, Suffering::Starts, Suffering::HotStarts];
    let line = |what: Suffering| {
        let (text, unit) = words::suffering(what, settings);
        Line { what: text, unit, heat: accounts.heat.figure(what), total: accounts.total.figure(what) }
    };
    let lines = counts.into_iter().chain(bands).chain(excess).map(line).collect();
    Some((accounts, lines))
}

/// The table of the page.
pub fn section(log: &Log) -> Markup {
    html! {
        section {
            h2 { "What the engine suffered" }
            @if let Some((accounts, lines)) = account(log) {
                table {
                    thead { tr { th { "what" } th.number { "this heat" } th.number { "since reset" } } }
                    tbody { @for line in &lines { tr {
                        td { (line.what) @if !line.unit.is_empty() { " (" (line.unit) ")" } }
                        td.number { (line.heat) }
                        td.number { (line.total) }
                    } } }
                }
                @for (quantity, excess) in quantities().zip(&accounts.total.excess).filter(|(_, it)| it.count > 0) {
                    p { "Highest " (words::quantity(quantity)) " above a limit since reset: "
                        (words::amount(quantity, excess.peak)) ", the longest for "
                        (words::seconds(Span::from_millis(i64::from(excess.longest_ms)))) " s" }
                }
                p.note { "By the record, which is at most ten seconds of running behind. The engine maker's manual says what \
                          must be inspected." }
            } @else { p { "Nothing: it did not run, or was not seen." } }
        }
    }
}

fn quantities() -> impl Iterator<Item = Quantity> {
    [Quantity::Egt, Quantity::N1, Quantity::N2].into_iter()
}

/// The crew's book: the account, then each exceedance. Empty means not known.
pub(crate) fn book(log: &Log, summary: &Summary) -> String {
    let mut text = String::from(
        "what,unit,this_heat,since_reset,race_time_s,limit,peak,above_s,n1_pct_then,n2_pct_then,ended\n",
    );
    for line in account(log).into_iter().flat_map(|(_, lines)| lines) {
        text += &format!("\"{}\",{},{},{},,,,,,,\n", line.what, line.unit, line.heat, line.total);
    }
    for exceeded in &summary.exceedances {
        text += &row(log, exceeded);
    }
    text
}

fn row(log: &Log, exceeded: &Exceedance) -> String {
    let (unit, scale) = match exceeded.quantity {
        Quantity::Egt => ("degC", 1_000.0),
        Quantity::N1 | Quantity::N2 => ("%", 100.0),
    };
    let figure = |raw: i32| format!("{:.2}", f64::from(raw) / scale);
    let then = log.samples.iter().find(|sample| sample.t >= exceeded.t).map(|sample| sample.view.gauges);
    let shaft = |value: Option<f64>| value.map(|value| format!("{value:.2}")).unwrap_or_default();
    let n1 = shaft(then.and_then(|gauges| words::percent(gauges.n1)));
    let n2 = shaft(then.and_then(|gauges| words::percent(gauges.n2)));
    let name = words::quantity(exceeded.quantity);
    let (t, above) = (secs(exceeded.t), secs(exceeded.above));
    let (limit, peak) = (figure(exceeded.threshold), figure(exceeded.peak));
    format!(
        "\"{name} limit exceeded\",{unit},,,{t:.3},{limit},{peak},{above:.3},{n1},{n2},{}\n",
        exceeded.over
    )
}
