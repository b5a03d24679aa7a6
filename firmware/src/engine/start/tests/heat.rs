//! Hot starts, said before the limit, and good ones, not said: many random starts of an engine of a few lines.

use std::vec::Vec;

use super::bench::Bench;
use crate::engine::EngineSettings;
use crate::output::AlertId;

/// A repeatable source of chance (the linear congruential generator of Numerical Recipes, 64 bits).
struct Chance(u64);

impl Chance {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * ((self.0 >> 11) as f64 / (1_u64 << 53) as f64)
    }

    /// Twelve uniform draws less six: nearly normal, deviation 1.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.between(0.0, 1.0)).sum::<f64>() - 6.0
    }
}

/// What became of one start.
struct Played {
    peak: f64,
    over: Option<i64>,
    warned: Option<i64>,
}

/// A start whose gas lights at once and then heats along a straight line to its peak, with a junction that lags by
/// what the settings say and noise of 1 degree.
fn play(chance: &mut Chance, peak: f64, slope: f64) -> Played {
    let mut bench = Bench::new(&EngineSettings::demonstration());
    bench.go(0, 4_000, (0.0, 25.0), (15.0, 25.0));
    let (mut gas, mut junction, mut n1) = (25.0_f64, 25.0_f64, 15.0_f64);
    let mut played = Played { peak: 0.0, over: None, warned: None };
    for tick in 0..1_200_i64 {
        let at = 4_000 + tick * 10;
        let burnt = (300.0 + slope * tick as f64 * 0.01).min(peak);
        gas += (burnt - gas) * 0.01 / 0.4;
        junction += (gas - junction) * 0.01 / 0.7;
        n1 += 0.02;
        played.peak = played.peak.max(junction);
        if junction > 900.0 {
            played.over = played.over.or(Some(at));
        }
        if tick % 10 == 0 {
            bench.shafts(at, n1);
            bench.probe(at, junction + chance.normal());
        }
    }
    played.warned = bench.first(AlertId::HotStart);
    played
}

#[test]
fn hot_starts_that_climb_through_the_limit_are_warned_a_second_before() {
    let mut chance = Chance(7);
    let all: Vec<_> = (0..200)
        .map(|_| {
            let slope = chance.between(60.0, 200.0);
            play(&mut chance, 1_250.0, slope)
        })
        .collect();
    let hot: Vec<_> = all.iter().filter_map(|it| Some((it.over?, it.warned))).collect();
    let early =
        hot.iter().filter(|(over, warned)| warned.is_some_and(|warned| warned + 1_000 <= *over)).count();
    assert!(hot.len() > 150, "{}", hot.len());
    assert!(early * 100 >= hot.len() * 99, "{early} of {}", hot.len());
}

#[test]
fn starts_that_peak_below_eight_hundred_are_not_warned() {
    let mut chance = Chance(11);
    for _ in 0..400 {
        let (peak, slope) = (chance.between(600.0, 800.0), chance.between(60.0, 400.0));
        let played = play(&mut chance, peak, slope);
        assert_eq!(played.warned, None, "peak {} at {slope} a second", played.peak);
    }
}
