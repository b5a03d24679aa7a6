//! What can be said about the engine and about the hand at its switches.

use serde::Deserialize;

/// The engine's figures. All are invented unless a source is named.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct EngineSettings {
    /// When the start begins, race time: the hand turns igniters and starter on.
    pub starter_at_s: f64,
    /// The least shaft speed at which fuel lights; 12 to 15 % is where handbooks let fuel in.
    pub light_off_n1_pct: f64,
    /// How long spark and fuel must be together before it lights.
    pub light_delay_s: f64,
    /// How far that differs from start to start: one standard deviation.
    pub light_delay_sd_s: f64,
    /// Time constant of the gas at the probe behind the fire: how the flame spreads and mixes.
    pub fire_lag_s: f64,
    /// Gas generator speed at idle.
    pub idle_n1_pct: f64,
    /// Time constant of the gas generator behind the throttle, as its governor holds it.
    pub spool_lag_s: f64,
    /// Temperature at idle.
    pub idle_egt_c: f64,
    /// Temperature flat out.
    pub full_egt_c: f64,
    /// Time constant of the thermocouple in the gas.
    pub probe_lag_s: f64,
    /// Boat speed plus slip at 100 % N2.
    pub full_n2_m_s: f64,
    /// How much faster the propeller turns than the boat runs, at full power.
    pub slip_m_s: f64,
    /// Temperature of the air and of a cold engine.
    pub air_c: f64,
    /// Volts of one battery without load; the higher voltage is two in series.
    pub battery_v: f64,
    /// Resistance of one battery and its cable.
    pub battery_mohm: f64,
    /// Drag of bearings, oil and accessories against that of a warm, sound engine.
    pub drag: f64,
    /// Fuel during the start against what the maker's setting would give.
    pub start_fuel: f64,
    /// Fuel that an earlier attempt left in the burner.
    pub residual_fuel_g: f64,
    /// Whether the igniters spark when they are switched on.
    pub sparks: bool,
    /// When the fire goes out, race time.
    pub flame_out_at_s: Option<f64>,
    /// When the fuel valve sticks, race time.
    pub over_fuel_at_s: Option<f64>,
    /// How much too far open it sticks, as a share of the fuel at that moment.
    pub over_fuel: f64,
    /// When the propeller is lost, race time.
    pub propeller_lost_at_s: Option<f64>,
}

impl Default for EngineSettings {
    fn default() -> Self {
        Self {
            starter_at_s: -340.0,
            light_off_n1_pct: 12.0,
            light_delay_s: 0.9,
            light_delay_sd_s: 0.2,
            fire_lag_s: 0.4,
            idle_n1_pct: 62.0,
            spool_lag_s: 1.2,
            idle_egt_c: 560.0,
            full_egt_c: 755.0,
            probe_lag_s: 0.8,
            full_n2_m_s: 102.0,
            slip_m_s: 10.0,
            air_c: 22.0,
            battery_v: 24.0,
            battery_mohm: 1.5,
            drag: 1.0,
            start_fuel: 1.0,
            residual_fuel_g: 0.0,
            sparks: true,
            flame_out_at_s: None,
            over_fuel_at_s: None,
            over_fuel: 0.1,
            propeller_lost_at_s: None,
        }
    }
}

/// The hand at the dock: how it follows the procedure, and where it departs from it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct DockSettings {
    /// Whether the board's inputs for the switches are wired.
    pub switches: bool,
    /// From what the hand sees to the switch.
    pub reaction_s: f64,
    /// When the igniters go on, after the starter.
    pub igniter_after_s: f64,
    /// The N1 at which start fuel goes on.
    pub fuel_at_n1_pct: f64,
    /// Start fuel goes on so long after the start's beginning instead, whatever turns.
    pub fuel_after_s: Option<f64>,
    /// The EGT at which the starter goes to its higher voltage.
    pub starter_high_at_c: f64,
    /// The N1 at which starter, igniters and start fuel go off.
    pub starter_off_at_n1_pct: f64,
    /// The starter goes off so long after the start's beginning instead.
    pub starter_off_after_s: Option<f64>,
    /// Without light-off the hand waits so long after fuel and then cuts it.
    pub light_wait_s: f64,
    /// The EGT at which the hand cuts the fuel.
    pub abort_at_c: f64,
    /// An engine that does not sustain itself so long after light-off is cut.
    pub gives_up_s: f64,
    /// The fuel is cut so long after the start's beginning, whatever happens: somebody called it off.
    pub abort_after_s: Option<f64>,
    /// After a cut the starter turns until EGT is below this.
    pub cooled_below_c: f64,
    /// But no longer than this.
    pub crank_most_s: f64,
}

impl Default for DockSettings {
    fn default() -> Self {
        Self {
            switches: false,
            reaction_s: 0.6,
            igniter_after_s: 0.0,
            fuel_at_n1_pct: 13.0,
            fuel_after_s: None,
            starter_high_at_c: 200.0,
            starter_off_at_n1_pct: 48.0,
            starter_off_after_s: None,
            light_wait_s: 10.0,
            abort_at_c: 850.0,
            gives_up_s: 40.0,
            abort_after_s: None,
            cooled_below_c: 150.0,
            crank_most_s: 60.0,
        }
    }
}
