//! A judgement as JSON lines: what `run --json` says of a heat, and what was found of the record around it.
//!
//! `t_us` counts from the dash's own zero. First `record`, last `end`; before it `verdict`.
//!
//! A judgement in, lines out.

use std::io::{self, Write};

use firmware::output::{Call, Output};
use serde::Serialize;
use serde_json::json;

use super::Judgement;
use super::compare::Figure;
use super::second::Opinion;
use super::text::rests;
use crate::report::calibrations;
use crate::{json, timeline, words};

/// Writes it.
///
/// # Errors
/// Only the writer's own.
pub fn write(name: &str, judgement: &Judgement, out: &mut impl Write) -> io::Result<()> {
    let (first, last) = judgement.log.extent();
    let t_us = first.as_micros();
    say(out, &record(name, judgement, t_us))?;
    for (place, fault) in &judgement.integrity.faults {
        let told = json!({ "kind": "fault", "t_us": t_us, "record": place.record, "byte": place.offset,
            "board_us": place.at.as_micros(), "why": bare(fault), "says": fault.to_string() });
        say(out, &told)?;
    }
    for (place, note) in &judgement.integrity.notes {
        let told = json!({ "kind": "note", "t_us": t_us, "record": place.record, "byte": place.offset,
            "board_us": place.at.as_micros(), "why": bare(note), "says": note.to_string() });
        say(out, &told)?;
    }
    let heard = |output: &Output| !matches!(output, Output::Cue(_));
    for decided in judgement.log.decisions.iter().filter(|decided| heard(&decided.output)) {
        json::write_line(&json::Line::of(decided.t, decided), out)?;
    }
    let t_us = last.as_micros();
    say(out, &opinion(&judgement.opinion, t_us))?;
    for row in &judgement.compared {
        let said = |said: Option<(Figure, Option<Call>)>| {
            said.map(|(figure, call)| {
                json!({ "us": us(figure.s), "sigma_us": us(figure.sigma_s), "call": call.map(words::kebab) })
            })
        };
        let told = json!({ "kind": "compared", "t_us": t_us, "what": row.what, "dash": said(row.dash),
            "second": said(row.second), "difference_us": row.difference_s().map(us),
            "allowed_us": us(row.allowed_s), "agrees": row.agrees, "on_the_edge": row.on_the_edge });
        say(out, &told)?;
    }
    say(out, &calibrated(judgement, t_us))?;
    say(out, &verdict(judgement, t_us))?;
    json::write_line(&json::end(&judgement.log), out)
}

fn say(out: &mut impl Write, value: &impl Serialize) -> io::Result<()> {
    serde_json::to_writer(&mut *out, value)?;
    writeln!(out)
}

fn us(s: f64) -> i64 {
    (s * 1e6).round() as i64
}

fn record(name: &str, judgement: &Judgement, t_us: i64) -> serde_json::Value {
    let found = &judgement.integrity;
    let [major, minor, patch] = judgement.firmware;
    json!({
        "kind": "record", "t_us": t_us, "file": name, "bytes": judgement.bytes, "records": found.records,
        "firmware": format!("{major}.{minor}.{patch}"), "starts_of_the_program": judgement.lives,
        "heat": judgement.heat.0, "heats": judgement.heat.1,
        "ending": words::kebab(found.ending), "whole": judgement.is_complete,
        "untouched": found.is_untouched(), "signed_by": found.signed_by().map(|key| timeline::hex(&key)),
        "replays": judgement.replays(), "inputs": judgement.replay.inputs,
    })
}

fn opinion(opinion: &Opinion, t_us: i64) -> serde_json::Value {
    let race = &opinion.race;
    let call = race.call.map(|called| {
        json!({ "call": words::kebab(called.call), "margin_us": us(called.margin_s),
            "sigma_us": us(called.sigma_s) })
    });
    let zero = opinion.zero.as_ref().map(|zero| {
        json!({ "utc_us": opinion.knows_utc.then(|| us(zero.at.s)), "sigma_us": us(zero.at.sigma_s),
            "rests_on": rests(&zero.rests) })
    });
    let laps = race.laps.iter().map(|lap| {
        json!({ "time_us": us(lap.time_s), "sigma_us": us(lap.sigma_s),
            "speed_mm_s": (lap.speed_m_s * 1e3).round() as i64 })
    });
    let (owed_laps, owed_s) = race.owed();
    json!({
        "kind": "second-opinion", "t_us": t_us, "zero": zero, "call": call,
        "laps": laps.collect::<Vec<_>>(), "finish_us": race.finish_s.map(us),
        "owed_laps": owed_laps, "owed_us": us(owed_s), "missed": race.missed,
        "pulses": opinion.pulses, "drift_ppm": opinion.drift_ppm,
    })
}

fn calibrated(judgement: &Judgement, t_us: i64) -> serde_json::Value {
    let (settings, on) = (&judgement.log.settings, judgement.log.zero_utc);
    let rows = calibrations::rows(settings, Some(on));
    let all: Vec<_> = rows.into_iter().map(|(what, made)| json!({ "what": what, "made": made })).collect();
    json!({ "kind": "calibrated", "t_us": t_us, "all": all })
}

fn verdict(judgement: &Judgement, t_us: i64) -> serde_json::Value {
    let called = judgement.summary.call;
    json!({
        "kind": "verdict", "t_us": t_us, "answer": words::kebab(judgement.answer()),
        "reserved": judgement.is_reserved(),
        "call": called.map(|called| words::kebab(called.call)),
        "margin_us": called.map(|called| called.margin.as_micros()),
        "sigma_us": called.map(|called| called.sigma.as_micros()),
        "note": words::CAUTION,
    })
}

/// A variant's name without what is in it, as names in files are.
fn bare(found: impl std::fmt::Debug) -> String {
    let name = format!("{found:?}");
    let name = name.split([' ', '(']).next().unwrap_or_default();
    words::kebab(format_args!("{name}"))
}
