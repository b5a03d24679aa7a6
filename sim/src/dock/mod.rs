//! Thousands of starts at the dock: what the dash says of each, held against what truly happened.
//!
//! Every draw of a start comes from the seed and the start's own number, so the result is the same for any number of
//! threads. Nobody acts on a warning: so each start shows how hot it would have become, and how early the dash said so.
//!
//! `drawn` says how starts differ, `follow` plays one through the real dash, `tally` counts, `table`, `lines` and
//! `picture` show.

pub mod command;
pub mod drawn;
mod follow;
pub mod lines;
mod picture;
pub mod table;
pub mod tally;
#[cfg(test)]
mod tests;

use firmware::output::AlertId;
use firmware::settings::Settings;
use indicatif::{ParallelProgressIterator, ProgressBar};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::scenario::Heat;

use drawn::Cause;
pub use picture::histogram;

/// What a start truly was. Limits are those of the settings' starting table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// It came to idle and never passed the table's lowest row.
    Good,
    /// It came to idle, passed the lowest row, and used up the time of none.
    Warm,
    /// It used up the time that a row allows, without passing the last one.
    Long,
    /// It passed the last row, the one with the least time.
    Hot,
    /// It lit and did not come to idle.
    Hung,
    /// It did not light.
    Dark,
}

impl Kind {
    /// All, in the order of the table.
    pub const ALL: [Self; 6] = [Self::Good, Self::Warm, Self::Long, Self::Hot, Self::Hung, Self::Dark];

    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Warm => "warm: above the first row, within its time",
            Self::Long => "long: a row's time used up",
            Self::Hot => "hot: above the last row",
            Self::Hung => "hung",
            Self::Dark => "no light-off",
        }
    }
}

/// How one start came out. Times are seconds from its beginning.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Outcome {
    /// Which start.
    pub start: u64,
    /// What had been drawn to be wrong with it.
    pub cause: Cause,
    /// What it truly was.
    pub kind: Kind,
    /// The junction's highest temperature before the engine sustained itself, degrees Celsius.
    pub peak_c: f64,
    /// When the junction first felt the fire.
    pub fire_s: Option<f64>,
    /// When the limit was crossed: the last row passed, or a row's time used up.
    pub limit_s: Option<f64>,
    /// How fast the junction heated as it crossed, degrees a second.
    pub rise_c_s: Option<f64>,
    /// The first time that each alert was raised.
    pub raised: Vec<(AlertId, f64)>,
}

impl Outcome {
    /// When an alert was first raised.
    #[must_use]
    pub fn raised_s(&self, alert: AlertId) -> Option<f64> {
        self.raised.iter().find(|(id, _)| *id == alert).map(|(_, at)| *at)
    }

    /// How long before the limit the hot start was said; negative: after it.
    #[must_use]
    pub fn lead_s(&self) -> Option<f64> {
        Some(self.limit_s? - self.raised_s(AlertId::HotStart)?)
    }
}

/// What was asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// The heat's title.
    pub heat: String,
    /// Every draw comes from it.
    pub seed: u64,
    /// How many starts.
    pub starts: u64,
    /// Whether the dash sees the switches.
    pub switches: bool,
    /// The last row of the starting table, degrees Celsius.
    pub limit_c: f64,
}

/// What came of all starts.
#[derive(Clone, Debug, PartialEq)]
pub struct Starts {
    /// What was asked for.
    pub plan: Plan,
    /// In the order of their numbers.
    pub outcomes: Vec<Outcome>,
}

/// A start must be warned of so long before its limit, s.
pub const AHEAD_S: f64 = 1.0;

/// Why starts cannot be drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("these settings have no starting limit of EGT or no probe: nothing can be a hot start")]
pub struct NoLimit;

/// Draws and follows starts of a heat's engine on all cores; with `probe_lag_s`, all with a junction of that lag.
///
/// # Errors
/// [`NoLimit`] when the settings leave nothing to warn of.
pub fn starts(
    heat: &Heat,
    probe_lag_s: Option<f64>,
    seed: u64,
    starts: u64,
    progress: ProgressBar,
) -> Result<Starts, NoLimit> {
    let settings = told(heat);
    let limit = settings.engine.egt_starting.rows.last().filter(|_| settings.engine.probes > 0);
    let limit = limit.ok_or(NoLimit)?.threshold;
    let plan = Plan {
        heat: heat.title.clone(),
        seed,
        starts,
        switches: heat.world.dock.switches,
        limit_c: f64::from(limit.as_milli()) / 1e3,
    };
    progress.set_length(starts);
    let outcomes = (0..starts)
        .into_par_iter()
        .progress_with(progress)
        .map(|number| follow::start((&settings, &heat.world), probe_lag_s, seed, number))
        .collect();
    Ok(Starts { plan, outcomes })
}

/// What the dash is told: the heat's settings, and that the switches are wired where the heat says so.
fn told(heat: &Heat) -> Settings {
    let mut settings = heat.settings.clone();
    if heat.world.dock.switches {
        let wired = &mut settings.engine.start.wired;
        (wired.igniter, wired.starter_low, wired.starter_high) = (true, true, true);
        (wired.start_fuel, wired.external_power) = (true, true);
    }
    settings
}
