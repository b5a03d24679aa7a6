//! The dash's verdict and the second opinion side by side.
//!
//! Both had the same inputs, so they may differ by what the dash could not know yet: an arrival that came quicker later,
//! a pulse behind the moment, less than 1 ms that it keeps back (rule C10), the error of a restart (rule P2). More is a
//! disagreement, and an official should see why.
//!
//! Two verdicts in, rows out.

use firmware::output::{Call, Output};
use firmware::units::Span;

use super::record::HeatParts;
use super::second::Opinion;
use super::second::tie::micros;
use crate::log::Log;
use crate::summary::{Summary, secs};
use crate::words;

/// Rounding to a microsecond at each step, what the dash keeps back of a moved zero (1 ms), and as much again.
const ALWAYS_S: f64 = 0.002;

/// A restart with the power on is known to 3 ms; three of these.
const RESTART_S: f64 = 0.009;

/// Lap times do not hang on zero, nor on the board's clock: a place rounded to a millimetre at a walking pace.
const LAP_S: f64 = 0.001;

/// A figure and one standard deviation, in seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// The figure.
    pub s: f64,
    /// One standard deviation.
    pub sigma_s: f64,
}

/// One thing by both.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// What it is.
    pub what: String,
    /// What the dash said, in a word where it is a call.
    pub dash: Option<(Figure, Option<Call>)>,
    /// What the second opinion says.
    pub second: Option<(Figure, Option<Call>)>,
    /// So far they may be apart.
    pub allowed_s: f64,
    /// They agree.
    pub agrees: bool,
    /// They agree in the figure and not in the word: it lies on the edge between two calls.
    pub on_the_edge: bool,
}

impl Compared {
    /// Second less first, seconds.
    #[must_use]
    pub fn difference_s(&self) -> Option<f64> {
        Some(self.second?.0.s - self.dash?.0.s)
    }
}

/// Every row.
#[must_use]
pub fn compare(log: &Log, summary: &Summary, opinion: &Opinion, heat: &HeatParts) -> Vec<Compared> {
    let by_arrivals = if opinion.pulses >= 2 { 0.0 } else { secs(log.settings.timebase.latency_sd) };
    let restarts = if heat.0.len() > 1 { RESTART_S } else { 0.0 };
    let allowed_s = ALWAYS_S + by_arrivals + restarts;
    let dash_zero = last_zero(log);
    let zero_second = dash_zero.and_then(|(at_s, _)| {
        let figure =
            Figure { s: opinion.zero_on_board_s? - at_s, sigma_s: opinion.zero.as_ref()?.at.sigma_s };
        Some((figure, None))
    });
    let zero_dash = dash_zero.map(|(_, sigma)| (Figure { s: 0.0, sigma_s: secs(sigma) }, None));
    let mut rows = vec![row("zero", zero_dash, zero_second, allowed_s)];
    rows.extend(start_row(summary, opinion, allowed_s));
    let laps = summary.laps.len().max(opinion.race.laps.len());
    for lap in 0..laps {
        let dash = summary.laps.get(lap).map(|lap| figure(lap.time, lap.sigma));
        let second = opinion.race.laps.get(lap);
        let second = second.map(|lap| (Figure { s: lap.time_s, sigma_s: lap.sigma_s }, None));
        let number = summary
            .laps
            .get(lap)
            .map_or(usize::from(opinion.race.laps_before) + lap + 1, |lap| lap.lap.into());
        rows.push(row(&format!("lap {number}"), dash, second, LAP_S));
    }
    let sigma = |sigma_s: Option<f64>| sigma_s.unwrap_or_default();
    let last = opinion.race.crossings.iter().rev().find(|seen| seen.counted == super::second::Counted::Lap);
    let end_sigma = sigma(last.map(|seen| seen.crossing.at.sigma_s.hypot(seen.tie_sigma_s)))
        .hypot(sigma(opinion.zero.as_ref().map(|zero| zero.at.sigma_s)));
    let finish_dash =
        summary.finish.map(|finish| (Figure { s: secs(finish.time), sigma_s: end_sigma }, None));
    let finish_second = opinion.race.finish_s.map(|s| (Figure { s, sigma_s: end_sigma }, None));
    if finish_dash.is_some() || finish_second.is_some() {
        rows.push(row("finish", finish_dash, finish_second, allowed_s));
    }
    rows
}

fn figure(time: Span, sigma: Span) -> (Figure, Option<Call>) {
    (Figure { s: secs(time), sigma_s: secs(sigma) }, None)
}

/// The dash's last word on zero: its moment on the board's clock in seconds, and its sigma.
fn last_zero(log: &Log) -> Option<(f64, Span)> {
    let zero = |output: &Output| match *output {
        Output::Zero { at, sigma, .. } => Some((micros(at.as_micros() as i64), sigma)),
        _ => None,
    };
    log.decisions.iter().rev().find_map(|decided| zero(&decided.output))
}

fn start_row(summary: &Summary, opinion: &Opinion, allowed_s: f64) -> Option<Compared> {
    let dash = summary.call.map(|called| (figure(called.margin, called.sigma).0, Some(called.call)));
    let second = opinion
        .race
        .call
        .map(|called| (Figure { s: called.margin_s, sigma_s: called.sigma_s }, Some(called.call)));
    (dash.is_some() || second.is_some()).then(|| row("start", dash, second, allowed_s))
}

type Said = Option<(Figure, Option<Call>)>;

fn row(what: &str, dash: Said, second: Said, allowed_s: f64) -> Compared {
    let (mut agrees, mut on_the_edge) = (false, false);
    match (dash, second) {
        (Some((one, said)), Some((other, says))) => {
            let near = (one.s - other.s).abs() <= allowed_s;
            // The edge of "too close" is two sigma, of which both may think a little differently.
            let edge = (one.s.abs() - 2.0 * one.sigma_s).abs();
            on_the_edge = near && said != says && edge <= allowed_s + 0.02 * one.sigma_s;
            agrees = near && (said == says || on_the_edge);
        }
        (None, None) => agrees = true,
        _ => {}
    }
    Compared { what: what.into(), dash, second, allowed_s, agrees, on_the_edge }
}

/// A figure as people read it: a call with its word, a time with its deviation.
#[must_use]
pub fn told(figure: Figure, call: Option<Call>, what: &str) -> String {
    let span = |s: f64| Span::from_micros((s * 1e6).round() as i64);
    match call {
        Some(call) => words::verdict(call, span(figure.s), span(figure.sigma_s)),
        None if what == "zero" => {
            format!("{} s ± {} s", words::signed(span(figure.s)), words::sigma(span(figure.sigma_s)))
        }
        None => {
            let time = words::run_time(span(figure.s));
            format!("{} ± {} s", time, words::sigma(span(figure.sigma_s)))
        }
    }
}
