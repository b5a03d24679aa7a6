//! From the gas to the junction: what the thermocouple feels.
//!
//! The gas follows the fire with a first-order lag. Much air carries its own temperature to the probe; little air takes
//! that of the metal round it, which warms and cools slowly. So a stopped engine's probe dips and climbs again (heat
//! soak), and cranking brings it down. The junction itself lags once more.
//!
//! Gas temperature and air in, junction temperature out.

use super::generator::{GAS_J_KG_K, KELVIN};
use super::settings::EngineSettings;
use crate::world::maths::exp;

/// Heat that the metal gives the gas at the probe for each kelvin, W/K (invented).
const METAL_W_K: f64 = 300.0;
/// The metal takes on the gas's temperature with this time constant in plenty of air, s; with so much air, kg/s, in
/// twice the time (invented).
const METAL_LAG_S: f64 = 8.0;
/// See above.
const METAL_AIR_KG_S: f64 = 1.0;
/// It cools into the hull with this, s (invented).
const SOAK_S: f64 = 900.0;
/// Never divide by no air at all, kg/s.
const STILL_KG_S: f64 = 1e-3;

/// The hot end.
#[derive(Clone, Debug)]
pub struct HotEnd {
    gas_share: f64,
    probe_share: f64,
    air_c: f64,
    gas_c: f64,
    metal_c: f64,
    /// The junction, degrees Celsius.
    pub junction_c: f64,
}

impl HotEnd {
    /// A cold one, to be stepped every `dt` seconds.
    #[must_use]
    pub fn new(settings: &EngineSettings, dt: f64) -> Self {
        let share = |lag_s: f64| 1.0 - exp(-dt / lag_s.max(1e-3));
        let air_c = settings.air_c;
        let (gas_share, probe_share) = (share(settings.fire_lag_s), share(settings.probe_lag_s));
        Self { gas_share, probe_share, air_c, gas_c: air_c, metal_c: air_c, junction_c: air_c }
    }

    /// All of it has the temperature of the gas.
    pub const fn settle(&mut self, behind_k: f64) {
        let gas_c = behind_k - KELVIN;
        (self.gas_c, self.metal_c, self.junction_c) = (gas_c, gas_c, gas_c);
    }

    /// One step of time under gas of a temperature.
    pub fn step(&mut self, dt: f64, behind_k: f64, air_kg_s: f64) {
        self.gas_c += self.gas_share * (behind_k - KELVIN - self.gas_c);
        let carried = air_kg_s.max(STILL_KG_S) * GAS_J_KG_K;
        let felt = (carried * self.gas_c + METAL_W_K * self.metal_c) / (carried + METAL_W_K);
        let warms = dt / METAL_LAG_S * air_kg_s / (air_kg_s + METAL_AIR_KG_S);
        self.metal_c += warms * (self.gas_c - self.metal_c) + dt / SOAK_S * (self.air_c - self.metal_c);
        self.junction_c += self.probe_share * (felt - self.junction_c);
    }
}
