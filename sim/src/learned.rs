//! The boat that a driver accepted, as lines for his settings file.
//!
//! Knows the log and the file's keys. A log in, text out; the same figures come back when it is read.

use std::fmt::Write as _;

use firmware::output::Output;
use firmware::run_in::boat::BoatModel;

use crate::log::Log;

/// The table `[run_in.boat]` of the boat that was accepted last; nothing where none was.
#[must_use]
pub fn accepted(log: &Log) -> Option<String> {
    let accepted = |output: &Output| matches!(output, Output::Learned { accepted: true, .. });
    log.decisions.iter().rfind(|decided| accepted(&decided.output))?;
    Some(table(&log.settings.run_in.as_ref()?.boat))
}

/// A boat as the settings file writes it.
#[must_use]
pub fn table(boat: &BoatModel) -> String {
    let mut text = String::from("[run_in.boat]\n");
    let list = |figures: Vec<i32>| figures.into_iter().map(thousandths).collect::<Vec<_>>().join(", ");
    let speeds = list(boat.pulls.iter().map(|pull| pull.speed.as_mm_s()).collect());
    let pulls = list(boat.pulls.iter().map(|pull| pull.acceleration_mm_s2).collect());
    let seconds = |span: firmware::units::Span| span.as_micros() as f64 / 1e6;
    let _ = writeln!(text, "speeds_m_s = [{speeds}]\npulls_m_s2 = [{pulls}]");
    let _ = writeln!(text, "lag_s = {}\nlag_sd_s = {}", seconds(boat.lag), seconds(boat.lag_sd));
    let _ = writeln!(text, "bend_m_s2 = {}", thousandths(boat.bend_mm_s2));
    let _ = writeln!(text, "coasting_pct_per_m = {}", f64::from(boat.coasting_ppm_per_m) / 1e4);
    let _ = writeln!(text, "pull_sd_pct = {}", f64::from(boat.pull_sd_permille) / 10.0);
    let _ = writeln!(text, "bend_sd_pct = {}", f64::from(boat.bend_sd_permille) / 10.0);
    text
}

fn thousandths(figure: i32) -> String {
    (f64::from(figure) / 1e3).to_string()
}
