//! The board's very program, from pin edges to pixels, against the host: what is flashed runs on an emulated RP2040
//! with models of all attached parts, meets the same heats as the simulator, and must decide the same.
//!
//! `tests/all board` builds the program, names it in `GUNLINE_ELF` and runs this; `--nocapture` shows the figures.
//!
//! A green run shows that the program agrees with the host under this model of the chip. It is not checked on
//! silicon: the model enters handlers at no cost, its flash is never slow, and its parts are as ideal as their data
//! sheets.

mod bench;
mod facts;
mod image;
mod learned;
mod live;
mod played;
mod proof;
mod record;
mod table;
mod talkative;
mod uf2;
mod usb;

use std::path::Path;

use facts::Fact;
use firmware::run_in::Advice;
use gunline::replay::replay;
use played::{PLAYED, Played, RESTARTS, TRIES, played, unbroken};

/// Stamps of pulses may be a microsecond late, and all that hangs on them is rounded a few times more.
const STAMPS_US: i64 = 5;

#[test]
fn the_program_restarts_only_when_made_to_loses_no_event_and_uses_no_part_against_its_data_sheet() {
    for Played { name, run, .. } in PLAYED.iter() {
        assert!(run.stats.resets.iter().all(|start| start.asked), "{name}: {:?}", run.stats.resets);
        assert_eq!(run.stats.violations, Vec::<serde_json::Value>::new(), "{name}");
    }
    assert_eq!(played("restarts").run.stats.resets.len() as i64, 1 + RESTARTS);
    assert_eq!(unbroken().count(), 3);
    // While a program starts, the receiver goes on: what finds no room then is counted, and no loss.
    assert!(unbroken().all(|played| played.run.stats.overflows == 0), "events found no room");
}

/// The last page of the journal is still in RAM when the power goes, so the record of a life ends a second early at
/// most; the input it ends with may lack its decisions.
#[test]
fn each_life_in_the_boards_record_is_whole_and_replays_to_its_own_decisions_bit_for_bit() {
    for Played { name, run, lives, .. } in PLAYED.iter() {
        assert_eq!(lives.len(), run.stats.resets.len(), "{name}: a life for each start of the program");
        let mut inputs = 0;
        for life in lives {
            let replayed = replay(&run.journal[life.bytes.start..life.last_input]).unwrap();
            assert!(replayed.agrees(), "{name}: {replayed:?}");
            assert_eq!(replayed.inputs + 1, life.steps.len() as u64);
            inputs += life.steps.len() as u64;
        }
        let unrecorded = run.stats.feed.count - inputs;
        // Some 90 inputs a second: fixes, pulses, readings, shaft reports, wakes.
        assert!(unrecorded < 150 * lives.len() as u64, "{name}: {unrecorded} inputs are not in the record");
    }
}

#[test]
fn zeros_calls_and_laps_are_those_of_the_simulators_own_run_within_microseconds() {
    for played in unbroken() {
        let (board, simulator) = facts::both(played);
        let names = |facts: &[Fact]| facts.iter().map(|(name, _)| name.clone()).collect::<Vec<_>>();
        // The heat by the number ends with the start: its lap would take a minute more.
        let last = if played.name == "number" { "run-in" } else { "finish" };
        assert!(names(&board).iter().any(|name| name.starts_with(last)), "{}: {board:?}", played.name);
        assert_eq!(names(&board), names(&simulator), "{}", played.name);
        let apart = facts::apart(&board, &simulator);
        assert!(apart <= STAMPS_US, "{}: {apart}\n{board:?}\n{simulator:?}", played.name);
    }
}

/// Restarts on board and in the simulator take times of their own, so zero and with it the margin may differ by what
/// the dash itself says; a lap is the receiver's business.
#[test]
fn the_call_and_the_laps_survive_a_power_cut_and_a_hung_program() {
    let (board, simulator) = facts::both(played("faults"));
    let of = |facts: &[Fact], kind: &str| -> Vec<Fact> {
        facts.iter().filter(|(name, _)| name.starts_with(kind)).cloned().collect()
    };
    for kind in ["lap", "finish"] {
        let (board, simulator) = (of(&board, kind), of(&simulator, kind));
        assert_eq!(board.len(), 1, "{kind}: {board:?}");
        assert_eq!(board[0].0, simulator[0].0);
    }
    assert!(facts::apart(&of(&board, "lap"), &of(&simulator, "lap")) <= STAMPS_US);
    let (board, simulator) = (of(&board, "call"), of(&simulator, "call"));
    assert_eq!(board[0].0, simulator[0].0);
    let (margin, sigma) = (board[0].1[0], board[0].1[1]);
    assert!((margin - simulator[0].1[0]).abs() <= 4 * sigma, "{board:?} {simulator:?}");
}

#[test]
fn the_displays_memory_is_the_hosts_rendering_pixel_for_pixel_at_ten_moments_of_each_heat() {
    for played in PLAYED.iter().filter(|played| played.name != "restarts") {
        let threes: Vec<_> = played.threes().collect();
        assert_eq!(threes.len(), 10);
        for (three, first) in threes.iter().zip(played.run.looks.iter().step_by(TRIES)) {
            assert!(!three.is_empty(), "{}: no whole picture at {}", played.name, first.label);
            for look in three {
                let host = facts::picture(played, look).expect("as many inputs in the record as were fed");
                assert!(
                    host.bytes()[..] == look.bytes(),
                    "{}: the picture at {} is not the host's:\n{}",
                    played.name,
                    look.label,
                    side_by_side(&look.bytes(), host.bytes())
                );
            }
        }
    }
}

/// Two pictures as text: lit on both, on the board alone, on the host alone.
fn side_by_side(board: &[u8], host: &[u8]) -> String {
    let lit = |picture: &[u8], x: usize, y: usize| picture[y / 8 * 128 + x] >> (y % 8) & 1 == 1;
    let row = |y: usize| {
        let cell = |x: usize| match (lit(board, x, y), lit(host, x, y)) {
            (true, true) => '#',
            (true, false) => 'B',
            (false, true) => 'H',
            (false, false) => '.',
        };
        (0..128).map(cell).collect::<String>()
    };
    (0..64).map(row).collect::<Vec<_>>().join("\n")
}

/// What the driver goes by: the board's own dash, lived again on the host up to a moment of the heat, has a margin and
/// a word for it, and the display shows nothing else (see above).
#[test]
fn the_board_tells_him_to_hold_and_then_to_go() {
    let played = played("number");
    let advice = |look: &bench::Look| {
        let drawn = look.drawn.filter(|drawn| drawn.settled == 1)?;
        let dash = played.lives[0].again(drawn.inputs as usize)?;
        dash.view(firmware::units::Instant::from_micros(drawn.at_us)).run_in
    };
    let seen: Vec<_> = played.run.looks.iter().filter_map(advice).map(|view| view.advice).collect();
    let first = |wanted| seen.iter().position(|advice| *advice == wanted);
    assert!(first(Advice::Hold).is_some() && first(Advice::Hold) < first(Advice::Go), "{seen:?}");
}

/// The budget is that of the whole decision, of which a forecast is a part; he gets one or a few each fix.
#[test]
fn a_forecast_is_a_small_part_of_what_a_decision_may_cost() {
    let stats = played::forecasts();
    println!(
        "forecasts of the run-in: {}, {} cycles in the mean, {} at the most",
        stats.count, stats.mean_cycles, stats.max_cycles
    );
    assert!(stats.count > 500, "{stats:?}");
    assert!(stats.max_cycles <= budgets()["feed_cycles"].as_integer().unwrap() as u64 / 2, "{stats:?}");
}

#[test]
fn presses_and_closures_are_stamped_within_2_us_of_their_edges() {
    for played in unbroken() {
        let late = facts::stamps_late_us(played);
        assert!(late.len() >= 3, "{}: {late:?}", played.name);
        assert!(late.iter().all(|late| late.is_some_and(|us| us <= 2)), "{}: {late:?}", played.name);
    }
}

#[test]
fn beeper_and_lamps_follow_the_fact_within_10_ms() {
    for played in unbroken() {
        let beeps = facts::beeper_after_us(played);
        assert!(beeps.len() >= 8, "{}: {beeps:?}", played.name);
        assert!(beeps.iter().all(|us| *us <= 10_000.0), "{}: {beeps:?}", played.name);
        let lamps = facts::lamps_after_us(played);
        assert!(lamps.iter().all(|us| *us <= 10_000.0), "{}: {lamps:?}", played.name);
    }
    assert!(!facts::lamps_after_us(played("presses")).is_empty(), "the jumped gun lights a lamp");
}

/// A press is a fact at its edge: what it sounds must follow from there, not from the stamp alone.
#[test]
fn the_first_signal_is_answered_by_the_beeper_within_10_ms_of_its_edge() {
    for played in unbroken() {
        let us = facts::first_answer_us(played);
        assert!(us <= 10_000.0, "{}: {us}", played.name);
    }
}

#[test]
fn after_each_of_nine_restarts_at_drawn_moments_the_same_zero_is_shown_within_500_ms() {
    let played = played("restarts");
    for life in 1..played.lives.len() {
        let back = facts::back(played, life).unwrap_or_else(|| panic!("zero is lost in life {life}"));
        assert!(back.known_ms <= 500.0 && back.shown_ms <= 500.0, "{back:?}");
        assert!(back.beside_ms.abs() <= 4.0 * back.sigma_ms, "{back:?}");
    }
}

/// Shows all figures too, as one table.
#[test]
fn what_the_program_costs_stays_within_its_budgets() {
    let budgets = budgets();
    println!("{}", table::figures(&budgets));
    let budget = |name: &str| budgets[name].as_integer().unwrap() as u64;
    for Played { name, run, .. } in PLAYED.iter() {
        let stats = &run.stats;
        assert!(stats.feed.count > 1_000, "{name}: the emulator saw no decision being made");
        assert!(stats.feed.max_cycles <= budget("feed_cycles"), "{name}: {:?}", stats.feed);
        assert!(stats.stack_high_water_bytes > 0, "{name}: the stack was not measured");
        assert!(stats.stack_high_water_bytes <= budget("stack_bytes"), "{name}: {stats:?}");
        let deep = stats.deep_stack_high_water_bytes;
        assert!(deep > 0 && deep <= budget("deep_stack_bytes"), "{name}: {stats:?}");
        let awake_percent = stats.awake_share * 100.0;
        assert!(awake_percent <= budget("awake_percent") as f64, "{name}: awake {awake_percent:.1} %");
    }
}

fn budgets() -> toml::Table {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../firmware/boards/pico/budgets.toml");
    std::fs::read_to_string(path).unwrap().parse().unwrap()
}
