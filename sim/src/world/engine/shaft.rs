//! The power shaft: a free turbine, a propeller in the water, and what happens without it.
//!
//! Torque on the shaft is that of the gas, straight down to nothing at twice the design speed as of any turbine; the
//! water takes torque with the square of the shaft's speed, less as the boat runs with it. Newton does the rest.
//!
//! Gas and boat speed in, shaft speed out.

use super::generator::Gas;
use super::settings::EngineSettings;

/// The shaft at 100 %, rad/s: the demonstration's 10,000 rpm.
pub const SHAFT_RAD_S: f64 = 1_047.2;
/// Torque at full power and 100 %, N m: 2.9 MW (invented; the boat's thrust times its top speed is 2.6 MW).
pub const FULL_N_M: f64 = 2_770.0;
/// Of that, what air and bearings take at 100 %, N m; with the square of the speed (invented).
pub const WINDAGE_N_M: f64 = 110.0;
/// Inertia of turbine, gears and shaft, and of the propeller with the water it carries, both at the turbine, kg m2
/// (invented).
pub const TURBINE_KG_M2: f64 = 2.5;
/// See above.
const PROPELLER_KG_M2: f64 = 7.5;
/// Air at full power, kg/s: what the torque goes by.
const FULL_AIR_KG_S: f64 = 12.0;

/// The shaft.
#[derive(Clone, Debug)]
pub struct Shaft {
    full_behind_k: f64,
    full_n2_m_s: f64,
    /// Slip at full power as a share of the speed of 100 %.
    slip: f64,
    lost_at_s: Option<f64>,
    /// Speed as a share of 100 %.
    pub n: f64,
    /// True once the propeller is gone.
    pub lost: bool,
}

impl Shaft {
    /// A shaft at rest.
    #[must_use]
    pub fn new(settings: &EngineSettings) -> Self {
        Self {
            full_behind_k: settings.full_egt_c + super::generator::KELVIN,
            full_n2_m_s: settings.full_n2_m_s.max(1.0),
            slip: (settings.slip_m_s / settings.full_n2_m_s.max(1.0)).max(1e-3),
            lost_at_s: settings.propeller_lost_at_s,
            n: 0.0,
            lost: false,
        }
    }

    /// One step of time.
    pub fn step(&mut self, t: f64, dt: f64, gas: Gas, n1: f64, speed_m_s: f64) {
        self.lost = self.lost_at_s.is_some_and(|at| t >= at);
        let torque = self.torque_n_m(gas, n1);
        let inertia = if self.lost { TURBINE_KG_M2 } else { TURBINE_KG_M2 + PROPELLER_KG_M2 };
        let windage = WINDAGE_N_M * self.n * self.n;
        let load = windage + if self.lost { 0.0 } else { self.water_n_m(speed_m_s) };
        self.n = (self.n + dt * (torque - load) / (inertia * SHAFT_RAD_S)).max(0.0);
    }

    /// What the gas gives, N m: by its flow, its temperature and the pressure that the first turbine leaves, which
    /// grows about with the fourth power of N1 (from memory).
    #[must_use]
    pub fn torque_n_m(&self, gas: Gas, n1: f64) -> f64 {
        let power = gas.air_kg_s / FULL_AIR_KG_S * (gas.behind_k / self.full_behind_k) * n1 * n1 * n1 * n1;
        FULL_N_M * power * (2.0 - self.n).max(0.0)
    }

    /// What the water takes at a boat speed, N m.
    #[must_use]
    pub fn water_n_m(&self, speed_m_s: f64) -> f64 {
        (FULL_N_M - WINDAGE_N_M) / self.slip * self.n * (self.n - speed_m_s / self.full_n2_m_s)
    }
}
