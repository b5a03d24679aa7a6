//! The turbine: a start at the dock, a gas generator that lags behind the throttle, exhaust gas temperature
//! from fuel and shaft speed, and a power shaft tied to the propeller.
//!
//! A start goes as the maintenance handbooks describe it: rotate, light off, watch the temperature, starter
//! off, idle. The figures are invented; running near 750 degrees Celsius is common practice, no source.
//! The throttle goes in step by step; speeds in percent and the temperature at the thermocouple come out.
//!
//! This room knows the maths only. What the sensors make of it is in `probe` and `pickup`.

use serde::Deserialize;

use super::maths::exp;

/// The engine's figures.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct EngineSettings {
    /// When the starter is pressed, race time.
    pub starter_at_s: f64,
    /// The highest temperature of the start; 700 to 780 is a good one, far above is a hot start.
    pub start_peak_c: f64,
    /// The shaft speed at which fuel lights.
    pub light_off_n1_pct: f64,
    /// Where a hung start stays; none for an engine that starts.
    pub hangs_at_n1_pct: Option<f64>,
    /// Gas generator speed at idle.
    pub idle_n1_pct: f64,
    /// Time constant of the gas generator behind the throttle.
    pub spool_lag_s: f64,
    /// Temperature at idle.
    pub idle_egt_c: f64,
    /// Temperature flat out.
    pub full_egt_c: f64,
    /// What a slammed throttle adds until the gas generator has caught up, or takes away on lifting.
    pub slam_egt_c: f64,
    /// Time constant of the thermocouple in the gas.
    pub probe_lag_s: f64,
    /// Boat speed plus slip at 100 % N2.
    pub full_n2_m_s: f64,
    /// How much faster the propeller turns than the boat runs, at full power.
    pub slip_m_s: f64,
    /// Temperature of a cold engine.
    pub air_c: f64,
}

impl Default for EngineSettings {
    fn default() -> Self {
        Self {
            starter_at_s: -340.0,
            start_peak_c: 740.0,
            light_off_n1_pct: 15.0,
            hangs_at_n1_pct: None,
            idle_n1_pct: 62.0,
            spool_lag_s: 1.2,
            idle_egt_c: 560.0,
            full_egt_c: 755.0,
            slam_egt_c: 40.0,
            probe_lag_s: 0.8,
            full_n2_m_s: 102.0,
            slip_m_s: 10.0,
            air_c: 22.0,
        }
    }
}

/// Where the engine is in its life.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stage {
    Cold,
    Cranking,
    LitOff,
    Running,
}

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

/// A running model of the engine at a fixed step.
#[derive(Clone, Debug)]
pub struct Engine {
    settings: EngineSettings,
    /// What a first-order lag closes of its gap in one step: spool, gas, probe, starter, power shaft.
    spool: f64,
    gas: f64,
    probe: f64,
    starter: f64,
    shaft: f64,
    run_up_pct: f64,
    per_power: f64,
    n2_pct_per_m_s: f64,
    stage: Stage,
    gas_c: f64,
    state: EngineState,
}

/// Speed at which the starter alone would end, and its time constant (from memory).
const STARTER_N1_PCT: f64 = 22.0;
const STARTER_LAG_S: f64 = 6.0;
/// Run-up from light-off to idle (from memory).
const RUN_UP_PCT_PER_S: f64 = 3.0;
/// The gas itself follows fuel within half a second, and the power shaft its propeller.
const GAS_LAG_S: f64 = 0.5;
const SHAFT_LAG_S: f64 = 0.3;

impl Engine {
    /// A cold engine, to be stepped every `dt` seconds.
    #[must_use]
    pub fn new(settings: &EngineSettings, dt: f64) -> Self {
        let share = |lag_s: f64| 1.0 - exp(-dt / lag_s.max(1e-3));
        Self {
            spool: share(settings.spool_lag_s),
            gas: share(GAS_LAG_S),
            probe: share(settings.probe_lag_s),
            starter: share(STARTER_LAG_S),
            shaft: share(SHAFT_LAG_S),
            run_up_pct: RUN_UP_PCT_PER_S * dt,
            per_power: 1.0 / (100.0 - settings.idle_n1_pct).max(1.0),
            n2_pct_per_m_s: 100.0 / settings.full_n2_m_s.max(1.0),
            stage: Stage::Cold,
            gas_c: settings.air_c,
            state: EngineState { egt_c: settings.air_c, n1_pct: 0.0, n2_pct: 0.0 },
            settings: settings.clone(),
        }
    }

    /// An engine that idles already, or pulls with a `power` of 0 to 1 as it has for a while.
    #[must_use]
    pub fn running(settings: &EngineSettings, dt: f64, power: f64) -> Self {
        let mut engine = Self::new(settings, dt);
        let power = power.clamp(0.0, 1.0);
        engine.stage = Stage::Running;
        engine.gas_c = settings.idle_egt_c + (settings.full_egt_c - settings.idle_egt_c) * power;
        engine.state.egt_c = engine.gas_c;
        engine.state.n1_pct = settings.idle_n1_pct + (100.0 - settings.idle_n1_pct) * power;
        engine
    }

    /// The starter is pressed at this race time; a later press of a starter that turns already changes nothing.
    pub fn press_starter(&mut self, t: f64) {
        if self.stage == Stage::Cold {
            self.settings.starter_at_s = t;
        }
    }

    /// What it does now.
    #[must_use]
    pub const fn state(&self) -> EngineState {
        self.state
    }

    /// True once it idles by itself and answers the throttle.
    #[must_use]
    pub fn runs(&self) -> bool {
        self.stage == Stage::Running
    }

    /// Gas generator speed between idle (0) and 100 % (1).
    #[must_use]
    pub fn power(&self) -> f64 {
        ((self.state.n1_pct - self.settings.idle_n1_pct) * self.per_power).clamp(0.0, 1.0)
    }

    /// One step: race time in seconds, throttle 0 to 1, and the boat's speed at the propeller.
    pub fn step(&mut self, t: f64, throttle: f64, speed_m_s: f64) {
        let fuel = match self.stage {
            Stage::Running => self.run(throttle.clamp(0.0, 1.0)),
            _ => self.start(t),
        };
        self.gas_c += self.gas * (fuel - self.gas_c);
        self.state.egt_c += self.probe * (self.gas_c - self.state.egt_c);
        let turns = self.n2_pct_per_m_s * (speed_m_s + self.settings.slip_m_s * self.power());
        self.state.n2_pct += self.shaft * (turns - self.state.n2_pct);
    }

    /// The running engine; returns the temperature that the gas goes to.
    fn run(&mut self, throttle: f64) -> f64 {
        let s = &self.settings;
        let power = self.power();
        let wanted = s.idle_n1_pct + (100.0 - s.idle_n1_pct) * throttle;
        self.state.n1_pct += self.spool * (wanted - self.state.n1_pct);
        s.idle_egt_c + (s.full_egt_c - s.idle_egt_c) * power + s.slam_egt_c * (throttle - power)
    }

    /// The engine on its way from cold to idle; returns the temperature that the gas goes to.
    fn start(&mut self, t: f64) -> f64 {
        let s = &self.settings;
        let n1 = &mut self.state.n1_pct;
        match self.stage {
            Stage::Cold if t >= s.starter_at_s => self.stage = Stage::Cranking,
            Stage::Cranking => {
                *n1 += self.starter * (STARTER_N1_PCT - *n1);
                if *n1 >= s.light_off_n1_pct {
                    self.stage = Stage::LitOff;
                }
            }
            Stage::LitOff => {
                let ceiling = s.hangs_at_n1_pct.unwrap_or(s.idle_n1_pct).min(s.idle_n1_pct);
                *n1 = (*n1 + self.run_up_pct).min(ceiling);
                if *n1 >= s.idle_n1_pct {
                    self.stage = Stage::Running;
                }
                // Rich until the airflow has grown: full heat to two thirds of idle speed, then down to idle's.
                let grown = ((*n1 / s.idle_n1_pct - 0.67) / 0.33).clamp(0.0, 1.0);
                return s.start_peak_c + (s.idle_egt_c - s.start_peak_c) * grown;
            }
            _ => {}
        }
        s.air_c
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn start(settings: &EngineSettings, seconds: f64) -> (Engine, f64) {
        let mut engine = Engine::new(settings, 0.01);
        let mut peak = 0.0_f64;
        for k in 0..(seconds * 100.0) as i32 {
            engine.step(settings.starter_at_s + f64::from(k) * 0.01, 0.0, 0.0);
            peak = peak.max(engine.state().egt_c);
        }
        (engine, peak)
    }

    /// A good start peaks between 700 and 780 degrees and idles within a minute (common practice, no source).
    #[test]
    fn a_good_start_peaks_at_its_figure_and_settles_at_idle() {
        let settings = EngineSettings::default();
        let (engine, peak) = start(&settings, 40.0);
        assert!((700.0..=780.0).contains(&peak), "{peak}");
        assert!(engine.runs());
        assert!((engine.state().n1_pct - settings.idle_n1_pct).abs() < 0.1);
        assert!((engine.state().egt_c - settings.idle_egt_c).abs() < 1.0);
    }

    #[test]
    fn a_hung_start_stays_hot_and_slow_and_never_runs() {
        let settings = EngineSettings { hangs_at_n1_pct: Some(38.0), ..EngineSettings::default() };
        let (engine, _) = start(&settings, 60.0);
        assert!(!engine.runs());
        assert!((engine.state().n1_pct - 38.0).abs() < 1e-9);
        assert!(engine.state().egt_c > 700.0);
    }

    /// A first-order lag of 1.2 s has closed 1 - 1/e of the way after 1.2 s, by definition.
    #[test]
    fn the_gas_generator_lags_by_its_time_constant() {
        let (mut engine, _) = start(&EngineSettings::default(), 60.0);
        for _ in 0..120 {
            engine.step(0.0, 1.0, 0.0);
        }
        assert!((engine.power() - (1.0 - (-1.0_f64).exp())).abs() < 1e-3, "{}", engine.power());
    }
}
