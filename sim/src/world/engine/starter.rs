//! The starter: a direct-current motor on one battery or on two in series.
//!
//! Ohm's law and the two laws of a motor with a constant field: volts grow with speed, torque with current, by the
//! same constant. A limiter holds the current of the first moment. Speed in, torque out.

use super::generator::SPOOL_RAD_S;
use super::settings::EngineSettings;

/// Motor constant, V s and N m/A, at the spool: on 24 V it would spin to 27 % without any load (invented).
const VOLT_S: f64 = 24.0 / (0.27 * SPOOL_RAD_S);
/// Resistance of windings, brushes and switch, ohm (invented).
const WINDING_OHM: f64 = 0.003_5;
/// The most current that the limiter lets through, A (invented).
const MOST_A: f64 = 1_600.0;

/// The starter and its batteries.
#[derive(Clone, Copy, Debug)]
pub struct Starter {
    battery_v: f64,
    battery_ohm: f64,
}

impl Starter {
    /// Batteries of this engine.
    #[must_use]
    pub fn new(settings: &EngineSettings) -> Self {
        Self { battery_v: settings.battery_v, battery_ohm: settings.battery_mohm * 1e-3 }
    }

    /// Torque on the spool at a speed with so many batteries in series, N m. It never brakes: a clutch overruns.
    #[must_use]
    pub fn torque_n_m(&self, n: f64, batteries: f64) -> f64 {
        let left_v = self.battery_v * batteries - VOLT_S * n * SPOOL_RAD_S;
        let ohm = WINDING_OHM + self.battery_ohm * batteries;
        VOLT_S * (left_v / ohm.max(1e-4)).clamp(0.0, MOST_A)
    }
}
