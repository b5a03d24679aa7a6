//! A board's standing and its refusals, in words.

use std::fmt::Write;

use firmware::bench::BenchFault;
use firmware::talk::{Answer, Check, Refusal, Restart, Scheduled, SettingsFrom, Standing, Wrong};

use super::Trouble;

/// A board's standing, a line each.
#[must_use]
pub fn standing(board: &Standing) -> String {
    let [major, minor, patch] = board.firmware;
    let (test, journal) = (&board.self_test, &board.journal);
    let fitted = test.probes.iter().enumerate().filter(|(_, check)| **check != Check::NotFitted);
    let probes: Vec<_> = fitted.map(|(index, how)| format!("{} {}", index + 1, check(*how))).collect();
    let rows = [
        ("firmware", format!("{major}.{minor}.{patch}, program {:08x}", board.program)),
        ("start clock", if board.clock_runs { "runs" } else { "waits" }.to_owned()),
        ("settings", from(board.settings).to_owned()),
        ("receiver", check(test.receiver).to_owned()),
        ("pulse per second", check(test.pulse).to_owned()),
        ("probes", if probes.is_empty() { check(Check::NotFitted).to_owned() } else { probes.join(", ") }),
        ("N1, N2", format!("{}, {}", check(test.n1), check(test.n2))),
        ("storage chip", test.chip.map_or("does not answer".to_owned(), |id| format!("{id:06x}"))),
        ("started by", restart(test.restarted).to_owned()),
        ("inputs without room", test.overflows.to_string()),
        ("journal", format!("positions {} to {}", journal.oldest, journal.acknowledged)),
        ("room to record", bytes(journal.room.into())),
        ("records lost, pages torn", format!("{}, {}", journal.lost, journal.torn)),
    ];
    rows.iter().fold(String::new(), |mut text, (name, value)| {
        let _ = writeln!(text, "{name:<26}{value}");
        text
    })
}

/// Where settings came from.
#[must_use]
pub fn from(from: SettingsFrom) -> &'static str {
    match from {
        SettingsFrom::Chip => "from its chip",
        SettingsFrom::Defaults => "defaults, without a course: none were ever sent",
        SettingsFrom::DefaultsForDamage => "DEFAULTS: what its chip holds is damaged; send them again",
        SettingsFrom::DefaultsForVersion => {
            "DEFAULTS: what its chip holds is whole, but of another version; send them again from the settings file"
        }
    }
}

/// What the dash made of a schedule.
#[must_use]
pub fn scheduled(fate: Scheduled) -> &'static str {
    match fate {
        Scheduled::Set => "the clock runs by it",
        Scheduled::WaitsForUtc => "it waits until the receiver knows the time",
        Scheduled::Past => "this moment is past by the board's clock: nothing was changed",
    }
}

/// An answer that is not the one hoped for, as trouble.
#[must_use]
pub fn unexpected(answer: &Answer<'_>) -> Trouble {
    match answer {
        Answer::Refused(refusal) => refused(refusal),
        _ => Trouble::Nonsense,
    }
}

fn refused(refusal: &Refusal<'_>) -> Trouble {
    match refusal {
        Refusal::NoSession => Trouble::Gone,
        Refusal::Unknown => Trouble::Nonsense,
        Refusal::ClockRuns => Trouble::Refused(
            "refused: a start clock runs. Clear it (hold the button) and try again".to_owned(),
        ),
        Refusal::Settings(wrong) => Trouble::Refused(format!("refused: {}", faulty(wrong))),
        Refusal::NoSuchPosition { acknowledged } => Trouble::NoSuchPosition(*acknowledged),
        Refusal::NotOnTheBench => Trouble::LeftBench,
        Refusal::OnTheBench => {
            Trouble::Refused("refused: the board is on the bench. End that first".to_owned())
        }
        Refusal::EngineTurns => Trouble::Refused(
            "refused: the engine turns. The bench is for a boat at rest, out of gear and cold".to_owned(),
        ),
        Refusal::Bench(fault) => Trouble::Refused(format!("refused: {}", benched(*fault))),
        Refusal::Dash(why) => Trouble::Refused(format!("refused: {}", crate::words::refused(*why))),
        Refusal::Chip => {
            Trouble::Broken("the board's storage chip does not do its work: see docs/wiring.md".to_owned())
        }
    }
}

const fn benched(fault: BenchFault) -> &'static str {
    match fault {
        BenchFault::Unreadable => "these are no inputs: use programs of the same release",
        BenchFault::OutOfOrder => "inputs are not in the order of their moments",
        BenchFault::NoRoom => "the inputs find no room yet",
    }
}

fn faulty(wrong: &Wrong<'_>) -> String {
    match wrong {
        Wrong::Unreadable => "the board cannot read them: use programs of the same release".to_owned(),
        Wrong::Signals => "the list of signals is not in order".to_owned(),
        Wrong::Counts => "the list of counts is not in order".to_owned(),
        Wrong::Span(name) => format!("the time {name} cannot be right"),
        Wrong::Amount(name) => format!("the amount {name} cannot be right"),
        Wrong::Laps => "there are no laps to run".to_owned(),
        Wrong::Course => "the course makes no line".to_owned(),
        Wrong::Engine(name) => format!("the engine's {name} cannot be right"),
        Wrong::Calibration => "a thermocouple's two points cannot be right".to_owned(),
        Wrong::RunIn => {
            "this board's program can make no run-in of [run_in]: it was built without one, or is of another release. \
             Flash it anew, or leave [run_in] out of the settings for it"
                .to_owned()
        }
    }
}

const fn check(check: Check) -> &'static str {
    match check {
        Check::NotFitted => "not fitted",
        Check::Silent => "SILENT",
        Check::Fault => "FAULT",
        Check::Good => "good",
    }
}

const fn restart(restart: Restart) -> &'static str {
    match restart {
        Restart::Power => "power",
        Restart::Watchdog => "its watchdog: the program hung",
        Restart::Panic => "a fault in the program",
    }
}

/// A size in the unit that suits it.
#[must_use]
pub fn bytes(count: u64) -> String {
    match count {
        0..10_000 => format!("{count} bytes"),
        10_000..1_000_000 => format!("{:.1} kB", count as f64 / 1e3),
        _ => format!("{:.2} MB", count as f64 / 1e6),
    }
}
