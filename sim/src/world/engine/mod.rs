//! The turbine, from physics: a gas generator that fuel, air and a starter turn, a free power turbine on the propeller,
//! and a hand at the switches.
//!
//! Fixed steps, no platform functions, so equal settings give equal bits. `generator` balances the gas generator, `starter`
//! and `fuel` drive it, `heat` is what the thermocouple feels, `shaft` is the propeller's side, `hand` follows the
//! dock's procedure. The throttle goes in step by step; speeds in percent and the junction's temperature come out.
//!
//! What it is not stands in `docs/engine-model.md`. It knows the maths only; sensors are in `probe` and `pickup`.

mod fuel;
mod generator;
mod hand;
mod heat;
mod settings;
mod shaft;
mod starter;
#[cfg(test)]
mod tests;

use firmware::input::Line;

pub use self::hand::Switches;
pub use self::settings::{DockSettings, EngineSettings};

use self::fuel::{Feed, Fire};
use self::generator::{Core, SPOOL_KG_M2, SPOOL_RAD_S};
use self::hand::{Gauges, Hand};
use self::heat::HotEnd;
use self::shaft::Shaft;
use self::starter::Starter;
use super::maths::exp;

/// What the engine does at a moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct EngineState {
    /// Temperature at the thermocouple's junction, degrees Celsius.
    pub egt_c: f64,
    /// Gas generator speed.
    pub n1_pct: f64,
    /// Power shaft speed.
    pub n2_pct: f64,
}

/// The torques on the spool at a step, N m.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Torques {
    /// Of the starter.
    pub starter: f64,
    /// Of the gas on its turbine.
    pub turbine: f64,
    /// Of compressor and drag, against both.
    pub load: f64,
}

/// A running model of the engine at a fixed step.
#[derive(Clone, Debug)]
pub struct Engine {
    core: Core,
    starter: Starter,
    fire: Fire,
    hot_end: HotEnd,
    shaft: Shaft,
    hand: Hand,
    dt: f64,
    /// The spool's inertia, kg m2.
    inertia: f64,
    /// What the governor lets the spool close of its gap in one step.
    spool: f64,
    /// Idle, and the gas generator's speed, as shares of 100 %.
    idle: f64,
    n: f64,
    torques: Torques,
    ran: bool,
    state: EngineState,
}

/// An engine that follows its throttle faster than this has a lighter spool in proportion: no fuel schedule would let
/// a heavy one do it, s.
const USUAL_LAG_S: f64 = 1.2;

/// After so many steps the power shaft turns as gas and water have it.
const SETTLES: usize = 2_000;
/// N1 so near to idle counts as running.
const NEAR: f64 = 0.01;

impl Engine {
    /// A cold engine and its hand, to be stepped every `dt` seconds.
    #[must_use]
    pub fn new(settings: &EngineSettings, dock: &DockSettings, dt: f64) -> Self {
        Self {
            core: Core::new(settings),
            starter: Starter::new(settings),
            fire: Fire::new(settings),
            hot_end: HotEnd::new(settings, dt),
            shaft: Shaft::new(settings),
            hand: Hand::new(dock, settings.starter_at_s, settings.idle_n1_pct),
            dt,
            inertia: SPOOL_KG_M2 * (settings.spool_lag_s / USUAL_LAG_S).clamp(0.01, 1.0),
            spool: 1.0 - exp(-dt / settings.spool_lag_s.max(1e-3)),
            idle: settings.idle_n1_pct / 100.0,
            n: 0.0,
            torques: Torques::default(),
            ran: false,
            state: EngineState { egt_c: settings.air_c, n1_pct: 0.0, n2_pct: 0.0 },
        }
    }

    /// An engine that idles already, or pulls with a `power` of 0 to 1 as it has for a while, with the boat at a speed.
    #[must_use]
    pub fn running(settings: &EngineSettings, dt: f64, power: f64, speed_m_s: f64) -> Self {
        let mut engine = Self::new(settings, &DockSettings::default(), dt);
        engine.n = engine.idle + (1.0 - engine.idle) * power.clamp(0.0, 1.0);
        engine.ran = true;
        engine.fire = Fire::burning(settings);
        let gas = engine.core.gas(engine.n, engine.core.fuel_for(engine.n, engine.core.load_n_m(engine.n)));
        engine.hot_end.settle(gas.behind_k);
        for _ in 0..SETTLES {
            engine.shaft.step(f64::NEG_INFINITY, dt, gas, engine.n, speed_m_s);
        }
        engine.tell();
        engine
    }

    /// What it does now.
    #[must_use]
    pub const fn state(&self) -> EngineState {
        self.state
    }

    /// The torques of the last step.
    #[must_use]
    pub const fn torques(&self) -> Torques {
        self.torques
    }

    /// True while it burns.
    #[must_use]
    pub const fn is_lit(&self) -> bool {
        self.fire.is_lit()
    }

    /// True once it idles by itself, the dock's power is away, and it answers the throttle.
    #[must_use]
    pub fn runs(&self) -> bool {
        self.ran && self.fire.is_lit() && self.hand.is_away()
    }

    /// True once it idles by itself, whatever still hangs on it.
    #[must_use]
    pub const fn sustains(&self) -> bool {
        self.ran && self.fire.is_lit()
    }

    /// True when the propeller is gone.
    #[must_use]
    pub const fn is_unloaded(&self) -> bool {
        self.shaft.lost
    }

    /// Every switch that was moved: race time, line, on or off.
    #[must_use]
    pub fn moves(&self) -> &[(f64, Line, bool)] {
        self.hand.moves()
    }

    /// Gas generator speed between idle (0) and 100 % (1) that drives the boat: none without fire or propeller.
    #[must_use]
    pub fn power(&self) -> f64 {
        if !self.fire.is_lit() || self.shaft.lost {
            return 0.0;
        }
        ((self.n - self.idle) / (1.0 - self.idle).max(0.01)).clamp(0.0, 1.0)
    }

    /// One step: race time in seconds, throttle 0 to 1, and the boat's speed at the propeller.
    pub fn step(&mut self, t: f64, throttle: f64, speed_m_s: f64) {
        self.hand.look(t, Gauges { egt_c: self.state.egt_c, n1_pct: self.state.n1_pct });
        self.worked(t, self.hand.switches(), throttle, speed_m_s);
    }

    /// One step with somebody else's hand at the switches.
    pub fn worked(&mut self, t: f64, switches: Switches, throttle: f64, speed_m_s: f64) {
        let load =
            if self.n > 0.0 || switches.low || switches.high { self.core.load_n_m(self.n) } else { 0.0 };
        let feed = Feed {
            n: (self.n, self.shaft.n),
            open: switches.open,
            start: switches.start_fuel,
            spark: switches.igniter,
            asked_kg_s: self.governor(throttle.clamp(0.0, 1.0), load),
        };
        let burnt = self.fire.step(t, self.dt, feed);
        let gas = self.core.gas(self.n, burnt);
        let batteries = f64::from(u8::from(switches.low)) + 2.0 * f64::from(u8::from(switches.high));
        let starter = if batteries > 0.0 { self.starter.torque_n_m(self.n, batteries) } else { 0.0 };
        self.torques = Torques { starter, turbine: gas.torque_n_m, load };
        self.shaft.step(t, self.dt, gas, self.n, speed_m_s);
        self.hot_end.step(self.dt, gas.behind_k, gas.air_kg_s);
        let surplus = starter + gas.torque_n_m - load;
        self.n = (self.n + self.dt * surplus / (self.inertia * SPOOL_RAD_S)).max(0.0);
        self.ran = self.ran || (self.fire.is_lit() && self.n >= self.idle - NEAR);
        self.tell();
    }

    fn tell(&mut self) {
        self.state = EngineState {
            egt_c: self.hot_end.junction_c,
            n1_pct: self.n * 100.0,
            n2_pct: self.shaft.n * 100.0,
        };
    }

    /// The fuel that would close the gap between wanted and true speed with the settings' time constant, kg/s: load
    /// and inertia are known to a governor by its schedule.
    fn governor(&self, throttle: f64, load_n_m: f64) -> f64 {
        let wanted = self.idle + (1.0 - self.idle) * throttle;
        let per_s = self.spool * (wanted - self.n) / self.dt;
        self.core.fuel_for(self.n, load_n_m + self.inertia * SPOOL_RAD_S * per_s)
    }
}
