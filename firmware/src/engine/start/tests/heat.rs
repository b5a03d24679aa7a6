//! Hot starts, said before the limit, and good ones, not said: many random starts of an engine of a few lines.

use std::vec::Vec;

use super::bench::{Bench, ms, reads};
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
#[derive(Debug)]
struct Played {
    peak: f64,
    over: Option<i64>,
    warned: Option<i64>,
}

/// An engine whose gas heats with fuel over airflow, whose spool answers to heat, whose junction lags.
fn play(chance: &mut Chance) -> Played {
    let rich = chance.between(0.75, 1.75);
    let lag = chance.between(0.5, 1.0);
    let flame = chance.between(0.3, 1.0);
    let ramp = chance.between(1.0, 6.0);
    let noise = chance.between(0.3, 1.5);
    let drive = chance.between(0.7, 1.3);
    let mut bench = Bench::new(&EngineSettings::demonstration());
    let (mut n1, mut gas, mut junction, mut fuel_s) = (0.0_f64, 25.0_f64, 25.0_f64, 0.0_f64);
    let mut played = Played { peak: 0.0, over: None, warned: None };
    let mut lit = false;
    for tick in 0..6_000_i64 {
        let (at, dt) = (tick * 10, 0.01);
        let starter = if n1 < 50.0 { 5.0 * (1.0 - n1 / if gas > 200.0 { 45.0 } else { 24.0 }) } else { 0.0 };
        lit = lit || n1 >= 15.0;
        if lit {
            fuel_s += dt;
        }
        let fuel = if lit { rich * (0.45 + 0.55 * (1.0 - (-fuel_s / ramp).exp())) } else { 0.0 };
        let burnt = 25.0 + fuel * 24_000.0 / (n1 + 12.0) * (n1 / (n1 + 4.0));
        let burnt = if n1 > 45.0 { burnt.min(600.0) } else { burnt };
        gas += (burnt - gas) * dt / flame;
        junction += (gas - junction) * dt / lag;
        let engine = if lit { drive * (gas - 250.0) / 100.0 * (n1 / 30.0) } else { 0.0 };
        n1 = (n1 + (starter + engine.max(0.0)) * dt).clamp(0.0, 62.0);
        if n1 < 45.0 {
            played.peak = played.peak.max(junction);
            if junction > 900.0 && played.over.is_none() {
                played.over = Some(at);
            }
        }
        if at % 100 == 0 {
            bench.shafts(at, n1);
            bench.probe(at, junction + noise * chance.normal());
        }
    }
    played.warned = bench.first(AlertId::HotStart);
    played
}

#[test]
fn survey() {
    let mut chance = Chance(7);
    let all: Vec<_> = (0..600).map(|_| play(&mut chance)).collect();
    let hot: Vec<_> = all.iter().filter(|it| it.over.is_some()).collect();
    let good: Vec<_> = all.iter().filter(|it| it.over.is_none()).collect();
    let early = hot.iter().filter(|it| it.warned.is_some_and(|w| w + 1_000 <= it.over.unwrap())).count();
    let false_ = good.iter().filter(|it| it.warned.is_some()).count();
    std::println!("hot {} early {} good {} false {}", hot.len(), early, good.len(), false_);
    for it in &all {
        if it.over.is_none() && it.warned.is_some()
            || it.over.is_some() && !it.warned.is_some_and(|w| w + 1_000 <= it.over.unwrap())
        {
            std::println!("{it:?}");
        }
    }
    for bin in (500..1600).step_by(50) {
        let n = all.iter().filter(|it| (it.peak as i32 / 50 * 50) == bin).count();
        let w = all.iter().filter(|it| (it.peak as i32 / 50 * 50) == bin && it.warned.is_some()).count();
        std::println!("{bin} {n} warned {w}");
    }
    let _ = (ms(0), reads(0.0));
}
