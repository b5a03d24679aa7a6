//! Hot starts, said before the limit, and good ones, not said: many random starts of an engine of a few lines.

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

/// A start whose fire is at once `from` degrees and then goes as `fire` says, seconds later; the gas follows it with 0.4
/// s, the junction with what the settings say, and a read has noise of 1 degree.
fn play(chance: &mut Chance, fire: impl Fn(f64) -> f64) -> Played {
    let mut bench = Bench::new(&EngineSettings::demonstration());
    bench.go(0, 4_000, (0.0, 25.0), (15.0, 25.0));
    let (mut gas, mut junction, mut n1) = (25.0_f64, 25.0_f64, 15.0_f64);
    let mut played = Played { peak: 0.0, over: None, warned: None };
    for tick in 0..1_200_i64 {
        let at = 4_000 + tick * 10;
        gas += (fire(tick as f64 * 0.01) - gas) * 0.01 / 0.4;
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
    let (mut hot, mut early) = (0, 0);
    for _ in 0..200 {
        let slope = chance.between(60.0, 200.0);
        let played = play(&mut chance, |t| (300.0 + slope * t).min(1_250.0));
        let Some(over) = played.over else { continue };
        hot += 1;
        early += i32::from(played.warned.is_some_and(|warned| warned + 1_000 <= over));
    }
    assert!(hot > 150, "{hot}");
    assert!(early * 100 >= hot * 99, "{early} of {hot}");
}

#[test]
fn starts_that_level_off_below_eight_hundred_are_not_warned() {
    let mut chance = Chance(11);
    for _ in 0..400 {
        let (peak, lag) = (chance.between(600.0, 800.0), chance.between(0.3, 3.0));
        let played = play(&mut chance, |t| peak - (peak - 300.0) * (-t / lag).exp());
        assert_eq!(played.warned, None, "peak {} with {lag} s", played.peak);
    }
}

/// A fire that is at once half as hot again as the limit leaves 1.3 s: said before the limit all the same.
#[test]
fn a_violent_start_is_warned_before_its_limit() {
    let mut chance = Chance(13);
    for _ in 0..50 {
        let played = play(&mut chance, |_| 1_400.0);
        assert!(
            played.warned < played.over && played.warned.is_some(),
            "{:?} {:?}",
            played.warned,
            played.over
        );
    }
}
