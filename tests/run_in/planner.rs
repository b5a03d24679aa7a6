//! The planner against closed-form kinematics, and against an independent planner in floating point.

use firmware::run_in::boat::{BoatModel, Pull};
use firmware::run_in::planner::{Planner, Standing, Stretch};
use firmware::units::{Millimetres, MmPerSecond, Span};
use rayon::prelude::*;

use crate::second_opinion::SecondOpinion;

/// Draws for random states: a 64-bit linear congruential generator (Knuth's MMIX constants, from memory).
struct Draws(u64);

impl Draws {
    fn next(&mut self, from: f64, to: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        from + (to - from) * (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}

fn mm(metres: f64) -> Millimetres {
    Millimetres::from_mm((metres * 1e3).round() as i64)
}

fn mm_s(metres_per_second: f64) -> MmPerSecond {
    MmPerSecond::from_mm_s((metres_per_second * 1e3).round() as i32)
}

fn standing(to_line: f64, speed: f64, open_for: f64) -> Standing {
    Standing {
        to_line: mm(to_line),
        speed: mm_s(speed),
        open_for: Span::from_micros((open_for * 1e6).round() as i64),
    }
}

fn straight(length: f64) -> Stretch {
    Stretch { length: mm(length), limit: MmPerSecond::MAX }
}

fn bend(length: f64, limit: f64) -> Stretch {
    Stretch { length: mm(length), limit: mm_s(limit) }
}

/// The same pull at all speeds up to a top speed.
fn steady_pull(acceleration: f64, top: f64, lag: f64) -> BoatModel {
    let pull = |speed: f64| Pull { speed: mm_s(speed), acceleration_mm_s2: (acceleration * 1e3) as i32 };
    BoatModel {
        pulls: [pull(0.0), pull(top)].into_iter().collect(),
        lag: Span::from_micros((lag * 1e6) as i64),
        ..BoatModel::demonstration()
    }
}

fn seconds(planner: &Planner, standing: &Standing) -> f64 {
    planner.forecast(standing).time.as_micros() as f64 / 1e6
}

/// d = v t + a t^2 / 2, solved for t (any book of mechanics).
#[test]
fn constant_acceleration_takes_the_textbooks_time() {
    for (acceleration, speed, way) in [
        (5.0_f64, 0.0_f64, 400.0_f64),
        (5.0, 20.0, 300.0),
        (2.5, 54.0, 900.0),
        (9.0, 33.3, 12.5),
        (4.0, 10.0, 1.0),
    ] {
        let planner = Planner::new(&[straight(5_000.0)], &steady_pull(acceleration, 131.0, 0.0)).unwrap();
        let exact = ((speed * speed + 2.0 * acceleration * way).sqrt() - speed) / acceleration;
        let ours = seconds(&planner, &standing(way, speed, 0.0));
        assert!((ours - exact).abs() < 1e-3, "{acceleration} {speed} {way}: {ours} {exact}");
    }
}

#[test]
fn constant_speed_takes_way_over_speed() {
    let planner = Planner::new(&[bend(5_000.0, 50.0)], &steady_pull(5.0, 131.0, 1.3)).unwrap();
    for way in [1.0, 100.0, 1_234.5, 4_999.0] {
        let ours = seconds(&planner, &standing(way, 50.0, 0.0));
        assert!((ours - way / 50.0).abs() < 1e-3, "{way}: {ours}");
    }
}

/// Gain to a limit, hold it: (w - v) / a, then the rest over w.
#[test]
fn a_trapezoid_takes_the_sum_of_its_pieces() {
    let planner = Planner::new(&[bend(5_000.0, 60.0)], &steady_pull(4.0, 131.0, 0.0)).unwrap();
    for (speed, way) in [(40.0, 800.0), (0.0, 3_000.0), (59.0, 20.0)] {
        let gained = (60.0_f64.powi(2) - f64::powi(speed, 2)) / 8.0;
        let exact = (60.0 - speed) / 4.0 + (way - gained) / 60.0;
        let ours = seconds(&planner, &standing(way, speed, 0.0));
        assert!((ours - exact).abs() < 1e-3, "{speed} {way}: {ours} {exact}");
    }
}

/// Gain, then coast to a bend's limit: the speed at the peak solves gain + coasting = way; a root by halving.
#[test]
fn gaining_and_coasting_down_to_a_bend_takes_the_sum_of_its_pieces() {
    let boat = BoatModel { coasting_ppm_per_m: 2_500, ..steady_pull(5.0, 131.0, 0.0) };
    // The line lies just before the bend.
    let planner = Planner::new(&[bend(600.0, 55.0), straight(1_500.0)], &boat).unwrap();
    let (v, k, way) = (55.0_f64, 0.0025, 900.0);
    let way_over = |w: f64| (w * w - v * v) / 10.0 + f64::ln(w / v) / k;
    let (mut low, mut high) = (v, 200.0);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if way_over(middle) < way { low = middle } else { high = middle }
    }
    let exact = (low - v) / 5.0 + (1.0 / v - 1.0 / low) / k;
    let ours = seconds(&planner, &standing(way, v, 0.0));
    assert!((ours - exact).abs() < 2e-3, "{ours} {exact}");
}

/// x(t) = v t + a (t^2 / 2 - lag t + lag^2 (1 - exp(-t / lag))): constant pull behind a first-order lag.
#[test]
fn a_lag_takes_the_time_of_its_closed_form() {
    let (v, a, lag) = (50.0, 5.0, 1.3);
    let planner = Planner::new(&[straight(5_000.0)], &steady_pull(a, 131.0, lag)).unwrap();
    for t in [0.5_f64, 2.0, 5.0, 9.0, 12.0] {
        let way = v * t + a * (t * t / 2.0 - lag * t + lag * lag * (1.0 - f64::exp(-t / lag)));
        let ours = seconds(&planner, &standing(way, v, 0.0));
        assert!((ours - t).abs() < 2e-3, "{t}: {ours}");
    }
}

/// A drawn lane: two to six bends, straights between, the line anywhere on a straight.
fn drawn_lane(draws: &mut Draws) -> Vec<Stretch> {
    let bends = draws.next(2.0, 6.99) as usize;
    let mut lane = vec![straight(draws.next(50.0, 900.0))];
    for _ in 0..bends {
        lane.push(bend(draws.next(80.0, 700.0), draws.next(30.0, 75.0)));
        lane.push(straight(draws.next(60.0, 1_200.0)));
    }
    lane
}

fn drawn_boat(draws: &mut Draws) -> BoatModel {
    let (push, top) = (draws.next(4.0, 12.0), draws.next(75.0, 120.0));
    let pull = |k: usize| {
        let speed = top * k as f64 / 11.0;
        let share = 1.0 - (speed / top).powi(2);
        Pull { speed: mm_s(speed), acceleration_mm_s2: (push * share * 1e3).round() as i32 }
    };
    BoatModel {
        pulls: (0..12).map(pull).collect(),
        lag: Span::from_micros((draws.next(0.2, 2.5) * 1e6) as i64),
        coasting_ppm_per_m: draws.next(1_500.0, 4_000.0) as i32,
        ..BoatModel::demonstration()
    }
}

/// 10,000 states on 500 drawn lanes with drawn boats.
#[test]
fn ten_thousand_random_states_agree_with_an_independent_planner() {
    let lanes = 500_u64;
    let errors: Vec<(f64, String)> = (0..lanes)
        .into_par_iter()
        .flat_map_iter(|seed| {
            let mut draws = Draws(seed * 7_919 + 1);
            draws.next(0.0, 1.0);
            let (lane, boat) = (drawn_lane(&mut draws), drawn_boat(&mut draws));
            let (planner, second) = (Planner::new(&lane, &boat).unwrap(), SecondOpinion::new(&lane, &boat));
            let states = (0..20).map(move |_| {
                let to_line = draws.next(1.0, second.lap().min(2_500.0));
                let (speed, open_for) = (draws.next(10.0, 90.0), draws.next(-3.0, 6.0).max(0.0));
                let ours = seconds(&planner, &standing(to_line, speed, open_for));
                let theirs = second.time(to_line, speed, open_for);
                (
                    ours - theirs,
                    format!(
                        "seed {seed}: {to_line:.1} m, {speed:.2} m/s, {open_for:.2} s: {ours:.4} {theirs:.4}"
                    ),
                )
            });
            states.collect::<Vec<_>>()
        })
        .collect();
    let worst = errors.iter().max_by(|a, b| a.0.abs().total_cmp(&b.0.abs())).unwrap();
    let rms = (errors.iter().map(|(e, _)| e * e).sum::<f64>() / errors.len() as f64).sqrt();
    println!("{} states: rms {:.2} ms, worst {:.2} ms ({})", errors.len(), rms * 1e3, worst.0 * 1e3, worst.1);
    assert!(worst.0.abs() < 0.020, "{}", worst.1);
}

/// The boat of a demonstration with one figure changed.
fn demonstration(change: impl Fn(&mut BoatModel)) -> BoatModel {
    let mut boat = BoatModel::demonstration();
    change(&mut boat);
    boat
}

/// What a forecast says it rests on, against finite differences of the independent planner: within a twentieth, and
/// 0.08 s for the whole of a figure (which is 2.4 ms for 3 % of it).
#[test]
fn a_forecast_knows_what_it_rests_on() {
    let boat = BoatModel::demonstration();
    let lane = [straight(480.0), bend(660.0, 56.0), straight(1_380.0), bend(660.0, 56.0), straight(900.0)];
    let slower =
        [straight(480.0), bend(660.0, 55.44), straight(1_380.0), bend(660.0, 55.44), straight(900.0)];
    let weak = demonstration(|boat| {
        boat.pulls.iter_mut().for_each(|pull| pull.acceleration_mm_s2 = pull.acceleration_mm_s2 * 99 / 100);
    });
    let slow = demonstration(|boat| boat.lag = boat.lag + Span::from_millis(100));
    let planner = Planner::new(&lane, &boat).unwrap();
    let second = |lane: &[Stretch], boat: &BoatModel| SecondOpinion::new(lane, boat);
    let (now, bends, pull, lag) =
        (second(&lane, &boat), second(&slower, &boat), second(&lane, &weak), second(&lane, &slow));
    for (to_line, speed) in [(300.0, 48.0), (550.0, 48.0), (800.0, 54.0), (1_100.0, 48.0), (1_500.0, 50.0)] {
        let time = now.time(to_line, speed, 0.0);
        let forecast = planner.forecast(&standing(to_line, speed, 0.0));
        let seconds = |span: Span| span.as_micros() as f64 / 1e6;
        let pairs = [
            ("pull", seconds(forecast.by_pull), (pull.time(to_line, speed, 0.0) - time) * 100.0),
            ("bends", seconds(forecast.by_bends), (bends.time(to_line, speed, 0.0) - time) * 100.0),
            ("lag", f64::from(forecast.by_lag_permille) / 1e3, (lag.time(to_line, speed, 0.0) - time) * 10.0),
        ];
        // Where a little more speed just reaches a bend's limit the slope has a kink: ours lies between both sides' slopes.
        let by_speed = seconds(forecast.by_speed);
        let sides = [
            (time - now.time(to_line, speed * 1.01, 0.0)) * 100.0,
            (now.time(to_line, speed * 0.99, 0.0) - time) * 100.0,
        ];
        let (least, most) = (sides[0].min(sides[1]), sides[0].max(sides[1]));
        let allowed = 0.08 + 0.05 * most.abs();
        let between = (least - allowed..=most + allowed).contains(&by_speed);
        assert!(between, "speed, {to_line} m, {speed} m/s: {by_speed} {sides:?}");
        for (name, ours, theirs) in pairs {
            let allowed = 0.08 + 0.05 * theirs.abs();
            assert!((ours - theirs).abs() < allowed, "{name}, {to_line} m, {speed} m/s: {ours} {theirs}");
        }
    }
}
