//! A judgement for a person at a terminal.
//!
//! Knows the judgement and the words. A judgement in, text out.

use std::io::{self, Write};

use firmware::journal::{Why, firmware_version};
use firmware::units::Span;

use super::compare::{Compared, told};
use super::integrity::Ending;
use super::second::zero::{Hand, Rests};
use super::{Answer, Judgement};
use crate::report::calibrations;
use crate::{timeline, words};

/// What an answer means.
pub const fn answer(answer: Answer) -> &'static str {
    match answer {
        Answer::Good => {
            "GOOD: whole, untouched, its inputs lead to its decisions, and a second computation agrees"
        }
        Answer::Altered => "ALTERED: this is not the record that was made. Nothing below is established",
        Answer::NotSigned => "NOT SIGNED by the key that was named. Nothing below is established",
        Answer::ReplaysOtherwise => "DOUBTFUL: its inputs do not lead to its decisions",
        Answer::OtherFirmware => {
            "UNDECIDED: another firmware made it, and this program decides otherwise; judge it with that version"
        }
        Answer::NotWhole => {
            "NOT WHOLE: nothing was altered, and the heat's end is not in the record. What is in it stands"
        }
        Answer::OpinionsDiffer => "DOUBTFUL: a second computation comes to something else",
    }
}

/// Writes it.
///
/// # Errors
/// Only the writer's own.
pub fn write(name: &str, judgement: &Judgement, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "{name}\n")?;
    for (title, text) in rows(judgement) {
        writeln!(out, "{title:<10}  {text}")?;
    }
    writeln!(out, "\n{}\n", words::CAUTION)?;
    table(&judgement.compared, out)?;
    writeln!(out)?;
    for (title, text) in race_rows(judgement) {
        writeln!(out, "{title:<10}  {text}")?;
    }
    writeln!(out)?;
    for event in timeline::events(&judgement.log) {
        writeln!(out, "{:>10}  {}", words::clock(event.t), event.text)?;
    }
    Ok(())
}

/// What was found of the record itself, as name and text.
pub fn rows(judgement: &Judgement) -> Vec<(&'static str, String)> {
    let found = &judgement.integrity;
    let [major, minor, patch] = judgement.firmware;
    let mut rows = vec![
        ("answer", answer(judgement.answer()).to_string()),
        (
            "record",
            format!(
                "{} bytes, {} records, {}, firmware {major}.{minor}.{patch}",
                judgement.bytes,
                found.records,
                words::many(u16::try_from(judgement.lives).unwrap_or(u16::MAX), "start") + " of the program"
            ),
        ),
        ("whole", whole(judgement)),
    ];
    let untouched = match found.first_fault() {
        None => "yes: no record is missing, changed, moved or put in, as far as a chain can tell".to_string(),
        Some((place, fault)) => format!("NO: first at {place}: {fault}"),
    };
    rows.push(("untouched", untouched));
    rows.extend(
        found.faults.iter().skip(1).take(4).map(|(place, fault)| ("", format!("also at {place}: {fault}"))),
    );
    if let Some(more) = found.faults.len().checked_sub(5).filter(|more| *more > 0) {
        rows.push(("", format!("and {more} more places")));
    }
    rows.extend(found.notes.iter().map(|(place, note)| ("note", format!("{place}: {note}"))));
    rows.push(("signed", signed(judgement)));
    rows.push(("replay", replayed(judgement)));
    let (number, held) = judgement.heat;
    rows.push(("heat", format!("{number} of {held} in this record")));
    rows
}

fn whole(judgement: &Judgement) -> String {
    let found = &judgement.integrity;
    let heat = found.seals.iter().rev().find(|it| it.seal.why == Why::Heat);
    let end = match found.ending {
        Ending::Closed => "closed by its seal",
        Ending::Open => "it ends open",
        Ending::Torn => "it ends torn, as a cut of power leaves it",
    };
    match (judgement.is_complete, found.ending, heat) {
        (true, Ending::Closed, _) => format!("yes: {end}, at {}", found.last),
        (true, _, Some(heat)) => {
            format!(
                "yes as to the heat, which was sealed at {}; behind it {end}, at {}",
                heat.place, found.last
            )
        }
        (_, Ending::Closed, _) => format!("NO: records found no room; {end}"),
        _ => format!("NO: {end}, at {}; what came after it, nobody can tell", found.last),
    }
}

fn signed(judgement: &Judgement) -> String {
    let found = &judgement.integrity;
    let last = found.seals.iter().rev().find(|sealed| sealed.signed_by.is_some());
    match last {
        Some(sealed) => {
            let key = sealed.signed_by.map_or_else(String::new, |key| timeline::hex(&key));
            let named = if judgement.needs_signature {
                "the key that was named"
            } else {
                "nobody named a key: compare it with the board's certificate"
            };
            format!("yes, up to {}, by {key} ({named})", sealed.place)
        }
        None => {
            "no: whoever knows the format can make a chain that holds. Rely on the chain of custody".into()
        }
    }
}

fn replayed(judgement: &Judgement) -> String {
    let replay = &judgement.replay;
    let [major, minor, patch] = firmware_version();
    match (&replay.first_difference, replay.carried_otherwise) {
        (None, None) => format!(
            "yes: {} inputs lead to {} decisions, bit for bit, by firmware {major}.{minor}.{patch}",
            replay.inputs, replay.decisions
        ),
        (Some(first), _) => format!(
            "NO: byte {}, board time {} us: recorded {:?}, replayed {:?}",
            first.offset,
            first.at.as_micros(),
            first.recorded,
            first.replayed
        ),
        (None, Some(offset)) => {
            format!("NO: byte {offset}: it would carry something else through a restart")
        }
    }
}

fn table(rows: &[Compared], out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "{:<8}  {:<42}  {:<42}  difference", "", "the dash", "second opinion")?;
    for row in rows {
        let said = |said: Option<(super::compare::Figure, _)>| {
            said.map_or("nothing".into(), |(figure, call)| told(figure, call, &row.what))
        };
        let (dash, second) = (said(row.dash), said(row.second));
        writeln!(out, "{:<8}  {dash:<42}  {second:<42}  {}", row.what, difference(row))?;
    }
    Ok(())
}

/// By how much they differ, in words.
pub fn difference(row: &Compared) -> String {
    let by = row.difference_s().map_or("-".into(), |s| format!("{:+.3} ms", s * 1e3));
    match (row.agrees, row.on_the_edge) {
        (true, true) => format!("{by}: on the edge between two calls"),
        (true, false) => by,
        (false, _) => format!("{by}: THEY DIFFER (allowed {:.1} ms)", row.allowed_s * 1e3),
    }
}

/// What the second opinion rests on, and what is owed, as name and text.
pub fn race_rows(judgement: &Judgement) -> Vec<(&'static str, String)> {
    let opinion = &judgement.opinion;
    let mut rows = Vec::new();
    if let Some(zero) = &opinion.zero {
        rows.push(("zero by", rests(&zero.rests)));
    }
    let clock = match (opinion.knows_utc, opinion.pulses) {
        (false, _) => "no UTC in this record: the board's clock alone".to_string(),
        (true, 0 | 1) => "tied to UTC by the arrival of fixes, no pulses".into(),
        (true, pulses) => {
            let drift = opinion.drift_ppm.map_or(String::new(), |ppm| format!(", crystal {ppm:+.2} ppm"));
            format!("tied to UTC by {pulses} pulses{drift}")
        }
    };
    rows.push(("clock", clock));
    if opinion.relabel_s != 0.0 {
        rows.push(("labels", format!("the receiver's UTC jumped by {:+.0} s", -opinion.relabel_s)));
    }
    let (laps, time_s) = opinion.race.owed();
    let time = Span::from_micros((time_s * 1e6).round() as i64);
    rows.push(("owed", format!("{} for the start, by the second opinion", words::owed(laps, time))));
    for owed in &judgement.summary.penalties {
        let text =
            format!("{} ({}), by the dash", words::owed(owed.laps, owed.time), words::cause(owed.cause));
        rows.push(("owed", text));
    }
    let made = calibrations::rows(&judgement.log.settings, Some(judgement.log.zero_utc));
    rows.push((
        "calibrated",
        made.iter().map(|(what, when)| format!("{what} {when}")).collect::<Vec<_>>().join("; "),
    ));
    if opinion.race.missed > 0 {
        rows.push(("missed", format!("a crossing was missed in {} laps", opinion.race.missed)));
    }
    rows
}

/// What zero rests on, in words.
pub fn rests(rests: &Rests) -> String {
    match rests {
        Rests::Schedule => "the UTC schedule".into(),
        Rests::Carried => "what was carried through a restart, as the record says: not examined".into(),
        Rests::Signals(signals) => {
            let names = signals.iter().map(|(hand, before_s)| {
                let hand = if *hand == Hand::Contact { "contact" } else { "press" };
                format!("{hand} at the {}", words::signal(*before_s))
            });
            names.collect::<Vec<_>>().join(", ")
        }
    }
}
