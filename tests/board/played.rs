//! The heats, each played once to the emulated board and once by the simulator, all at the same time.
//!
//! Four heats of `heats/`, and a countdown with many restarts at drawn moments. Whoever asks first waits for all.

use std::path::Path;
use std::sync::LazyLock;

use firmware::units::Span;
use gunline::log::Log;
use gunline::play::play_part;
use gunline::scenario::{self, Heat};
use gunline::sensors::Part;
use gunline::stimulus::Stimulus;
use gunline::world::draw::{Draw, Purpose};
use gunline::world::faults::{Fault, FaultKind};
use rayon::prelude::*;

use crate::bench::{self, Feed, Look, Run};
use crate::record::{Life, lives};

/// One heat, on the board and in the simulator.
pub struct Played {
    /// What it is called here.
    pub name: &'static str,
    /// What the board met.
    pub stimulus: Stimulus,
    /// What the board did.
    pub run: Run,
    /// Its journal taken apart.
    pub lives: Vec<Life>,
    /// The simulator's own run of the same heat.
    pub log: Log,
}

/// Looks come in threes, for a picture may be on its way to the display: so far apart.
const AGAIN: Span = Span::from_millis(15);
/// How many make a three.
pub const TRIES: usize = 3;

/// Ten chosen moments of each heat, milliseconds of race time: the clock waiting, being set, counting down, at zero,
/// at the start, in the lap, at the finish, and while alerts come and go.
const CHOSEN_MS: [(&str, [i64; 10]); 4] = [
    ("wired", [-59_950, -45_310, -29_900, -10_450, -5_020, -130, 60, 420, 12_600, 23_100]),
    ("presses", [-29_600, -25_000, -9_990, -430, 30, 250, 4_200, 7_000, 22_050, 44_700]),
    ("number", [-59_950, -40_010, -29_900, -20_020, -15_070, -9_980, -7_030, -3_060, -120, 900]),
    ("faults", [-59_500, -44_000, -40_500, -30_200, -11_500, -6_400, 450, 9_300, 15_000, 23_000]),
];

/// Everything that was played.
pub static PLAYED: LazyLock<Vec<Played>> = LazyLock::new(|| {
    let chosen = CHOSEN_MS.iter().map(|(name, looks_ms)| {
        let looks = looks_ms.iter().flat_map(|ms| (0..TRIES as i64).map(move |k| (ms, k)));
        let looks = looks.map(|(ms, k)| Span::from_micros(ms * 1_000 + k * AGAIN.as_micros())).collect();
        (*name, heat(name), Part::WHOLE, looks)
    });
    let all: Vec<_> = std::iter::once(restarts()).chain(chosen).collect();
    all.into_par_iter().map(|(name, heat, part, looks)| play(name, &heat, part, looks)).collect()
});

/// What forecasts of the run-in cost in the heat by the number, which is played once more for that.
pub fn forecasts() -> Feed {
    let heat = heat("number");
    let stimulus = Stimulus::new(&heat, Part::WHOLE, &[Span::ZERO]).unwrap();
    bench::play_counting("forecasts", &stimulus, &heat.settings, "Planner8flat_out").stats.feed
}

/// The heats in which nothing restarts the board.
pub fn unbroken() -> impl Iterator<Item = &'static Played> {
    PLAYED.iter().filter(|played| played.run.stats.resets.len() == 1)
}

/// One of them by its name.
pub fn played(name: &str) -> &'static Played {
    PLAYED.iter().find(|played| played.name == name).unwrap()
}

/// A heat of `heats/`.
pub fn heat(name: &str) -> Heat {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("board/heats/{name}.toml"));
    scenario::load(&path).unwrap_or_else(|report| panic!("{}", report.render(false)))
}

/// Hot laps with a boat to accept; they are no start, so they are played apart from the rest.
pub fn hot_laps() -> Played {
    let looks = [52_000, 62_030].map(|ms| Span::from_micros(ms * 1_000));
    play("laps", &heat("laps"), Part::WHOLE, looks.to_vec())
}

fn play(name: &'static str, heat: &Heat, part: Part, looks: Vec<Span>) -> Played {
    let stimulus = Stimulus::new(heat, part, &looks).unwrap();
    let run = bench::play(name, &stimulus, &heat.settings);
    let lives = lives(&run.journal);
    Played { name, stimulus, run, lives, log: play_part(heat, part) }
}

/// Every draw for the restarts comes from here.
const SEED: u64 = 2_031;
/// How many there are, one about every six seconds of the countdown.
pub const RESTARTS: i64 = 9;

/// The wired heat up to two seconds after zero, with restarts at drawn moments: the supply goes for 0.2 to 1.2 s,
/// and the program hangs, in turn. Looks every 20 ms for a second and a half after each.
fn restarts() -> (&'static str, Heat, Part, Vec<Span>) {
    let (mut heat, mut draw) = (heat("wired"), Draw::new(SEED, Purpose::Restart));
    let mut drawn =
        |from_s: f64, width_s: f64| Span::from_micros(((from_s + width_s * draw.uniform()) * 1e6) as i64);
    let mut looks = Vec::new();
    for k in 0..RESTARTS {
        let at = drawn(-58.0 + 6.0 * k as f64, 3.0);
        let fault = if k % 2 == 0 {
            Fault { at, kind: FaultKind::PowerBlip, lasts: drawn(0.2, 1.0) }
        } else {
            Fault { at, kind: FaultKind::WatchdogReset, lasts: Span::ZERO }
        };
        heat.world.faults.push(fault);
        looks.extend((1..75).map(|look| fault.ends() + Span::from_millis(20 * look)));
    }
    ("restarts", heat, Part { from: None, until: Some(Span::from_secs(2)) }, looks)
}

impl Played {
    /// The life that the program was in at an emulated time.
    pub fn life_at(&self, t_us: f64) -> usize {
        self.run.stats.resets.iter().filter(|start| start.t_us <= t_us).count() - 1
    }

    /// The looks of each three at which the whole picture stood on the display.
    pub fn threes(&self) -> impl Iterator<Item = Vec<&Look>> {
        let settled = |three: &&Look| three.drawn.is_some_and(|drawn| drawn.settled == 1);
        self.run.looks.chunks(TRIES).map(move |three| three.iter().filter(settled).collect())
    }
}
