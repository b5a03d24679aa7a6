//! How the boat gains or loses speed: its acceleration, smoothed over some fixes.
//!
//! Two speeds a tenth of a second apart, each good to 0.05 m/s, give 0.7 m/s^2 of noise; over 0.4 s it is a
//! quarter of that, and a boat's pull is several m/s^2.
//!
//! Speeds in, acceleration out.

use crate::units::{MmPerSecond, Span, Utc, mul_div};

/// What the smoothing forgets in.
pub(super) const MEMORY: Span = Span::from_millis(400);

/// Fixes farther apart than this have nothing to do with each other.
const BRIDGE: Span = Span::from_secs(1);

/// A boat that lost so much of its highest speed has lifted, mm/s.
const LIFTED: i32 = 3_000;

/// The boat's speed as it goes on.
#[derive(Clone, Debug, Default)]
pub(super) struct Motion {
    last: Option<(Utc, i32)>,
    /// Smoothed acceleration, mm/s^2.
    pull: i64,
    /// The highest speed since the driver last lifted.
    highest: i32,
}

impl Motion {
    /// Takes the speed of a fix; gives the smoothed acceleration, mm/s^2.
    pub fn fix(&mut self, at: Utc, speed: MmPerSecond) -> i32 {
        let speed = speed.as_mm_s();
        if self.has_lifted() {
            self.highest = speed;
        }
        self.highest = self.highest.max(speed);
        match self.last.replace((at, speed)) {
            Some((before, from)) if at.since(before) > Span::ZERO && at.since(before) <= BRIDGE => {
                let step = at.since(before).as_micros();
                let pull = mul_div(i64::from(speed.saturating_sub(from)), 1_000_000, step);
                self.pull += mul_div(pull - self.pull, step, step + MEMORY.as_micros());
            }
            _ => self.pull = 0,
        }
        i32::try_from(self.pull).unwrap_or(0)
    }

    /// True at a fix that is well below the highest speed before it.
    pub fn has_lifted(&self) -> bool {
        self.last.is_some_and(|(_, speed)| speed < self.highest.saturating_sub(LIFTED))
    }
}
