//! The board's crystal: true time to the board's own microseconds and back.
//!
//! The crystal is fast or slow by a constant and drifts with its temperature; both are small, so the board's
//! clock never runs backwards. True time goes in, the stamp that the board would give comes out.
//!
//! This room knows the units and chance.

use firmware::units::{Instant, Span};
use serde::Deserialize;

use super::draw::{Draw, Purpose};
use super::maths::{round, seconds, span};

/// How good the crystal is.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct CrystalSettings {
    /// When the board is switched on, race time.
    pub boots_at_s: f64,
    /// Its error at zero, positive when the board's clock is fast.
    pub error_ppm: f64,
    /// One standard deviation of what is drawn on top of that for each heat.
    pub error_sd_ppm: f64,
    /// How fast the error grows while the board warms up.
    pub drift_ppb_per_s: f64,
}

impl Default for CrystalSettings {
    /// An ordinary crystal is good to about 20 ppm between 0 and 50 degrees Celsius (table 1 of "Time
    /// synchronisation for millisecond precision", Movement Ecology 2024); taken as two standard deviations.
    fn default() -> Self {
        Self { boots_at_s: -360.0, error_ppm: 0.0, error_sd_ppm: 10.0, drift_ppb_per_s: 1.0 }
    }
}

/// One crystal in one heat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crystal {
    /// What a crystal that counts from the true zero reads when the board is switched on.
    boot_reading: f64,
    /// Relative error at zero, and its growth for each second.
    error: f64,
    drift: f64,
}

impl Crystal {
    /// Draws the crystal of a heat.
    #[must_use]
    pub fn new(settings: &CrystalSettings, seed: u64) -> Self {
        let drawn = Draw::new(seed, Purpose::Crystal).normal(settings.error_ppm, settings.error_sd_ppm);
        let crystal = Self {
            boot_reading: 0.0,
            error: drawn.clamp(-1_000.0, 1_000.0) * 1e-6,
            drift: settings.drift_ppb_per_s.clamp(-1_000.0, 1_000.0) * 1e-9,
        };
        crystal.rebooted(span(settings.boots_at_s))
    }

    /// The same crystal on a board that was switched on again at `at`.
    #[must_use]
    pub fn rebooted(self, at: Span) -> Self {
        Self { boot_reading: self.reading(seconds(at)), ..self }
    }

    /// The error at zero, parts per million.
    #[must_use]
    pub fn error_ppm(&self) -> f64 {
        self.error * 1e6
    }

    /// What the board's clock shows at a true time, to the nearest microsecond; before it was on, nothing.
    #[must_use]
    pub fn board_at(&self, t: Span) -> Instant {
        self.board_at_s(seconds(t))
    }

    /// The same for a true time in seconds, for what happens between microseconds.
    #[must_use]
    pub fn board_at_s(&self, t: f64) -> Instant {
        let shown = round((self.reading(t) - self.boot_reading) * 1e6);
        Instant::from_micros(u64::try_from(shown).unwrap_or(0))
    }

    /// The true time at which the board's clock shows `shown`, to the nearest microsecond.
    #[must_use]
    pub fn true_at(&self, shown: Instant) -> Span {
        let target = self.boot_reading + shown.as_micros() as f64 * 1e-6;
        // Newton's method: the slope is 1 within a thousandth, three steps leave nothing.
        let t =
            (0..3).fold(target, |t, _| t - (self.reading(t) - target) / (1.0 + self.error + self.drift * t));
        span(t)
    }

    /// Seconds by this crystal since the true zero.
    fn reading(&self, t: f64) -> f64 {
        t + self.error * t + 0.5 * self.drift * t * t
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn crystal(error_ppm: f64, drift_ppb_per_s: f64) -> Crystal {
        let settings =
            CrystalSettings { error_ppm, error_sd_ppm: 0.0, drift_ppb_per_s, ..CrystalSettings::default() };
        Crystal::new(&settings, 1)
    }

    /// Arithmetic: 30 ppm of 300 s is 9 ms.
    #[test]
    fn thirty_ppm_gain_nine_milliseconds_in_five_minutes() {
        let fast = crystal(30.0, 0.0);
        let five_minutes = fast.board_at(Span::ZERO).since(fast.board_at(Span::from_secs(-300)));
        assert_eq!(five_minutes, Span::from_micros(300_009_000));
    }

    #[test]
    fn there_and_back_is_within_a_microsecond_and_never_backwards() {
        for (error, drift) in [(0.0, 0.0), (12.5, 3.0), (-64.0, -20.0), (1_000.0, 500.0)] {
            let crystal = crystal(error, drift);
            let mut last = Instant::BOOT;
            for k in 0..50_000 {
                let t = Span::from_micros(-359_000_000 + k * 19_937);
                let shown = crystal.board_at(t);
                assert!(shown > last);
                assert!((crystal.true_at(shown) - t).abs() <= Span::from_micros(1), "{error} {drift} {t:?}");
                assert!(crystal.board_at(crystal.true_at(shown)).since(shown).abs() <= Span::from_micros(1));
                last = shown;
            }
        }
    }
}
