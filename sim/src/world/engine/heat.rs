//! From the gas to the junction: what the thermocouple feels.
//!
//! The gas follows the fire with a first-order lag. On its way it heats the metal of the hot section, or is heated by
//! it, as a flow through a heat exchanger whose wall has one temperature; what the gas loses the metal gains. So a
//! cold engine's first fire is felt as little more than half of itself, a stopped engine's probe dips and climbs again
//! (heat soak), and cranking brings it down. The junction itself lags once more.
//!
//! Gas temperature and air in, junction temperature out.

use super::generator::{GAS_J_KG_K, KELVIN, air_kg_s};
use super::settings::EngineSettings;
use crate::world::maths::exp;

/// The speed at which the settings state the conductance.
const STATED_N: f64 = 0.15;
/// Conductance in still air: radiation and natural convection, W/K (invented).
const STILL_W_K: f64 = 30.0;
/// The metal cools into the hull with this, s (invented).
const SOAK_S: f64 = 900.0;
/// Never divide by no air at all, kg/s.
const STILL_KG_S: f64 = 1e-3;

/// The hot end.
#[derive(Clone, Debug)]
pub struct HotEnd {
    gas_share: f64,
    probe_share: f64,
    metal_j_k: f64,
    metal_w_k: f64,
    stated_kg_s: f64,
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
        Self {
            gas_share,
            probe_share,
            metal_j_k: settings.metal_kj_k * 1e3,
            metal_w_k: settings.metal_w_k,
            stated_kg_s: air_kg_s(STATED_N),
            air_c,
            gas_c: air_c,
            metal_c: air_c,
            junction_c: air_c,
        }
    }

    /// All of it has the temperature of the gas.
    pub const fn settle(&mut self, behind_k: f64) {
        let gas_c = behind_k - KELVIN;
        (self.gas_c, self.metal_c, self.junction_c) = (gas_c, gas_c, gas_c);
    }

    /// One step of time under gas of a temperature.
    pub fn step(&mut self, dt: f64, behind_k: f64, air_kg_s: f64) {
        self.gas_c += self.gas_share * (behind_k - KELVIN - self.gas_c);
        let carried_w_k = air_kg_s.max(STILL_KG_S) * GAS_J_KG_K;
        // Gas that flows along a wall of one temperature comes nearer to it by this share (heat exchangers).
        let nearer = 1.0 - exp(-self.conductance_w_k(air_kg_s) / carried_w_k);
        let lost_k = nearer * (self.gas_c - self.metal_c);
        self.metal_c += dt * (carried_w_k * lost_k / self.metal_j_k - (self.metal_c - self.air_c) / SOAK_S);
        self.junction_c += self.probe_share * (self.gas_c - lost_k - self.junction_c);
    }

    /// Grows with the flow to the power of 3/4: between a laminar boundary layer's 1/2 and a turbulent one's 4/5
    /// (any textbook of heat transfer). Square roots, because every machine takes them alike.
    fn conductance_w_k(&self, air_kg_s: f64) -> f64 {
        let flow = air_kg_s / self.stated_kg_s;
        STILL_W_K + self.metal_w_k * (flow * flow.sqrt()).sqrt()
    }
}
