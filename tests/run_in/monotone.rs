//! What must hold for any state: properties named by what they say.
//!
//! Rounding, and steps of time that fall otherwise, may turn an equality by a little: 8 ms at most were seen over
//! 240,000 drawn pairs, with a boat within 1 m/s of its top speed; 5 ms elsewhere. Hence the grace.

use firmware::run_in::boat::{BoatModel, Pull};
use firmware::run_in::planner::{Planner, Standing, Stretch};
use firmware::run_in::risk::{Advice, advise, hold};
use firmware::units::{Millimetres, MmPerSecond, Span};
use proptest::prelude::*;

/// What rounding and steps may come to.
const GRACE: Span = Span::from_millis(12);

fn stretches() -> impl Strategy<Value = Vec<Stretch>> {
    let straight = || (50_000_i64..1_200_000).prop_map(|mm| (mm, MmPerSecond::MAX));
    let bend = (80_000_i64..700_000, 30_000_i32..75_000).prop_map(|(mm, v)| (mm, MmPerSecond::from_mm_s(v)));
    let pair = (bend, straight());
    (straight(), proptest::collection::vec(pair, 1..6)).prop_map(|(first, pairs)| {
        let rest = pairs.into_iter().flat_map(|(bend, straight)| [bend, straight]);
        let stretch = |(mm, limit)| Stretch { length: Millimetres::from_mm(mm), limit };
        std::iter::once(first).chain(rest).map(stretch).collect()
    })
}

fn boats() -> impl Strategy<Value = BoatModel> {
    (4_000_i32..12_000, 75_000_i32..125_000, 0_i64..2_500, 1_500_i32..4_000).prop_map(
        |(push, top, lag, coast)| {
            let pull = |k: i32| {
                let speed = top / 11 * k;
                let share = 1.0 - (f64::from(k) / 11.0).powi(2);
                Pull {
                    speed: MmPerSecond::from_mm_s(speed),
                    acceleration_mm_s2: (f64::from(push) * share) as i32,
                }
            };
            BoatModel {
                pulls: (0..12).map(pull).collect(),
                lag: Span::from_millis(lag),
                coasting_ppm_per_m: coast,
                ..BoatModel::demonstration()
            }
        },
    )
}

fn standings() -> impl Strategy<Value = Standing> {
    (0_i64..3_000_000, 0_i32..100_000, 0_i64..8_000).prop_map(|(mm, speed, open)| Standing {
        to_line: Millimetres::from_mm(mm),
        speed: MmPerSecond::from_mm_s(speed),
        open_for: Span::from_millis(open),
    })
}

fn within(planner: &Planner, standing: Standing) -> Standing {
    Standing { to_line: standing.to_line.min(planner.lap()), ..standing }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn a_boat_that_is_already_faster_never_crosses_later(
        lane in stretches(), boat in boats(), at in standings(), more in 0_i32..20_000,
    ) {
        let planner = Planner::new(&lane, &boat).unwrap();
        let at = within(&planner, at);
        let faster = Standing { speed: at.speed + MmPerSecond::from_mm_s(more), ..at };
        prop_assert!(planner.forecast(&faster).time <= planner.forecast(&at).time + GRACE);
    }

    #[test]
    fn a_boat_that_pulls_harder_never_crosses_later(
        lane in stretches(), boat in boats(), at in standings(), percent in 100_i32..150,
    ) {
        let mut harder = boat.clone();
        for pull in &mut harder.pulls {
            pull.acceleration_mm_s2 = pull.acceleration_mm_s2 * percent / 100;
        }
        let (planner, harder) = (Planner::new(&lane, &boat).unwrap(), Planner::new(&lane, &harder).unwrap());
        let at = within(&planner, at);
        prop_assert!(harder.forecast(&at).time <= planner.forecast(&at).time + GRACE);
    }

    #[test]
    fn a_boat_that_takes_bends_faster_never_crosses_later(
        lane in stretches(), boat in boats(), at in standings(), more in 0_i32..20_000,
    ) {
        let faster: Vec<Stretch> = lane
            .iter()
            .map(|stretch| Stretch { limit: stretch.limit + MmPerSecond::from_mm_s(more), ..*stretch })
            .collect();
        let (planner, faster) = (Planner::new(&lane, &boat).unwrap(), Planner::new(&faster, &boat).unwrap());
        let at = within(&planner, at);
        prop_assert!(faster.forecast(&at).time <= planner.forecast(&at).time + GRACE);
    }

    #[test]
    fn a_throttle_that_is_open_longer_never_crosses_later(
        lane in stretches(), boat in boats(), at in standings(), more in 0_i64..4_000,
    ) {
        let planner = Planner::new(&lane, &boat).unwrap();
        let at = within(&planner, at);
        let longer = Standing { open_for: at.open_for + Span::from_millis(more), ..at };
        prop_assert!(planner.forecast(&longer).time <= planner.forecast(&at).time + GRACE);
    }

    #[test]
    fn a_longer_way_is_never_sooner(
        lane in stretches(), boat in boats(), at in standings(), more in 0_i64..300_000,
    ) {
        let planner = Planner::new(&lane, &boat).unwrap();
        let at = within(&planner, at);
        let farther = within(&planner, Standing { to_line: at.to_line + Millimetres::from_mm(more), ..at });
        prop_assert!(planner.forecast(&farther).time + GRACE >= planner.forecast(&at).time);
    }

    #[test]
    fn the_same_state_gives_the_same_bits(lane in stretches(), boat in boats(), at in standings()) {
        let (one, two) = (Planner::new(&lane, &boat).unwrap(), Planner::new(&lane, &boat).unwrap());
        prop_assert_eq!(one.forecast(&at), two.forecast(&at));
    }

    #[test]
    fn no_way_and_no_speed_is_too_much(
        lane in stretches(), boat in boats(), mm: i64, speed: i32, open: i64,
    ) {
        let planner = Planner::new(&lane, &boat).unwrap();
        let forecast = planner.forecast(&Standing {
            to_line: Millimetres::from_mm(mm),
            speed: MmPerSecond::from_mm_s(speed),
            open_for: Span::from_micros(open),
        });
        prop_assert!(forecast.time >= Span::ZERO);
    }

    #[test]
    fn a_longer_error_bar_never_asks_for_less_margin(us in 0_i64..2_000_000, more in 0_i64..2_000_000, ppm in 1_000_u32..500_000) {
        let (short, long) = (Span::from_micros(us), Span::from_micros(us + more));
        prop_assert!(hold(long, ppm) >= hold(short, ppm));
    }

    #[test]
    fn a_later_zero_never_turns_hold_into_go(margin in -3_000_000_i64..3_000_000, later in 0_i64..3_000_000) {
        let advice = |us: i64| {
            advise(Span::from_micros(us), Span::from_millis(60), Span::from_millis(140), Span::from_millis(400))
        };
        if advice(margin) == Advice::Hold {
            prop_assert_eq!(advice(margin - later), Advice::Hold);
        }
    }
}
