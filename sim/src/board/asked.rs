//! The shorter questions of `gunline board`: UTC, what was learned, what the engine suffered, readings, the picture.
//!
//! Each finds the board, asks, and gives what is to be said.

use std::fmt::Write;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use firmware::engine::suffered::Accounts;
use firmware::engine::thermocouple;
use firmware::gnss::calendar::rfc3339;
use firmware::output::{Quantity, Suffering};
use firmware::settings::Settings;
use firmware::talk::{Answer, Readings, Request, Turning};
use firmware::units::{self, Span, Utc};
use serde_json::json;

use super::conversation::{Conversation, Reach, Unanswered};
use super::port::Line;
use super::said::Said;
use super::{Trouble, words};
use crate::words as common;

/// So often the board is asked what its clock shows; the quickest answer tells it best.
const QUESTIONS: u32 = 16;

type Board = Conversation<Box<dyn Line>>;

/// Asks for something that only is done or is not.
fn change(board: &mut Board, request: &Request<'_>) -> Result<(), Trouble> {
    let answer = board.ask(request, |answer| match answer {
        Answer::Done => Ok(()),
        other => Err(words::unexpected(&other)),
    });
    match answer {
        Err(Unanswered::For(trouble)) => Err(trouble),
        Err(_) => Err(Trouble::InDoubt),
        Ok(()) => Ok(()),
    }
}

fn read(board: &mut Board) -> Result<Readings, Unanswered> {
    board.ask(&Request::Readings, |answer| match answer {
        Answer::Readings(readings) => Ok(readings),
        other => Err(words::unexpected(&other)),
    })
}

fn settings(board: &mut Board) -> Result<Settings, Unanswered> {
    board.ask(&Request::ReadSettings, |answer| match answer {
        Answer::Settings { bytes, .. } => Settings::decode(bytes).ok_or(Trouble::Nonsense),
        other => Err(words::unexpected(&other)),
    })
}

/// This machine's UTC, and the way there and back of the question with which the board's clock was read.
struct Reading {
    at: units::Instant,
    utc: Utc,
    took: Duration,
}

fn read_clock(board: &mut Board) -> Result<Reading, Unanswered> {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    let asked = Instant::now();
    let at = read(board)?.at;
    let took = asked.elapsed();
    let utc = i64::try_from((since + took / 2).as_micros()).unwrap_or(i64::MAX);
    Ok(Reading { at, utc: Utc::from_unix_micros(utc), took })
}

/// Tells the board this machine's UTC. Half of the question's way is the most that the board's reading may be off by on
/// either side, whatever the cable did; it is taken for one standard deviation beside that of this machine's clock.
pub fn utc(reach: &Reach, clock_sd: Span) -> Result<Said, Trouble> {
    let (mut board, _) = reach.connect()?;
    let mut best: Option<Reading> = None;
    for _ in 0..QUESTIONS {
        let reading = read_clock(&mut board)?;
        if best.as_ref().is_none_or(|best| reading.took < best.took) {
            best = Some(reading);
        }
    }
    let Some(Reading { at, utc, took }) = best else { return Err(Trouble::Silent) };
    let half = Span::from_micros(i64::try_from(took.as_micros() / 2).unwrap_or(i64::MAX));
    // The root of the sum is rounded down, and the board wants no less than half a millisecond.
    let sd = Span::root_sum_square(&[clock_sd, half]).max(Span::from_micros(500));
    change(&mut board, &Request::Utc { at, utc, sd })?;
    let text = format!(
        "told: {} UTC, known to {} s (this machine's clock {}, half the cable's way {})\n",
        rfc3339(utc),
        common::sigma(sd),
        common::sigma(clock_sd),
        common::sigma(half)
    );
    let values = json!({
        "utc_us": utc.as_unix_micros(), "board_us": at.as_micros(), "sd_us": sd.as_micros(),
        "clock_sd_us": clock_sd.as_micros(), "half_way_us": half.as_micros(),
    });
    Ok(Said::new(text, &values))
}

/// What was asked to be done with an offer.
pub const fn answer(accept: bool, refuse: bool) -> Option<bool> {
    if accept || refuse { Some(accept) } else { None }
}

/// Shows what is offered, and answers it.
pub fn learned(reach: &Reach, answer: Option<bool>) -> Result<Said, Trouble> {
    let (mut board, _) = reach.connect()?;
    let offer = board.ask(&Request::Learned, |answer| match answer {
        Answer::Learned(offer) => Ok(offer),
        other => Err(words::unexpected(&other)),
    })?;
    let units = settings(&mut board)?.screen.units;
    if let (Some(_), Some(accept)) = (offer, answer) {
        change(&mut board, &Request::Offer { accept })?;
    }
    let Some(offer) = offer else {
        let says = "nothing is offered: too few hot laps, put away until the next clock, or a clock runs";
        return if answer.is_some() {
            Err(Trouble::Refused(says.to_owned()))
        } else {
            Ok(Said::new(format!("{says}\n"), &json!({ "offer": null })))
        };
    };
    let done = match answer {
        None => "take it over: gunline board learned --accept; put it away: --refuse",
        Some(true) => "accepted: the board runs on it from now on, and keeps it",
        Some(false) => "put away until the next clock; nothing was changed",
    };
    let text = format!("{}\n{done}\n", common::learned(false, &offer, units));
    Ok(Said::new(text, &json!({ "offer": offer, "accepted": answer })))
}

fn suffered(board: &mut Board) -> Result<Accounts, Unanswered> {
    board.ask(&Request::Suffered, |answer| match answer {
        Answer::Suffered(accounts) => Ok(accounts),
        other => Err(words::unexpected(&other)),
    })
}

fn account(accounts: &Accounts, settings: &Settings) -> String {
    let watch = &settings.engine.watch;
    let bands = (0..=u8::try_from(watch.bands.len()).unwrap_or_default()).map(Suffering::BandSeconds);
    let exceeded = [Quantity::Egt, Quantity::N1, Quantity::N2].map(Suffering::Exceeded);
    let all = [Suffering::RunSeconds, Suffering::Starts, Suffering::HotStarts]
        .into_iter()
        .chain(bands)
        .chain(exceeded);
    all.fold(format!("{:<26}{:>12}{:>12}\n", "", "this heat", "in all"), |mut text, what| {
        let (name, unit) = common::suffering(what, watch);
        let figure =
            |account: &firmware::engine::suffered::Account| format!("{} {unit}", account.figure(what));
        let _ = writeln!(text, "{name:<26}{:>12}{:>12}", figure(&accounts.heat), figure(&accounts.total));
        text
    })
}

/// Shows what the engine has suffered.
pub fn engine(reach: &Reach) -> Result<Said, Trouble> {
    let (mut board, _) = reach.connect()?;
    let (accounts, settings) = (suffered(&mut board)?, settings(&mut board)?);
    Ok(Said::new(account(&accounts, &settings), &accounts))
}

/// Sets that to nothing, or says what would be lost.
pub fn reset_engine(reach: &Reach, yes: bool) -> Result<Said, Trouble> {
    let (mut board, _) = reach.connect()?;
    let (accounts, settings) = (suffered(&mut board)?, settings(&mut board)?);
    eprint!("the board's account of its engine:\n{}", account(&accounts, &settings));
    if !yes {
        let says = "nothing was done. To lose this account for good: gunline board engine-reset --yes";
        return Err(Trouble::Refused(says.to_owned()));
    }
    change(&mut board, &Request::ForgetSuffered)?;
    eprintln!("it is set to nothing. The board's record holds what it was, and that it was reset");
    Ok(Said::new(String::new(), &json!({ "was": accounts })))
}

/// Shows what the sensors say.
pub fn readings(reach: &Reach) -> Result<Said, Trouble> {
    let (mut board, _) = reach.connect()?;
    let it = read(&mut board)?;
    let ago = |at: units::Instant| format!("{} s ago", common::seconds(it.at.since(at)));
    let mut rows: Vec<(String, String)> = Vec::new();
    for (index, probe) in it.probes.iter().enumerate() {
        let Some(raw) = probe else { continue };
        let value = thermocouple::decode(*raw);
        let value = value.map_or_else(
            |fault| format!("{fault:?}"),
            |is| {
                let degrees = |milli: i32| f64::from(milli) / 1e3;
                format!("{} °C, cold junction {} °C", degrees(is.hot.as_milli()), degrees(is.cold.as_milli()))
            },
        );
        rows.push((format!("probe {}", index + 1), format!("{value} ({raw:x?})")));
    }
    let shaft = |turning: Turning| {
        let hertz = f64::from(turning.pulses.count) * 1e6 / turning.pulses.span.as_micros() as f64;
        format!("{hertz:.2} Hz, {} pulses in all, {}", turning.total, ago(turning.at))
    };
    rows.push(("N1".into(), it.n1.map_or("silent".into(), shaft)));
    rows.push(("N2".into(), it.n2.map_or("silent".into(), shaft)));
    let fix = it.fix.map_or("none".into(), |(at, fix)| format!("{} UTC, {}", rfc3339(fix.utc), ago(at)));
    rows.push(("fix".into(), fix));
    rows.push(("pulse per second".into(), it.pulse.map_or("none".into(), ago)));
    let crystal = it.crystal.map_or("not measured".into(), |(error, sd)| {
        format!("{} ppb, known to {}", error.as_ppb(), sd.as_ppb())
    });
    rows.push(("crystal".into(), crystal));
    let text = rows.iter().map(|(name, value)| format!("{name:<26}{value}\n")).collect();
    Ok(Said::new(text, &it))
}

/// Shows the picture on the board's screen, two rows of pixels a line.
pub fn picture(reach: &Reach) -> Result<Said, Trouble> {
    let (mut board, _) = reach.connect()?;
    let bytes = board.ask(&Request::Picture, |answer| match answer {
        Answer::Picture(bytes) => Ok(bytes.to_vec()),
        other => Err(words::unexpected(&other)),
    })?;
    let lit = |x: usize, y: usize| bytes.get(y / 8 * 128 + x).is_some_and(|byte| byte >> (y % 8) & 1 == 1);
    let line = |row: usize| -> String {
        let cell = |x: usize| match (lit(x, row * 2), lit(x, row * 2 + 1)) {
            (true, true) => '█',
            (true, false) => '▀',
            (false, true) => '▄',
            (false, false) => ' ',
        };
        (0..128).map(cell).collect()
    };
    let text = (0..32).map(|row| format!("|{}|\n", line(row))).collect();
    let hex = crate::timeline::hex(&bytes);
    Ok(Said::new(text, &json!({ "width": 128, "height": 64, "pages": hex })))
}
