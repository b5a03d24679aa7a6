//! The figures of a calibration out of a record: what probes showed, what was counted, where the antenna was, and how late
//! presses were behind a gun's contact.
//!
//! A stretch of a record is named by its middle, in seconds of the board's clock. Journals in, figures out.

use firmware::engine::thermocouple::decode;
use firmware::gnss::Position;
use firmware::input::{Input, Line, Pulses};
use firmware::units::NanoDegrees;

use super::tach::Shaft;
use crate::judge::record::{Life, Step, lives};

/// So far to either side of its middle a stretch goes, seconds: long enough to average, short enough to hold still.
const HALF_S: f64 = 10.0;

/// A press behind a gun's contact by more than this is no answer to it.
const ANSWER_S: f64 = 1.5;

/// What a thermocouple (counted from 1) showed around a moment of the longest life, as shown and not corrected, degrees.
#[must_use]
pub fn probe(journal: &[u8], number: u8, at_s: f64) -> Vec<f64> {
    let shown = |step: &Step| match step.input {
        Input::Probe { index, reading } if index + 1 == number => {
            decode(reading).ok().map(|read| f64::from(read.hot.as_milli()) / 1e3)
        }
        _ => None,
    };
    longest(journal).map_or(Vec::new(), |life| around(&life, at_s).filter_map(shown).collect())
}

/// Pulses a second of a shaft around a moment; 0 when there are none.
#[must_use]
pub fn counted_hz(journal: &[u8], shaft: Shaft, at_s: f64) -> f64 {
    let pulses = |step: &Step| match step.input {
        Input::Shafts { n1, n2 } => Some(if shaft == Shaft::N1 { n1 } else { n2 }),
        _ => None,
    };
    let all: Vec<Pulses> = longest(journal).map_or(Vec::new(), |life| {
        around(&life, at_s).filter_map(pulses).filter(|it| it.count > 0).collect()
    });
    let count: f64 = all.iter().map(|pulses| f64::from(pulses.count)).sum();
    let seconds: f64 = all.iter().map(|pulses| pulses.span.as_micros() as f64 / 1e6).sum();
    if seconds > 0.0 { count / seconds } else { 0.0 }
}

/// The mean place of the antenna around a moment.
#[must_use]
pub fn place(journal: &[u8], at_s: f64) -> Option<Position> {
    let fix = |step: &Step| match &step.input {
        Input::Fix(fix) if fix.valid => Some(fix.position),
        _ => None,
    };
    let all: Vec<Position> =
        longest(journal).map_or(Vec::new(), |life| around(&life, at_s).filter_map(fix).collect());
    let count = i128::try_from(all.len()).ok().filter(|count| *count > 0)?;
    let mean = |sum: i128| NanoDegrees::from_nano(i64::try_from(sum / count).unwrap_or_default());
    Some(Position {
        lat: mean(all.iter().map(|place| i128::from(place.lat.as_nano())).sum()),
        lon: mean(all.iter().map(|place| i128::from(place.lon.as_nano())).sum()),
    })
}

/// How late each press was behind the gun's contact that it answered, seconds.
#[must_use]
pub fn presses(journal: &[u8]) -> Vec<f64> {
    let closes = |step: &&Step, wanted: Line| matches!(step.input, Input::Edge { line, active: true } if line == wanted);
    let late = |life: &Life| -> Vec<f64> {
        let mut delays = Vec::new();
        let mut last_contact = f64::NEG_INFINITY;
        for (place, step) in life.steps.iter().enumerate() {
            if !closes(&step, Line::GunContact) || seconds(step) - last_contact < ANSWER_S {
                continue;
            }
            last_contact = seconds(step);
            let after = life.steps.iter().skip(place).filter(|step| closes(step, Line::Button));
            let delay = after.map(|step| seconds(step) - last_contact).next();
            delays.extend(delay.filter(|delay| (0.0..ANSWER_S).contains(delay)));
        }
        delays
    };
    lives(journal).iter().flat_map(late).collect()
}

fn longest(journal: &[u8]) -> Option<Life> {
    lives(journal).into_iter().max_by_key(|life| life.steps.len())
}

fn around(life: &Life, at_s: f64) -> impl Iterator<Item = &Step> {
    life.steps.iter().filter(move |step| (seconds(step) - at_s).abs() <= HALF_S)
}

fn seconds(step: &Step) -> f64 {
    step.at.as_micros() as f64 / 1e6
}
