//! A power shaft that loses its load: how long from the event to the alert, in periods of its pickup.
//!
//! The shaft runs steadily, then gains speed evenly, as one does whose power is the same and whose load is gone. Its
//! pulses, with their jitter, go through the board's counter and lookout into a dash. What is asserted is what the
//! law book promises (rules E8 and E9); the distribution is printed with `--nocapture`.

use firmware::dash::Dash;
use firmware::engine::Engine;
use firmware::engine::tach::TachSettings;
use firmware::input::Input;
use firmware::output::{AlertId, AlertState, Output, Outputs};
use firmware::settings::Settings;
use firmware::units::{Instant, Span};
use gunline::world::SensorEvent;
use gunline::world::crystal::{Crystal, CrystalSettings};
use gunline::world::pickup::{Pair, PickupSettings};

/// Pickups: turns a minute at 100 % and pulses a turn.
const PICKUPS: [(u32, u16); 3] = [(10_000, 1), (4_200, 1), (4_200, 2)];

/// Half a step before the end of which the event may come, and steps in all.
const EVENT_STEP: u32 = 300;
const STEPS: u32 = 500;

/// Events of each kind.
const FATES: u32 = 200;

/// One shaft's fate.
#[derive(Clone, Copy)]
struct Fate {
    pickup: (u32, u16),
    from_pct: f64,
    rise_pct_s: f64,
    seed: u64,
}

impl Fate {
    fn settings(&self) -> Settings {
        let mut settings = Settings::bare();
        let (rpm_at_100, cycles_per_turn) = self.pickup;
        settings.engine.n2_tach = TachSettings { rpm_at_100, cycles_per_turn };
        settings
    }

    fn speed(&self, step: u32) -> f64 {
        let since = f64::from(step.saturating_sub(EVENT_STEP)) * 0.01;
        (self.from_pct + self.rise_pct_s * since).min(140.0)
    }

    /// Seconds from the event to the first of this alert; the event is the loss, or passing 112 %.
    fn latency(&self, id: AlertId) -> Option<f64> {
        let settings = self.settings();
        let hz = f64::from(self.pickup.0) / 60.0 * f64::from(self.pickup.1);
        let pickups = PickupSettings {
            n2_hz_at_100_pct: hz,
            watched: Some(Engine::watched(&settings.engine)),
            ..PickupSettings::default()
        };
        let crystal =
            Crystal::new(&CrystalSettings { boots_at_s: -10.0, ..CrystalSettings::default() }, self.seed);
        let (mut pair, mut dash) = (Pair::new(&pickups, self.seed), Dash::new(&settings));
        let event_s = f64::from(EVENT_STEP) * 0.01
            + if id == AlertId::N2Overspeed { (112.0 - self.from_pct) / self.rise_pct_s } else { 0.0 };
        for step in 0..STEPS {
            let (from, to) = (self.speed(step), self.speed(step + 1));
            let t = f64::from(step) * 0.01;
            let mut events = pair.step(t, ((95.0, from), (95.0, to)), &crystal, (false, false));
            if (step + 1) % 5 == 0 {
                events.push((Span::from_millis(i64::from(step + 1) * 10), pair.report((false, false))));
            }
            for (at, event) in events {
                if raises(&mut dash, crystal.board_at(at), &event, id) {
                    return Some(at.as_micros() as f64 * 1e-6 - event_s);
                }
            }
        }
        None
    }
}

fn raises(dash: &mut Dash, at: Instant, event: &SensorEvent, id: AlertId) -> bool {
    let input = match *event {
        SensorEvent::ShaftPulses { n1, n2 } => Input::Shafts { n1, n2 },
        SensorEvent::N2Turns { turns } => Input::N2Turns { turns },
        _ => Input::Tick,
    };
    let mut out = Outputs::default();
    dash.feed_into(at, input, &mut out);
    let raised = |output: &Output| matches!(*output, Output::Alert { id: it, state: AlertState::Raised, .. } if it == id);
    out.as_slice().iter().any(raised)
}

/// Latencies of many fates in turns of the shaft that carries the pickup, sorted; those that never raised missing.
fn latencies(pickup: (u32, u16), rise_pct_s: f64, from_pct: f64, id: AlertId) -> Vec<f64> {
    let turn_s = 60.0 / f64::from(pickup.0) / from_pct * 100.0;
    let fates = (0..FATES).map(|n| Fate {
        pickup,
        from_pct: from_pct + f64::from(n) * 0.003_7,
        rise_pct_s,
        seed: u64::from(n),
    });
    // 1 ms is the board's own, see the pickups.
    let mut all: Vec<f64> = fates.filter_map(|fate| fate.latency(id)).map(|s| (s - 0.001) / turn_s).collect();
    all.sort_by(f64::total_cmp);
    all
}

fn tell(what: &str, all: &[f64]) {
    let place = |share: f64| (all.len().saturating_sub(1) as f64 * share) as usize;
    let at = |share: f64| all.get(place(share)).copied().unwrap_or(f64::NAN);
    println!(
        "{what}: {} raised, turns: least {:.2}, median {:.2}, 95 % {:.2}, most {:.2}",
        all.len(),
        at(0.0),
        at(0.5),
        at(0.95),
        at(1.0)
    );
}

#[test]
fn a_lost_load_is_told_within_three_turns_where_the_rise_is_twice_the_setting() {
    for pickup in PICKUPS {
        // The setting is 120 %/s; twice that is steep.
        for rise in [150.0, 240.0, 360.0, 500.0] {
            let all = latencies(pickup, rise, 95.0, AlertId::N2Unloaded);
            tell(&format!("unloaded, {pickup:?}, {rise} %/s"), &all);
            assert_eq!(all.len(), FATES as usize, "{pickup:?} {rise}");
            assert!(rise < 200.0 || all.iter().all(|turns| *turns <= 3.1), "{pickup:?} {rise}");
        }
    }
}

#[test]
fn overspeed_is_told_by_the_first_turn_that_is_faster() {
    for pickup in PICKUPS {
        for rise in [20.0, 100.0, 300.0, 1_000.0] {
            let all = latencies(pickup, rise, 108.0, AlertId::N2Overspeed);
            tell(&format!("overspeed, {pickup:?}, {rise} %/s"), &all);
            assert_eq!(all.len(), FATES as usize, "{pickup:?} {rise}");
            // The first turn that is faster as a whole ends no later than two turns after the speed was passed; a
            // slow rise is blurred by the pulses' jitter. A rise steeper than any shaft's needs one turn more.
            assert!(
                all.iter().all(|turns| *turns <= if rise > 600.0 { 3.0 } else { 2.3 }),
                "{pickup:?} {rise}"
            );
            assert!(rise > 600.0 || all[all.len() / 2] <= 1.2, "{pickup:?} {rise}");
        }
    }
}
