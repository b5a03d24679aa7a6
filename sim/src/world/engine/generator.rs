//! The gas generator as a machine: air, compressor, burner, turbine, one spool.
//!
//! Every figure goes by n, the shaft speed as a share of 100 %. Air grows with n; the compressor heats it by an amount
//! that grows with n squared (Euler's work equation); the burner adds what fuel brings; the turbine takes from the hot gas
//! a share of its absolute temperature that grows with the pressure behind it, up to that of choked nozzles. Two
//! constants of the turbine are not chosen but solved for, so that idle and full speed balance at the two
//! temperatures of the settings.
//!
//! Knows the engine's settings. Speeds and fuel in, torques and temperatures out.

use super::settings::EngineSettings;

/// Zero degrees Celsius, kelvin (exact, definition).
pub const KELVIN: f64 = 273.15;
/// Specific heats of air and of burnt gas at constant pressure, J/(kg K) (usual textbook figures, from memory).
const AIR_J_KG_K: f64 = 1_005.0;
/// See above.
pub const GAS_J_KG_K: f64 = 1_150.0;
/// Lower heating value of kerosene, J/kg (43 MJ/kg, from memory), and the share that burns (invented).
pub const HEAT_J_KG: f64 = 43e6 * 0.97;
/// Fuel to air by mass with all oxygen used (kerosene, from memory); more fuel than that gives no more heat.
const STOICHIOMETRIC: f64 = 0.067;
/// Air at 100 %, kg/s: an engine of about 3 MW (invented).
const AIR_KG_S: f64 = 12.0;
/// How air grows with speed: this part as n, the rest as n squared (invented).
const AIR_EVEN: f64 = 0.3;
/// What the compressor adds at 100 %, kelvin: a pressure ratio near 8 (from memory).
const COMPRESSOR_K: f64 = 300.0;
/// The spool at 100 %, rad/s: 18,000 rpm (invented).
pub const SPOOL_RAD_S: f64 = 1_885.0;
/// The spool's inertia, kg m2 (invented): with full compressor torque on it 100 % would be reached in 0.9 s.
pub const SPOOL_KG_M2: f64 = 0.9 * AIR_KG_S * AIR_J_KG_K * COMPRESSOR_K / (SPOOL_RAD_S * SPOOL_RAD_S);
/// Drag of a warm engine, N m, at a standstill and what speed adds at 100 % (invented, so that an engine sustains itself
/// from about 45 %: common practice, no source).
const DRAG_N_M: (f64, f64) = (27.0, 134.0);

/// The gas generator of an engine.
#[derive(Clone, Debug)]
pub struct Core {
    air_k: f64,
    drag: f64,
    /// The share of its temperature that the gas gives to the turbine: at 100 %, and how early it levels off.
    share: f64,
    early: f64,
}

/// What the gas does at one moment.
#[derive(Clone, Copy, Debug)]
pub struct Gas {
    /// Air, kg/s.
    pub air_kg_s: f64,
    /// What the turbine turns the spool with, N m.
    pub torque_n_m: f64,
    /// Behind that turbine, where the thermocouples are, kelvin.
    pub behind_k: f64,
}

impl Core {
    /// The engine that balances at idle and full speed as the settings say.
    #[must_use]
    pub fn new(settings: &EngineSettings) -> Self {
        let idle = settings.idle_n1_pct / 100.0;
        let mut core = Self { air_k: settings.air_c + KELVIN, drag: 1.0, share: 0.0, early: 0.0 };
        let share = |n: f64, behind_c: f64| {
            let taken_k = core.load_n_m(n) * n * SPOOL_RAD_S / (air_kg_s(n) * GAS_J_KG_K);
            taken_k / (behind_c + KELVIN + taken_k)
        };
        let (at_idle, at_full) = (share(idle, settings.idle_egt_c), share(1.0, settings.full_egt_c));
        // n^2 (1 + early) / (1 + early n^2) is 1 at full speed and this at idle.
        let (n2, ratio) = (idle * idle, at_idle / at_full);
        core.early = ((ratio - n2) / (n2 * (1.0 - ratio)).max(1e-3)).max(0.0);
        core.share = at_full;
        core.drag = settings.drag;
        core
    }

    /// Compressor and drag, N m.
    #[must_use]
    pub fn load_n_m(&self, n: f64) -> f64 {
        self.compressor_n_m(n) + self.drag_n_m(n)
    }

    /// Power of the compressor over its speed, N m.
    #[must_use]
    pub fn compressor_n_m(&self, n: f64) -> f64 {
        // Air x specific heat x rise / speed, with one n cancelled so that a standstill is no division by zero.
        let air_by_n = AIR_KG_S * (AIR_EVEN + (1.0 - AIR_EVEN) * n);
        air_by_n * AIR_J_KG_K * COMPRESSOR_K * n * n / SPOOL_RAD_S
    }

    /// Drag, N m.
    #[must_use]
    pub fn drag_n_m(&self, n: f64) -> f64 {
        self.drag * (DRAG_N_M.0 + DRAG_N_M.1 * n)
    }

    /// What burning so much fuel each second makes of the gas at a speed.
    #[must_use]
    pub fn gas(&self, n: f64, burnt_kg_s: f64) -> Gas {
        let air_kg_s = air_kg_s(n);
        let heat_w = burnt_kg_s.min(STOICHIOMETRIC * air_kg_s) * HEAT_J_KG;
        let ahead_k = self.compressed_k(n) + heat_w / (air_kg_s * GAS_J_KG_K).max(1.0);
        let share = self.share(n);
        let torque_n_m = air_kg_s * GAS_J_KG_K * ahead_k * share / (n * SPOOL_RAD_S).max(1.0);
        Gas { air_kg_s, torque_n_m, behind_k: ahead_k * (1.0 - share) }
    }

    /// The fuel with which the turbine gives a torque at a speed, kg/s: the inverse of [`Self::gas`].
    #[must_use]
    pub fn fuel_for(&self, n: f64, torque_n_m: f64) -> f64 {
        let through = air_kg_s(n) * GAS_J_KG_K;
        let ahead_k = torque_n_m * n * SPOOL_RAD_S / (through * self.share(n)).max(1e-3);
        (ahead_k - self.compressed_k(n)) * through / HEAT_J_KG
    }

    fn compressed_k(&self, n: f64) -> f64 {
        self.air_k + COMPRESSOR_K * n * n
    }

    fn share(&self, n: f64) -> f64 {
        self.share * n * n * (1.0 + self.early) / (1.0 + self.early * n * n)
    }
}

/// Air through the engine at a speed, kg/s.
#[must_use]
pub fn air_kg_s(n: f64) -> f64 {
    AIR_KG_S * n * (AIR_EVEN + (1.0 - AIR_EVEN) * n)
}
