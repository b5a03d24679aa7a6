//! The proof finds what is wrong: each fault planted in the timing logic is caught by the rule that it breaks.
//!
//! And each way to break a rule is written as a heat that can be read. One test, since a planted fault stands in the
//! whole program.

#![allow(clippy::unwrap_used, reason = "a test that fails panics")]

use std::path::Path;

use firmware::mutant::{Mutant, plant};
use gunline::prove::counter;
use gunline::prove::search::{Bounds, search};
use gunline::prove::stage::Scene;
use gunline::scenario;
use indicatif::ProgressBar;

/// Deeper than the shortest way to each of them.
const DEPTH: u32 = 45;

#[test]
fn each_planted_fault_is_caught_by_the_rule_that_it_breaks() {
    let scene = Scene::new();
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("mutants");
    let mut missed = Vec::new();
    for mutant in Mutant::ALL {
        plant(Some(mutant));
        let found = search(&scene, Bounds { depth: DEPTH, first: true }, &ProgressBar::hidden());
        let caught: Vec<_> = found.broken.keys().copied().collect();
        let steps = found.broken.values().map(|counter| counter.steps.len()).min();
        println!("{mutant:?}: caught by {caught:?} after {steps:?} happenings, {} states", found.states);
        if !caught.contains(&mutant.rule()) {
            missed.push((mutant, caught));
        }
        for counter in found.broken.values() {
            let heat = counter::write(counter, &folder.join(format!("{mutant:?}"))).unwrap();
            assert!(scenario::load(&heat).is_ok(), "{} is no heat", heat.display());
        }
    }
    plant(None);
    assert!(missed.is_empty(), "{missed:?}");
}
