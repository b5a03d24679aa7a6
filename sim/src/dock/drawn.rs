//! How starts at a dock differ from each other.
//!
//! Every start differs in the ordinary ways: battery, weather, drag, the engine's setting, light-off, the probe, and
//! the man. Some have one thing wrong besides. All ranges are invented; they are stated here so that the figures that
//! come of them can be read for what they are. Hot starts run from mild (a few degrees over the limit) to fierce (twice
//! the fuel, a wet burner), where the limit is passed within a second of the fire's first warmth and no warning can be
//! a second early.
//!
//! Knows the world's settings and chance.

use serde::{Deserialize, Serialize};

use crate::world::WorldSettings;
use crate::world::draw::{Draw, Purpose};

/// The one thing that is wrong with a start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// Nothing beyond the ordinary.
    Sound,
    /// Too much fuel.
    Rich,
    /// Tired batteries, and fuel after a while all the same.
    Weak,
    /// Fuel before the engine turns well.
    Soon,
    /// Igniters switched on after the fuel.
    LateSpark,
    /// Fuel left over from an earlier attempt.
    Wet,
    /// Too little fuel.
    Lean,
    /// The starter let go early.
    CutEarly,
    /// Igniters that do not spark.
    NoSpark,
    /// A stiff engine.
    Stiff,
}

impl Cause {
    /// All, and how often each is drawn in a hundred starts.
    pub const ALL: [(Self, u32); 10] = [
        (Self::Sound, 50),
        (Self::Rich, 14),
        (Self::Weak, 8),
        (Self::Soon, 8),
        (Self::LateSpark, 6),
        (Self::Wet, 6),
        (Self::Lean, 2),
        (Self::CutEarly, 2),
        (Self::NoSpark, 2),
        (Self::Stiff, 2),
    ];

    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Sound => "nothing wrong",
            Self::Rich => "too much fuel",
            Self::Weak => "tired batteries",
            Self::Soon => "fuel too soon",
            Self::LateSpark => "igniters late",
            Self::Wet => "fuel left over",
            Self::Lean => "too little fuel",
            Self::CutEarly => "starter let go early",
            Self::NoSpark => "no spark",
            Self::Stiff => "stiff engine",
        }
    }
}

/// A start begins so long after its world does, and is followed so long.
pub const BEFORE_S: f64 = 5.0;
/// See above.
pub const FOLLOWED_S: f64 = 75.0;
/// Nobody cuts the fuel: no EGT and no time make the hand do it.
const NEVER: f64 = 1e6;

/// Evenly between two figures.
fn between(draw: &mut Draw, from: f64, to: f64) -> f64 {
    from + (to - from) * draw.uniform()
}

/// Draws a start from a seed of its own.
#[must_use]
pub fn draw(base: &WorldSettings, seed: u64) -> (Cause, WorldSettings) {
    let (mut world, mut draw) = (base.clone(), Draw::new(seed, Purpose::Dock));
    world.begins_s = -BEFORE_S;
    world.ends_s = Some(FOLLOWED_S);
    world.crystal.boots_at_s = -BEFORE_S - 10.0;
    (world.feeds.receiver, world.feeds.pps) = (false, false);
    (world.feeds.probe, world.feeds.shafts) = (true, true);
    world.thumb.presses_at_s.clear();
    world.guns.contact = false;
    (world.presses, world.faults) = (Vec::new(), Vec::new());
    ordinary(&mut world, &mut draw);
    let cause = cause(&mut draw);
    spoil(&mut world, cause, &mut draw);
    (cause, world)
}

/// What differs from start to start when nothing is wrong.
fn ordinary(world: &mut WorldSettings, draw: &mut Draw) {
    let engine = &mut world.engine;
    engine.starter_at_s = 0.0;
    engine.battery_v *= between(draw, 0.96, 1.05); // charged, cold to warm
    engine.battery_mohm *= between(draw, 0.8, 1.5);
    engine.drag *= between(draw, 0.95, 1.1); // warm to cold oil
    engine.air_c = between(draw, 2.0, 38.0);
    engine.start_fuel *= draw.normal(1.0, 0.02).clamp(0.95, 1.05); // how well the control is set
    engine.light_off_n1_pct = between(draw, 8.0, 12.0);
    engine.light_delay_s = between(draw, 0.5, 1.6);
    engine.light_delay_sd_s = 0.0;
    engine.probe_lag_s = between(draw, 0.4, 1.4); // a bare junction to a sheathed one
    world.probe.noise_sd_c = between(draw, 0.3, 2.0);
    world.probe.board_c = between(draw, 10.0, 50.0);
    let dock = &mut world.dock;
    dock.reaction_s = between(draw, 0.3, 1.2);
    dock.fuel_at_n1_pct = between(draw, 12.5, 15.0);
    dock.starter_high_at_c = between(draw, 180.0, 260.0);
    dock.starter_off_at_n1_pct = between(draw, 50.0, 55.0); // above 50 %: TM 55-1510-215-10
    (dock.abort_at_c, dock.light_wait_s, dock.gives_up_s, dock.abort_after_s) = (NEVER, NEVER, NEVER, None);
    dock.crank_most_s = NEVER;
}

fn cause(draw: &mut Draw) -> Cause {
    let mut left = draw.below(Cause::ALL.iter().map(|(_, weight)| weight).sum());
    for (cause, weight) in Cause::ALL {
        match left.checked_sub(weight) {
            Some(rest) => left = rest,
            None => return cause,
        }
    }
    Cause::Sound
}

/// The one thing that is wrong.
fn spoil(world: &mut WorldSettings, cause: Cause, draw: &mut Draw) {
    let (engine, dock) = (&mut world.engine, &mut world.dock);
    match cause {
        Cause::Sound => {}
        Cause::Rich => engine.start_fuel *= between(draw, 1.15, 2.0),
        Cause::Weak => {
            engine.battery_v *= between(draw, 0.70, 0.90);
            engine.battery_mohm *= between(draw, 1.5, 5.0);
            dock.fuel_after_s = Some(between(draw, 8.0, 14.0));
        }
        Cause::Soon => dock.fuel_after_s = Some(between(draw, 0.0, 3.0)),
        Cause::LateSpark => dock.igniter_after_s = between(draw, 8.0, 14.0),
        Cause::Wet => engine.residual_fuel_g += between(draw, 10.0, 150.0),
        Cause::Lean => engine.start_fuel *= between(draw, 0.5, 0.8),
        Cause::CutEarly => dock.starter_off_after_s = Some(between(draw, 9.0, 13.0)),
        Cause::NoSpark => engine.sparks = false,
        Cause::Stiff => engine.drag *= between(draw, 1.3, 2.0),
    }
}
