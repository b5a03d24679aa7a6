//! One start: played through the sensors into the real dash, and judged by the truth.
//!
//! Drawn settings in, an outcome out.

use firmware::engine::EngineSettings;
use firmware::output::{AlertId, AlertState, Output};
use firmware::settings::Settings;

use super::drawn::{self, Cause};
use super::{Kind, Outcome};
use crate::rig::Rig;
use crate::sweep::mixed;
use crate::world::maths::seconds;
use crate::world::{Truth, World, WorldSettings};

/// The junction feels the fire when it has warmed by so much, degrees.
const FELT_C: f64 = 20.0;
/// So near to idle is idle, percent.
const NEAR_PCT: f64 = 2.0;

/// Draws start `number`, plays it and judges it.
pub fn start(
    (settings, base): (&Settings, &WorldSettings),
    probe_lag_s: Option<f64>,
    seed: u64,
    number: u64,
) -> Outcome {
    let seed = mixed(seed, number);
    let (cause, mut drawn) = drawn::draw(base, seed);
    drawn.engine.probe_lag_s = probe_lag_s.unwrap_or(drawn.engine.probe_lag_s);
    let mut world = World::at_dock(&drawn, seed);
    let mut rig = Rig::new(settings, None, *world.crystal());
    rig.play_blind(&mut world);
    let log = rig.into_log("", seed, drawn.zero_utc);
    let mut raised: Vec<(AlertId, f64)> = Vec::new();
    for decided in &log.decisions {
        if let Output::Alert { id, state: AlertState::Raised, .. } = decided.output
            && raised.iter().all(|(other, _)| *other != id)
        {
            raised.push((id, seconds(decided.t)));
        }
    }
    Outcome { raised, ..judge(number, cause, world.truth(), &settings.engine, &drawn) }
}

/// A row of the table, and since when it has been passed.
struct Row {
    above_c: f64,
    allowed_s: f64,
    since_s: Option<f64>,
}

/// What the start truly was.
fn judge(
    number: u64,
    cause: Cause,
    truth: &Truth,
    engine: &EngineSettings,
    drawn: &WorldSettings,
) -> Outcome {
    let row = |row: &firmware::engine::limits::Limit<_>| Row {
        above_c: f64::from(celsius_milli(row.threshold)) / 1e3,
        allowed_s: seconds(row.allowed),
        since_s: None,
    };
    let mut rows: Vec<Row> = engine.egt_starting.rows.iter().map(row).collect();
    let sustains = f64::from(engine.self_sustaining.as_centi()) / 100.0;
    let mut seen = Seen { before_c: drawn.engine.air_c, ..Seen::default() };
    for (t, state) in truth.engine_steps() {
        seen.running = seen.running || state.n1_pct >= sustains;
        seen.idles = state.n1_pct >= drawn.engine.idle_n1_pct - NEAR_PCT;
        if seen.fire_s.is_none() && state.egt_c > drawn.engine.air_c + FELT_C {
            seen.fire_s = Some(t);
        }
        if !seen.running {
            seen.starting(t, state.egt_c, &mut rows);
        }
        seen.before_c = state.egt_c;
    }
    let lowest = rows.first().map_or(f64::INFINITY, |row| row.above_c);
    let kind = match seen.limit {
        _ if seen.fire_s.is_none() => Kind::Dark,
        Some((_, true)) => Kind::Hot,
        Some((_, false)) => Kind::Long,
        None if !seen.idles => Kind::Hung,
        None if seen.peak_c > lowest => Kind::Warm,
        None => Kind::Good,
    };
    Outcome {
        start: number,
        cause,
        kind,
        peak_c: seen.peak_c,
        fire_s: seen.fire_s,
        limit_s: seen.limit.map(|(at, _)| at),
        rise_c_s: seen.rise_c_s,
        raised: Vec::new(),
    }
}

/// What has been seen of a start so far.
#[derive(Default)]
struct Seen {
    before_c: f64,
    running: bool,
    idles: bool,
    peak_c: f64,
    fire_s: Option<f64>,
    /// When a limit was crossed, and whether it was the last row's.
    limit: Option<(f64, bool)>,
    rise_c_s: Option<f64>,
}

impl Seen {
    /// Holds a moment of the start against the table. The last row has the last word.
    fn starting(&mut self, t: f64, egt_c: f64, rows: &mut [Row]) {
        self.peak_c = self.peak_c.max(egt_c);
        let rise_c_s = (egt_c - self.before_c) / crate::world::truth::STEP_S;
        let last = rows.len().saturating_sub(1);
        for (k, row) in rows.iter_mut().enumerate() {
            let since = if egt_c > row.above_c { *row.since_s.get_or_insert(t) } else { f64::INFINITY };
            if since.is_infinite() {
                row.since_s = None;
            }
            let used_up = t - since >= row.allowed_s;
            if used_up && self.limit.is_none_or(|(_, by_last)| k == last && !by_last) {
                (self.limit, self.rise_c_s) = (Some((t, k == last)), Some(rise_c_s));
            }
        }
    }
}

const fn celsius_milli(threshold: firmware::units::MilliCelsius) -> i32 {
    threshold.as_milli()
}
