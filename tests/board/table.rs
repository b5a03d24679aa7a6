//! The figures of all runs as one table, for people.

use std::fmt::Write as _;

use crate::facts;
use crate::played::{PLAYED, Played, played, unbroken};

/// What was measured, beside what is allowed.
pub fn figures(budgets: &toml::Table) -> String {
    let mut text =
        "\nThe board's program on the emulated chip, under this model of it; not checked on silicon.\n"
            .to_owned();
    costs(&mut text, budgets);
    agreement(&mut text);
    restarts(&mut text);
    text
}

fn costs(text: &mut String, budgets: &toml::Table) {
    let _ = writeln!(
        text,
        "\n{:<10}{:>10}{:>8}{:>8}{:>12}{:>13}{:>12}{:>12}{:>9}{:>8}",
        "run",
        "emulated",
        "took",
        "inputs",
        "feed, mean",
        "feed, most",
        "stack, most",
        "deep stack",
        "awake",
        "starts"
    );
    for Played { name, run, .. } in PLAYED.iter() {
        let stats = &run.stats;
        let _ = writeln!(
            text,
            "{name:<10}{:>8.1} s{:>6.1} s{:>8}{:>9} cy{:>10} cy{:>10} B{:>10} B{:>7.1} %{:>8}",
            stats.emulated_s,
            stats.wall_s,
            stats.feed.count,
            stats.feed.mean_cycles,
            stats.feed.max_cycles,
            stats.stack_high_water_bytes,
            stats.deep_stack_high_water_bytes,
            stats.awake_share * 100.0,
            stats.resets.len()
        );
    }
    let _ = writeln!(
        text,
        "{:<10}{:>47} cy{:>10} B{:>10} B{:>7} %",
        "allowed",
        budgets["feed_cycles"].to_string(),
        budgets["stack_bytes"].to_string(),
        budgets["deep_stack_bytes"].to_string(),
        budgets["awake_percent"].to_string()
    );
}

fn agreement(text: &mut String) {
    let _ = writeln!(
        text,
        "\n{:<10}{:>12}{:>12}{:>10}{:>20}{:>20}{:>17}{:>16}",
        "run",
        "decisions",
        "apart, most",
        "presses",
        "stamped late, most",
        "beeper after, most",
        "lamp after, most",
        "looks alike"
    );
    for played in unbroken() {
        let late = facts::stamps_late_us(played);
        let most = |list: Vec<f64>| list.into_iter().fold(0.0, f64::max) / 1e3;
        let (board, simulator) = facts::both(played);
        let _ = writeln!(
            text,
            "{:<10}{:>12}{:>9} us{:>10}{:>17} us{:>17.1} ms{:>14.1} ms{:>16}",
            played.name,
            board.len(),
            facts::apart(&board, &simulator),
            late.len(),
            late.iter().flatten().max().unwrap_or(&0),
            most(facts::beeper_after_us(played)),
            most(facts::lamps_after_us(played)),
            played.threes().map(|three| three.len()).sum::<usize>()
        );
    }
}

fn restarts(text: &mut String) {
    let played = played("restarts");
    let _ = writeln!(
        text,
        "\n{:<10}{:>10}{:>14}{:>18}{:>18}{:>14}",
        "restart", "reset at", "zero known", "race time shown", "zero beside", "stated sd"
    );
    for life in 1..played.lives.len() {
        let Some(back) = facts::back(played, life) else { continue };
        let _ = writeln!(
            text,
            "{:<10}{:>8.2} s{:>11.0} ms{:>15.0} ms{:>15.2} ms{:>11.2} ms",
            played.run.stats.resets[life].cause,
            back.reset_s,
            back.known_ms,
            back.shown_ms,
            back.beside_ms,
            back.sigma_ms
        );
    }
}
