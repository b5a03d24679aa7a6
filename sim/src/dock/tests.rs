//! Starts in numbers: repeatable, sensible, and counted right.

use indicatif::ProgressBar;

use super::drawn::Cause;
use super::tally::tally;
use super::{Kind, Starts, starts};
use crate::scenario;

fn drawn(count: u64, seed: u64) -> Starts {
    let heat = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("heats/good-start.toml");
    starts(&scenario::load(&heat).unwrap(), None, seed, count, ProgressBar::hidden()).unwrap()
}

#[test]
fn equal_seeds_give_equal_starts_on_any_number_of_threads() {
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| drawn(24, 5))
    };
    assert_eq!(on(1), on(3));
    assert_ne!(on(1).outcomes, drawn(24, 6).outcomes);
}

/// What handbooks say of causes must come out of the physics: no spark, no fire; a sound engine starts well.
#[test]
fn causes_lead_where_handbooks_say() {
    let all = drawn(300, 1);
    let of = |cause: Cause| all.outcomes.iter().filter(move |outcome| outcome.cause == cause);
    assert!(of(Cause::NoSpark).all(|outcome| outcome.kind == Kind::Dark));
    // Fire that is late and quick at once makes a sound engine's start warm now and then.
    assert!(of(Cause::Sound).all(|outcome| matches!(outcome.kind, Kind::Good | Kind::Warm)));
    let good = of(Cause::Sound).filter(|outcome| outcome.kind == Kind::Good).count();
    assert!(good * 100 >= of(Cause::Sound).count() * 95, "{good}");
    assert!(
        of(Cause::Rich).filter(|outcome| outcome.kind == Kind::Hot).count() * 3 > of(Cause::Rich).count()
    );
    assert!(of(Cause::Soon).any(|outcome| outcome.kind == Kind::Hot));
    assert!(all.outcomes.iter().all(|outcome| (outcome.kind == Kind::Hot) == (outcome.peak_c > 900.0)));
}

#[test]
fn every_start_is_counted_once() {
    let all = drawn(60, 2);
    let counted = tally(&all);
    assert_eq!(counted.kinds.iter().map(|(_, count, _)| count).sum::<usize>(), 60);
    assert_eq!(counted.causes.iter().map(|(_, count, ..)| count).sum::<usize>(), 60);
    assert_eq!(
        counted.hot,
        all.outcomes.iter().filter(|outcome| outcome.limit_s.is_some() && outcome.peak_c > 900.0).count()
    );
}

/// What 2,000 starts of a seed that nothing was tuned on must show: the figures of docs/engine.md, as far as their
/// exact 95 % intervals allow. The first aim (99 % said a second before) is not reached: that page says why.
#[cfg(not(debug_assertions))]
#[test]
fn hot_starts_are_said_and_good_ones_are_not_as_often_as_the_page_says() {
    let tally = tally(&drawn(2_000, 7));
    assert!(tally.before.low >= 0.98, "before the limit: {:?}", tally.before);
    assert!(tally.in_time.high >= 0.25, "a second before it: {:?}", tally.in_time);
    assert!(tally.false_on_good.low <= 0.005, "on good ones: {:?}", tally.false_on_good);
    let early = tally.leads_s.iter().filter(|lead| **lead >= 0.5).count();
    assert!(early * 100 >= tally.leads_s.len() * 97, "half a second before it: {early} of {}", tally.hot);
}
