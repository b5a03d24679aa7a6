//! Fuel and fire: how much flows, when it lights, what burns.
//!
//! Start fuel is a fixed flow that the hand switches. Main fuel is metered once the shut-off is open: by a governor
//! that asks for the torque which closes the gap to the wanted speed with the settings' time constant, held between a
//! schedule against surge and overheating and a floor against blowing out. What flows without burning wets the burner
//! and burns off when the fire comes: the hot start of somebody who let fuel in too soon.
//!
//! Knows the gas generator's figures. Speed, switches and the wanted torque in, burnt fuel out.

use super::generator::air_kg_s;
use super::settings::EngineSettings;

/// Start fuel, kg/s (invented, so that a good start peaks between 700 and 780 degrees: common practice, no source).
const START_KG_S: f64 = 0.015_8;
/// The most main fuel for the air, by n (invented: about 640 degrees where the engine begins to sustain itself, 800
/// from idle on).
const MOST: [(f64, f64); 9] = [
    (0.0, 0.006),
    (0.15, 0.008_5),
    (0.25, 0.011_2),
    (0.35, 0.013_3),
    (0.48, 0.015_2),
    (0.55, 0.017_5),
    (0.62, 0.022_5),
    (0.80, 0.023_5),
    (1.20, 0.023_5),
];
/// The least main fuel for the air: below it the fire would go out (invented).
const LEAST: f64 = 0.004;
/// Of the fuel that does not burn this share stays in the burner; the rest drains or leaves as mist (invented).
const STAYS: f64 = 0.6;
/// The wet burner drains with this time constant, and burns off with that, s (invented).
const DRAINS_S: f64 = 8.0;
/// See above.
const BURNS_OFF_S: f64 = 2.0;
/// Less fuel than this in the burner feeds no fire, kg (invented).
const DRY_KG: f64 = 0.001;
/// A spool slower than this feeds no fire (invented).
const STILL: f64 = 0.03;
/// A governor on the power shaft takes fuel away from the first speed on, all of it at the second (common practice,
/// no source).
const TOPPING: (f64, f64) = (1.08, 1.12);

/// What bears on the fuel at a moment.
#[derive(Clone, Copy, Debug)]
pub struct Feed {
    /// Both shafts, as shares of 100 %.
    pub n: (f64, f64),
    /// The shut-off is open; the start fuel's switch is on; the igniters are.
    pub open: bool,
    /// See above.
    pub start: bool,
    /// See above.
    pub spark: bool,
    /// What the governor asks for, kg/s.
    pub asked_kg_s: f64,
}

/// The fuel system and the fire.
#[derive(Clone, Debug)]
pub struct Fire {
    least_n: f64,
    delay_s: f64,
    start_fuel: f64,
    sparks: bool,
    flame_out_at_s: Option<f64>,
    over_fuel: (Option<f64>, f64),
    /// The flow at which the valve sticks.
    stuck_kg_s: Option<f64>,
    /// Fuel in the burner that has not burnt, kg.
    wet_kg: f64,
    /// What comes out of the start nozzles, kg/s, and the time constant of that.
    start_kg_s: f64,
    manifold_s: f64,
    /// Two lags in a row from no flame to all fuel in flames, and their time constant.
    burns: (f64, f64),
    spread_s: f64,
    together_s: f64,
    lit: bool,
}

impl Fire {
    /// No fire yet.
    #[must_use]
    pub fn new(settings: &EngineSettings) -> Self {
        Self {
            least_n: settings.light_off_n1_pct / 100.0,
            delay_s: settings.light_delay_s,
            start_fuel: settings.start_fuel,
            sparks: settings.sparks,
            flame_out_at_s: settings.flame_out_at_s,
            over_fuel: (settings.over_fuel_at_s, settings.over_fuel),
            stuck_kg_s: None,
            wet_kg: settings.residual_fuel_g * 1e-3,
            start_kg_s: 0.0,
            manifold_s: settings.manifold_s,
            burns: (0.0, 0.0),
            spread_s: settings.spread_s,
            together_s: 0.0,
            lit: false,
        }
    }

    /// A fire that has burnt for a while: nothing is left of an earlier attempt.
    #[must_use]
    pub fn burning(settings: &EngineSettings) -> Self {
        Self { lit: true, wet_kg: 0.0, burns: (1.0, 1.0), ..Self::new(settings) }
    }

    /// True while it burns.
    #[must_use]
    pub const fn is_lit(&self) -> bool {
        self.lit
    }

    /// One step of time; returns what burns, kg/s.
    pub fn step(&mut self, t: f64, dt: f64, feed: Feed) -> f64 {
        let asked = if feed.start { START_KG_S * self.start_fuel } else { 0.0 };
        self.start_kg_s += (asked - self.start_kg_s) * dt / (self.manifold_s + dt);
        let flow = self.main_kg_s(t, feed) + if feed.start { self.start_kg_s } else { 0.0 };
        self.light(t, dt, feed, flow);
        let share = self.spread(dt);
        let (off, drains) = (share * self.wet_kg / BURNS_OFF_S, (1.0 - share) * self.wet_kg / DRAINS_S);
        self.wet_kg += (STAYS * (1.0 - share) * flow - off - drains) * dt;
        share * flow + off
    }

    /// The share of the fuel that burns: from the first flame at an igniter to all of it.
    fn spread(&mut self, dt: f64) -> f64 {
        if !self.lit {
            self.burns = (0.0, 0.0);
            return 0.0;
        }
        let part = dt / (self.spread_s + dt);
        self.burns.0 += part * (1.0 - self.burns.0);
        self.burns.1 += part * (self.burns.0 - self.burns.1);
        self.burns.1
    }

    /// What flows past the lever, kg/s.
    fn main_kg_s(&mut self, t: f64, feed: Feed) -> f64 {
        if !feed.open {
            self.stuck_kg_s = None;
            return 0.0;
        }
        let air = air_kg_s(feed.n.0);
        let most = most(feed.n.0) * air * if feed.start { self.start_fuel } else { 1.0 };
        let topped = ((TOPPING.1 - feed.n.1) / (TOPPING.1 - TOPPING.0)).clamp(0.0, 1.0);
        let mut main = (feed.asked_kg_s.min(most) * topped).max(LEAST * air);
        if let (Some(at), share) = self.over_fuel
            && t >= at
        {
            main = *self.stuck_kg_s.get_or_insert(main * (1.0 + share));
        }
        main
    }

    /// Does it light, does it go out?
    fn light(&mut self, t: f64, dt: f64, feed: Feed, flow: f64) {
        if self.flame_out_at_s.take_if(|at| t >= *at).is_some() {
            (self.lit, self.together_s) = (false, 0.0);
            return;
        }
        let n = feed.n.0;
        if self.lit {
            self.lit = (flow > 0.0 || self.wet_kg > DRY_KG) && n > STILL;
            return;
        }
        let together = feed.spark && self.sparks && n >= self.least_n && (flow > 0.0 || self.wet_kg > DRY_KG);
        self.together_s = if together { self.together_s + dt } else { 0.0 };
        self.lit = together && self.together_s >= self.delay_s;
    }
}

/// The schedule at a speed, straight between its points.
fn most(n: f64) -> f64 {
    let mut last = MOST[0];
    for point in MOST {
        if n <= point.0 {
            let span = (point.0 - last.0).max(1e-9);
            return last.1 + (point.1 - last.1) * (n - last.0) / span;
        }
        last = point;
    }
    last.1
}
