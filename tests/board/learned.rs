//! A boat that the driver accepts on the board: decided as on the host, and there again after a cut of the power.
//!
//! Plays the hot laps of `heats/laps.toml`. The record on the chip in, agreement out.

use firmware::output::Output;
use gunline::replay::replay;

use crate::record::Life;
use crate::{budgets, facts, played};

/// What a life decided of the boat: offered, accepted.
fn learned(life: &Life) -> Vec<Output> {
    let learned = life.decisions().map(|(_, output)| *output);
    learned.filter(|output| matches!(output, Output::Learned { .. })).collect()
}

#[test]
fn a_boat_that_was_accepted_is_the_simulators_and_is_there_after_a_power_cut() {
    let played = played::hot_laps();
    let stats = &played.run.stats;
    assert_eq!(stats.violations, Vec::<serde_json::Value>::new());
    assert_eq!(stats.overflows, 0);
    let [before, after] = played.lives.as_slice() else { panic!("{:?}", stats.resets) };

    let replayed = replay(&played.run.journal[before.bytes.start..before.last_input]).unwrap();
    assert!(replayed.agrees(), "{replayed:?}");
    let simulator = played.log.decisions.iter().map(|decided| decided.output);
    let simulator: Vec<_> = simulator.filter(|output| matches!(output, Output::Learned { .. })).collect();
    assert!(matches!(
        learned(before).as_slice(),
        [Output::Learned { accepted: false, .. }, Output::Learned { accepted: true, .. }]
    ));
    assert_eq!(learned(before), simulator);

    let boat = |settings: &firmware::settings::Settings| settings.run_in.as_ref().unwrap().boat.clone();
    let accepted = before.again(before.steps.len()).unwrap();
    assert_ne!(boat(accepted.settings()), boat(&before.settings));
    assert_eq!(&after.settings, accepted.settings(), "what the chip gave back");

    let mut compared = 0;
    for look in played.run.looks.iter().filter(|look| look.drawn.is_some_and(|drawn| drawn.settled == 1)) {
        let host = facts::picture(&played, look).unwrap();
        assert!(host.bytes()[..] == look.bytes(), "the picture at {} is not the host's", look.label);
        compared += 1;
    }
    assert!(compared > 0, "{:?}", played.run.looks);

    let feed = stats.feed;
    println!(
        "hot laps: to take the boat over {} cycles, the longest feed besides {}; stack {} B, deep {} B",
        feed.max_cycles, feed.next_cycles, stats.stack_high_water_bytes, stats.deep_stack_high_water_bytes
    );
    let budget = |name: &str| budgets()[name].as_integer().unwrap() as u64;
    assert!(stats.stack_high_water_bytes <= budget("stack_bytes"), "{stats:?}");
    assert!(stats.deep_stack_high_water_bytes <= budget("deep_stack_bytes"), "{stats:?}");
    assert!(feed.next_cycles <= budget("feed_cycles"), "{feed:?}");
    assert!(feed.max_cycles <= budget("accept_cycles"), "{feed:?}");
    // The one feed that may take longer is that which took the boat over: no clock runs then (rule G14).
    let took =
        before.decisions().find(|(_, output)| matches!(output, Output::Learned { accepted: true, .. }));
    let since_us = feed.max_at_us - took.unwrap().0.as_micros() as f64;
    assert!(feed.max_cycles <= budget("feed_cycles") || (0.0..50_000.0).contains(&since_us), "{feed:?}");
}
