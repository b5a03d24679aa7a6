//! Shaft speed from counted pulses, in hundredths of a percent of the engine maker's 100 %.
//!
//! A shaft without a signal has no speed: its reading is absent, never 0 %. A report without pulses renews
//! nothing. Neither does one that no shaft can cause (faster than 150 %, or over no time at all): noise is
//! ignored, and if only noise comes the reading ages out.
//!
//! This file knows the units and the pulses.

use serde::{Deserialize, Serialize};

use crate::input::Pulses;
use crate::units::{CentiPercent, Span, mul_div};

/// The fastest report that is believed: 150 %. Indicators end at 110 to 120 % (common practice, no source).
pub const FASTEST: CentiPercent = CentiPercent::from_centi(15_000);

/// One turn alone shows a rise if it is shorter than the one before by more than a sixty-fourth. Less may be the
/// pickup's own unsteadiness: pulses unsteady by 5 us make turns of 6 ms differ by 12 us, one standard deviation.
pub const UNSTEADY: u32 = 64;

/// The shortest silence that counts. A pickup with many pulses a turn would otherwise be missed between two
/// reports, which come ten times a second or more often (common practice, no source).
const SHORTEST_SILENCE: Span = Span::from_millis(250);

/// What turns a pickup's pulses into percent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TachSettings {
    /// Turns a minute, of the shaft that carries the pickup, at the engine maker's 100 %.
    pub rpm_at_100: u32,
    /// Pulses that the pickup gives in one turn: 1 for a two-pole tachometer generator.
    pub cycles_per_turn: u16,
}

/// What whoever counts a shaft's pulses must look out for (`io::pulses::Lookout`).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Watched {
    /// The pickup.
    pub tach: TachSettings,
    /// A turn faster than this is news.
    pub overspeed: CentiPercent,
    /// So is a rise as steep as this, percent of full speed a second.
    pub rise_pct_s: u16,
}

impl TachSettings {
    /// The speed that `pulses` amount to, rounded to 0.01 %; `None` when they say nothing about a shaft.
    #[must_use]
    pub fn percent(&self, pulses: Pulses) -> Option<CentiPercent> {
        /// Microseconds in a minute, times 10,000 hundredths of a percent in 100 %.
        const SCALE: i64 = 60_000_000 * 10_000;
        let count = i64::from(pulses.count);
        let span = pulses.span.as_micros();
        if count == 0 || span <= 0 || span > self.silence().as_micros().saturating_mul(count) {
            return None;
        }
        let centi = mul_div(count, SCALE, span.saturating_mul(self.pulses_a_minute()));
        let percent = CentiPercent::from_centi(i32::try_from(centi).ok()?);
        (percent <= FASTEST).then_some(percent)
    }

    /// How long without a pulse until there is no signal: two periods at 5 %, and at least a quarter second.
    #[must_use]
    pub fn silence(&self) -> Span {
        /// Microseconds in two minutes, over 5 %.
        const TWO_PERIODS: i64 = 2 * 60_000_000 * 20;
        Span::from_micros(mul_div(TWO_PERIODS, 1, self.pulses_a_minute())).max(SHORTEST_SILENCE)
    }

    fn pulses_a_minute(&self) -> i64 {
        i64::from(self.rpm_at_100) * i64::from(self.cycles_per_turn)
    }
}
