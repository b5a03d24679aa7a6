//! What the engine room must be told to watch more than limits: sudden unloading, shafts and probes that do not
//! belong together, cold junctions, and in which bands of temperature time is counted.
//!
//! None of these figures has a source: each is a choice of ours for a made-up engine (common practice, no source),
//! to be replaced by what the owner sees on his own.
//!
//! This file knows the units and the rules that a setting must keep to.

use heapless::Vec;
use serde::{Deserialize, Serialize};

use super::settings::{EngineFault, EngineRule, celsius, held, percent, within};
use crate::units::{CentiPercent, MilliCelsius, Span};

/// The most edges between bands of temperature.
pub const EDGES_MAX: usize = 5;

/// Bands of temperature: below the first edge, between two edges, above the last.
pub const BANDS_MAX: usize = EDGES_MAX + 1;

/// What is watched beside the limits.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct WatchSettings {
    /// N2 that rises by so many percent of full speed a second has lost its load.
    pub unload_rise_pct_s: u16,
    /// N2 cannot rise faster than this, whatever breaks: it was noise.
    pub rise_most_pct_s: u16,
    /// Below this N2 no rise is called unloading: the boat comes out of the water, the propeller ventilates.
    pub unload_from: CentiPercent,
    /// So far ahead a rising value is followed to the limit that it will reach.
    pub ahead: Span,
    /// From this N1 on, N2 must be in its band.
    pub power_from: CentiPercent,
    /// The lowest N2 under power.
    pub n2_least: CentiPercent,
    /// The highest N2 under power.
    pub n2_most: CentiPercent,
    /// Shafts may stay apart for so long: a propeller that ventilates comes back.
    pub mismatch_for: Span,
    /// Two probes may be apart by this much.
    pub split: MilliCelsius,
    /// And by more for so long.
    pub split_for: Span,
    /// The coldest that a cockpit may be.
    pub cold_least: MilliCelsius,
    /// The hottest that a chip beside an engine may be.
    pub cold_most: MilliCelsius,
    /// The fastest that a chip's own temperature may change, each second.
    pub cold_rate: MilliCelsius,
    /// A probe that follows a mate so much later than that is slow.
    pub aged_lag: Span,
    /// A probe that reads so much lower than its mate while both stand still has drifted.
    pub aged_low: MilliCelsius,
    /// Where one band of temperature ends and the next begins, rising.
    pub bands: Vec<MilliCelsius, EDGES_MAX>,
}

impl WatchSettings {
    /// Demonstration data, not figures of any engine (common practice, no source).
    #[must_use]
    pub fn demonstration() -> Self {
        let edges = [600, 700, 750, 800, 850];
        Self {
            unload_rise_pct_s: 120,
            rise_most_pct_s: 600,
            unload_from: percent(60),
            ahead: Span::from_secs(30),
            power_from: percent(90),
            n2_least: percent(25),
            n2_most: percent(115),
            mismatch_for: Span::from_secs(5),
            split: celsius(40),
            split_for: Span::from_secs(5),
            cold_least: celsius(-20),
            cold_most: celsius(85),
            cold_rate: celsius(5),
            aged_lag: Span::from_millis(700),
            aged_low: celsius(25),
            bands: super::limits::with_room(edges.into_iter().map(celsius)),
        }
    }

    /// Looks for a setting that cannot be right.
    pub(super) fn check(&self) -> Result<(), EngineFault> {
        within("watch.unload_rise_pct_s", i64::from(self.unload_rise_pct_s), 20, 200)?;
        within("watch.rise_most_pct_s", i64::from(self.rise_most_pct_s), 300, 10_000)?;
        within("watch.unload_from", self.unload_from.as_centi(), 2_000, 15_000)?;
        within("watch.ahead", self.ahead.as_micros(), 0, 300_000_000)?;
        within("watch.power_from", self.power_from.as_centi(), 5_000, 15_000)?;
        within("watch.n2_least", self.n2_least.as_centi(), 0, 9_000)?;
        within("watch.n2_most", self.n2_most.as_centi(), 9_500, 15_000)?;
        within("watch.mismatch_for", self.mismatch_for.as_micros(), 500_000, 60_000_000)?;
        within("watch.split", self.split.as_milli(), 5_000, 300_000)?;
        within("watch.split_for", self.split_for.as_micros(), 500_000, 60_000_000)?;
        within("watch.cold_least", self.cold_least.as_milli(), -55_000, 20_000)?;
        within("watch.cold_most", self.cold_most.as_milli(), 30_000, 125_000)?;
        within("watch.cold_rate", self.cold_rate.as_milli(), 500, 50_000)?;
        within("watch.aged_lag", self.aged_lag.as_micros(), 200_000, 5_000_000)?;
        within("watch.aged_low", self.aged_low.as_milli(), 5_000, 300_000)?;
        let rising = self.bands.windows(2).all(|pair| matches!(pair, [low, high] if low < high));
        held("watch.bands", rising, EngineRule::Rising)
    }
}

#[cfg(test)]
mod tests;
