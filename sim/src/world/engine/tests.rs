//! The engine against mechanics, heat and what handbooks say of starts.

use super::generator::air_kg_s;
use super::shaft::{FULL_N_M, SHAFT_RAD_S, TURBINE_KG_M2, WINDAGE_N_M};
use super::*;

const DT: f64 = 0.01;
/// Where no dock abort may disturb.
const NOBODY: f64 = 3_000.0;

fn settings() -> EngineSettings {
    EngineSettings { starter_at_s: 0.0, ..EngineSettings::default() }
}

/// A start followed to `seconds`, every state with it.
fn start(engine: &EngineSettings, dock: &DockSettings, seconds: f64) -> (Engine, Vec<EngineState>) {
    let mut engine = Engine::new(engine, dock, DT);
    let states = (0..(seconds / DT) as i32).map(|k| {
        engine.step(f64::from(k) * DT, 0.0, 0.0);
        engine.state()
    });
    let states = states.collect();
    (engine, states)
}

fn peak_c(states: &[EngineState]) -> f64 {
    states.iter().map(|state| state.egt_c).fold(f64::NEG_INFINITY, f64::max)
}

fn peak_of(engine: EngineSettings) -> f64 {
    peak_c(&start(&engine, &DockSettings { abort_at_c: NOBODY, ..DockSettings::default() }, 60.0).1)
}

/// The engine at idle, two minutes after its start.
fn idling(settings: &EngineSettings) -> Engine {
    start(settings, &DockSettings::default(), 120.0).0
}

/// "Normal start peak below 800 with a cold engine" (insert of a light turbine helicopter's handbook); 700 to 780
/// degrees, about forty seconds and idle near 62 % are common practice, no source.
#[test]
fn a_good_start_lights_off_peaks_and_idles_as_the_trade_expects() {
    let (engine, states) = start(&settings(), &DockSettings::default(), 45.0);
    let lit = states.iter().find(|state| state.egt_c > 60.0).map_or(0.0, |state| state.n1_pct);
    assert!((12.0..=18.0).contains(&lit), "{lit}");
    assert!((700.0..=780.0).contains(&peak_c(&states)), "{}", peak_c(&states));
    let when = |holds: &dyn Fn(&EngineState) -> bool| {
        states.iter().position(holds).map_or(NOBODY, |k| k as f64 * DT)
    };
    let (warm, top) = (when(&|state| state.egt_c > 42.0), when(&|state| state.egt_c >= peak_c(&states)));
    assert!((2.5..=7.0).contains(&(top - warm)), "some seconds from warmth to peak: {}", top - warm);
    let sustains = when(&|state| state.n1_pct >= 45.0);
    assert!((15.0..=40.0).contains(&sustains), "{sustains}");
    assert!(engine.runs());
    assert!((engine.state().n1_pct - 62.0).abs() < 0.1);
    let moves: Vec<Line> = engine.moves().iter().map(|(_, line, _)| *line).collect();
    use Line::{ExternalPower, Igniter, StartFuel, StarterHigh, StarterLow};
    let due = [
        ExternalPower,
        Igniter,
        StarterLow,
        StartFuel,
        StarterLow,
        StarterHigh,
        Igniter,
        StarterHigh,
        StartFuel,
        ExternalPower,
    ];
    assert_eq!(moves, due);
}

/// Work of all torques is what the spool's kinetic energy has grown by (conservation of energy).
#[test]
fn the_work_of_the_torques_is_the_kinetic_energy_of_the_spool() {
    let mut engine = Engine::new(&settings(), &DockSettings::default(), DT);
    let mut work = 0.0;
    for k in 0..4_000 {
        let before = engine.n;
        engine.step(f64::from(k) * DT, 0.0, 0.0);
        let sum = engine.torques.starter + engine.torques.turbine - engine.torques.load;
        work += sum * 0.5 * (before + engine.n) * SPOOL_RAD_S * DT;
    }
    let energy = 0.5 * SPOOL_KG_M2 * (engine.n * SPOOL_RAD_S) * (engine.n * SPOOL_RAD_S);
    assert!((work / energy - 1.0).abs() < 1e-6, "{work} J of work, {energy} J of energy");
}

/// Balanced by construction, so it must settle there: at idle and flat out within the metal's last few degrees.
#[test]
fn idle_and_full_speed_settle_at_the_temperatures_of_the_settings() {
    let mut engine = idling(&settings());
    assert!((engine.state().egt_c - 560.0).abs() < 2.0, "{}", engine.state().egt_c);
    for k in 0..12_000 {
        engine.step(120.0 + f64::from(k) * DT, 1.0, 92.0);
    }
    assert!((engine.state().egt_c - 755.0).abs() < 2.0, "{}", engine.state().egt_c);
    assert!((engine.state().n1_pct - 100.0).abs() < 0.01);
    assert!((engine.state().n2_pct - 100.0).abs() < 0.1, "{}", engine.state().n2_pct);
}

/// A first-order lag of 1.2 s has closed 1 - 1/e of the way after 1.2 s, by definition. From 90 % no schedule is in
/// the governor's way.
#[test]
fn the_gas_generator_lags_by_its_time_constant_while_no_schedule_holds_it() {
    let mut engine = idling(&settings());
    let mut t = 120.0;
    let mut run = |engine: &mut Engine, seconds: f64, throttle: f64| {
        for _ in 0..(seconds / DT + 0.5) as i32 {
            engine.step(t, throttle, 60.0);
            t += DT;
        }
    };
    run(&mut engine, 60.0, 0.75);
    let from = engine.power();
    run(&mut engine, 1.2, 1.0);
    let closed = (engine.power() - from) / (1.0 - from);
    assert!((closed - (1.0 - (-1.0_f64).exp())).abs() < 1e-3, "{closed}");
}

/// Worked by hand: with the water gone the shaft gains torque over inertia each second at full power:
/// (2,770 (2 - n) - 110 n^2) / (2.5 x 1,047.2).
#[test]
fn without_propeller_n2_runs_away_at_torque_over_inertia() {
    let lost = EngineSettings { propeller_lost_at_s: Some(200.0), ..settings() };
    let mut engine = idling(&lost);
    for k in 0..8_000 {
        engine.step(120.0 + f64::from(k) * DT, 1.0, 92.0);
    }
    let before = engine.shaft.n;
    engine.step(200.001, 1.0, 92.0);
    let rate = (engine.shaft.n - before) / DT;
    let due = (FULL_N_M * (2.0 - before) - WINDAGE_N_M * before * before) / (TURBINE_KG_M2 * SHAFT_RAD_S);
    assert!((rate / due - 1.0).abs() < 0.01, "{rate} of {due}");
    assert!(engine.power() == 0.0, "no propeller, no thrust");
    for k in 0..100 {
        engine.step(200.01 + f64::from(k) * DT, 1.0, 92.0);
    }
    assert!(engine.shaft.n > 1.12, "past what the topping governor allows: {}", engine.shaft.n);
    assert!(engine.n < 1.0, "and the governor has taken fuel away");
}

/// More fuel in the same air is hotter and stronger, up to all oxygen used. Kerosene in air burns at about 2,300 K in
/// handbooks (from memory); without dissociation a model lies above that.
#[test]
fn temperature_and_torque_rise_with_fuel_to_air_until_the_oxygen_is_used() {
    let core = Core::new(&settings());
    for n in [0.12, 0.2, 0.45, 0.62, 1.0] {
        let at = |ratio: f64| core.gas(n, ratio * air_kg_s(n));
        for k in 0..66 {
            let (lean, rich) = (at(f64::from(k) * 1e-3), at(f64::from(k + 1) * 1e-3));
            assert!(rich.behind_k > lean.behind_k && rich.torque_n_m > lean.torque_n_m, "{n} {k}");
        }
        assert!((at(0.07).behind_k - at(0.14).behind_k).abs() < 1e-9, "{n}");
    }
    assert!((2_300.0..2_900.0).contains(&core.gas(0.12, 1.0).behind_k));
}

#[test]
fn the_fuel_for_a_torque_gives_that_torque() {
    let core = Core::new(&settings());
    for n in [0.2, 0.45, 0.62, 0.9, 1.0] {
        let load = core.load_n_m(n);
        let gas = core.gas(n, core.fuel_for(n, load));
        assert!((gas.torque_n_m - load).abs() < 1e-6, "{n}");
    }
}

/// A motor's laws: no torque at the speed of its own voltage, and half the voltage turns it half as fast.
#[test]
fn the_starter_obeys_its_voltage_and_sags_with_its_battery() {
    let starter = Starter::new(&settings());
    assert_eq!(starter.torque_n_m(0.27, 1.0), 0.0);
    assert_eq!(starter.torque_n_m(0.54, 2.0), 0.0);
    assert!(starter.torque_n_m(0.26, 1.0) > 0.0 && starter.torque_n_m(0.53, 2.0) > 0.0);
    let tired = Starter::new(&EngineSettings { battery_mohm: 8.0, ..settings() });
    assert!(tired.torque_n_m(0.15, 1.0) < starter.torque_n_m(0.15, 1.0));
}

/// An engine sustains itself from about 45 % (common practice, no source; "above 50 %" before the starter goes off in
/// TM 55-1510-215-10): cut below that it hangs, above that it goes on.
#[test]
fn an_engine_sustains_itself_from_about_45_percent() {
    let reaches_idle = |pct: f64| {
        let dock = DockSettings { starter_off_at_n1_pct: pct, reaction_s: 0.0, ..DockSettings::default() };
        start(&settings(), &dock, 100.0).0.runs()
    };
    let (mut hangs, mut goes) = (20.0, 60.0);
    assert!(!reaches_idle(hangs) && reaches_idle(goes));
    while goes - hangs > 0.5 {
        let middle = 0.5 * (goes + hangs);
        if reaches_idle(middle) { goes = middle } else { hangs = middle }
    }
    assert!((38.0..=50.0).contains(&goes), "{goes}");
}

/// "Hot start: usually too much fuel for the airflow" (TM 1-1500-204-23-1); fuel below 13 % N1 and low batteries run
/// hotter (TM 55-1510-215-10 and handbooks).
#[test]
fn a_start_is_hotter_with_more_fuel_earlier_fuel_later_fire_and_less_air() {
    let good = peak_of(settings());
    let hotter = |what: &str, by: f64, engine: EngineSettings, dock: DockSettings| {
        let dock = DockSettings { abort_at_c: NOBODY, ..dock };
        let peak = peak_c(&start(&engine, &dock, 60.0).1);
        assert!(peak > good + by, "{what}: {peak}, a good one {good}");
    };
    let dock = DockSettings::default;
    hotter("rich", 150.0, EngineSettings { start_fuel: 1.5, ..settings() }, dock());
    hotter("fuel before rotation", 100.0, settings(), DockSettings { fuel_after_s: Some(0.0), ..dock() });
    hotter("late igniters", 60.0, settings(), DockSettings { igniter_after_s: 11.0, ..dock() });
    hotter("fuel left over", 100.0, EngineSettings { residual_fuel_g: 120.0, ..settings() }, dock());
    let weak = EngineSettings { battery_v: 19.0, light_off_n1_pct: 9.0, ..settings() };
    hotter("low batteries", 50.0, weak, DockSettings { fuel_at_n1_pct: 9.0, ..dock() });
}

/// "Hung start: lights, rpm stays low; weak starter or early cut-off" (TM 1-1500-204-23-1).
#[test]
fn a_lean_start_or_one_cut_early_hangs_and_the_second_gets_hot() {
    let patient = DockSettings { abort_at_c: NOBODY, gives_up_s: 600.0, ..DockSettings::default() };
    let (engine, states) = start(&EngineSettings { start_fuel: 0.6, ..settings() }, &patient, 60.0);
    assert!(!engine.runs() && states.iter().all(|state| state.n1_pct < 60.0), "{:?}", engine.state());
    assert!(peak_c(&states) > 300.0, "it did light");
    let cut = DockSettings { starter_off_after_s: Some(11.0), ..patient };
    let (_, states) = start(&settings(), &cut, 25.0);
    let highest = states.iter().map(|state| state.n1_pct).fold(0.0, f64::max);
    assert!(highest < 35.0 && peak_c(&states) > 780.0, "{highest} {}", peak_c(&states));
}

/// "No N1 and temperature rise within 10 s: cut off fuel, abort" (airstart page of a turboprop handbook).
#[test]
fn without_spark_nothing_lights_and_the_hand_cuts_the_fuel_after_its_wait() {
    let (engine, states) =
        start(&EngineSettings { sparks: false, ..settings() }, &DockSettings::default(), 40.0);
    assert!(peak_c(&states) < 60.0 && !engine.runs());
    let fuel: Vec<f64> =
        engine.moves().iter().filter(|(_, line, _)| *line == Line::StartFuel).map(|(t, ..)| *t).collect();
    assert_eq!(fuel.len(), 2);
    assert!((fuel[1] - fuel[0] - 10.6).abs() < 0.05, "10 s and the reaction: {fuel:?}");
}

/// "On an aborted start cut fuel but keep cranking for airflow" (handbook insert): it cools while it is cranked, and
/// climbs again when the air stops.
#[test]
fn after_an_abort_cranking_cools_and_standing_soaks() {
    let dock = DockSettings { abort_after_s: Some(16.0), cooled_below_c: 100.0, ..DockSettings::default() };
    let (engine, states) = start(&settings(), &dock, 90.0);
    let last = |line| engine.moves().iter().rev().find(|(_, of, _)| *of == line).map_or(0.0, |(t, ..)| *t);
    let index = |t: f64| (t / DT) as usize;
    let (cut, off) = (index(last(Line::StartFuel)), index(last(Line::StarterLow)));
    let cranked = &states[cut + 200..off];
    assert!(cranked.windows(2).all(|pair| pair[1].egt_c <= pair[0].egt_c));
    assert!(peak_c(&states[off + 100..]) > states[off].egt_c + 50.0);
    assert!(!engine.runs() && !engine.is_lit());
}

#[test]
fn a_flame_out_takes_the_power_and_the_heat_and_stays_out() {
    let out = EngineSettings { flame_out_at_s: Some(130.0), ..settings() };
    let mut engine = idling(&out);
    for k in 0..2_000 {
        engine.step(120.0 + f64::from(k) * DT, 1.0, 60.0);
    }
    assert!(!engine.is_lit() && engine.power() == 0.0 && !engine.runs());
    assert!(engine.state().n1_pct < 50.0 && engine.state().egt_c < 300.0, "{:?}", engine.state());
}

#[test]
fn a_valve_stuck_rich_drives_speed_and_temperature_over_their_full_figures() {
    let stuck = EngineSettings { over_fuel_at_s: Some(160.0), over_fuel: 0.2, ..settings() };
    let mut engine = idling(&stuck);
    for k in 0..6_000 {
        engine.step(120.0 + f64::from(k) * DT, 1.0, 92.0);
    }
    assert!(engine.state().n1_pct > 102.0 && engine.state().egt_c > 775.0, "{:?}", engine.state());
}

/// Conservation of energy: in gas of one temperature the metal comes to it, and the probe with it; without air nothing
/// but the metal is felt.
#[test]
fn the_metal_takes_what_the_gas_loses_and_keeps_the_probe_warm_in_still_air() {
    let mut hot_end = HotEnd::new(&settings(), DT);
    let mut felt = 0.0;
    let air = air_kg_s(0.15);
    for _ in 0..20_000 {
        hot_end.step(DT, 500.0 + generator::KELVIN, air);
        felt += (500.0 - hot_end.junction_c) * DT;
    }
    // What the gas lost, without the 900 s into the hull, is 15 kJ/K times the metal's 478 degrees; the lags of gas and
    // junction add a second of 478.
    let lost_kj = (felt - 1.0 * 478.0) * air * generator::GAS_J_KG_K / 1e3;
    assert!((lost_kj / (15.0 * 478.0) - 1.0).abs() < 0.25, "{lost_kj}");
    for _ in 0..500 {
        hot_end.step(DT, 22.0 + generator::KELVIN, 0.0);
    }
    assert!((450.0..500.0).contains(&hot_end.junction_c), "{}", hot_end.junction_c);
}

/// Steady means steady: nothing moves while nothing is changed. Two degrees are the metal's last ones, as above.
#[test]
fn an_engine_that_begins_running_is_where_it_would_have_settled() {
    for (throttle, speed_m_s) in [(0.0, 8.0), (0.4, 40.0), (1.0, 92.0)] {
        let mut engine = Engine::running(&settings(), DT, throttle, speed_m_s);
        let begun = engine.state();
        for k in 0..12_000 {
            engine.worked(
                f64::from(k) * DT,
                Switches { open: true, ..Default::default() },
                throttle,
                speed_m_s,
            );
            let now = engine.state();
            let gone = (now.egt_c - begun.egt_c, now.n1_pct - begun.n1_pct, now.n2_pct - begun.n2_pct);
            let stays = gone.0.abs() < 2.0 && gone.1.abs() < 0.05 && gone.2.abs() < 0.1;
            assert!(stays && engine.sustains(), "{throttle}, step {k}: {gone:?} from {begun:?}");
        }
    }
}
