//! JSON lines: the heat for programs, one object a line.
//!
//! Every object begins with `kind` and `t_us` (the log's time of the decision: true race time in a simulated
//! heat, the dash's own in a record), then `race_us` (what the dash believed) once the clock is armed. Whole
//! numbers carry their unit at the end of their name. The first object is `heat`, the last is `end`.
//!
//! Knows the log and the words. A log in, lines out; the same log gives the same bytes.

use std::io::{self, Write};

use firmware::output::{Output, Quantity, Suffering, ZeroSource};
use firmware::run_in::Advice;
use firmware::run_in::learn::Offer;
use firmware::units::Span;
use serde::Serialize;

use crate::log::{Decided, Log};
use crate::{timeline, words};

/// One object.
#[derive(Clone, Debug, Serialize)]
pub struct Line {
    kind: &'static str,
    t_us: i64,
    #[serde(skip_serializing_if = "Option::is_none")]
    race_us: Option<i64>,
    #[serde(flatten)]
    body: Body,
}

/// What an object says besides its kind and time.
#[derive(Clone, Debug, Serialize)]
#[serde(untagged)]
enum Body {
    Heat {
        title: String,
        seed: u64,
        drawn: Vec<Drawn>,
        zero_utc_us: i64,
        demonstration_limits: bool,
    },
    Zero {
        source: String,
        #[serde(skip_serializing_if = "Option::is_none")]
        before_s: Option<u16>,
        armed: bool,
        moved_us: i64,
        sigma_us: i64,
    },
    Stray {
        why: String,
        line: &'static str,
    },
    Crossing {
        #[serde(skip_serializing_if = "Option::is_none")]
        at_us: Option<i64>,
        sigma_us: i64,
        forward: bool,
        place_mm: i64,
        counted: String,
    },
    Call {
        call: String,
        margin_us: i64,
        sigma_us: i64,
        revised: bool,
    },
    Lap {
        lap: u16,
        time_us: i64,
        speed_mm_s: i32,
        sigma_us: i64,
    },
    Penalty {
        cause: String,
        laps: u16,
        time_us: i64,
    },
    LapMissed {
        run_mm: i64,
    },
    Finish {
        laps: u16,
        time_us: i64,
        penalty_us: i64,
    },
    Alert {
        id: String,
        level: String,
        state: String,
    },
    Exceedance {
        quantity: String,
        unit: &'static str,
        threshold: i32,
        peak: i32,
        above_us: i64,
        over: bool,
    },
    Suffered {
        what: String,
        heat: u32,
        total: u32,
    },
    Clock {
        tie: String,
        drift_ppb: i64,
        sigma_us: i64,
    },
    Refused {
        why: String,
    },
    Cue {
        tone: String,
    },
    Lost {
        count: u16,
    },
    RunIn {
        forecast_us: i64,
        margin_us: i64,
        sigma_us: i64,
    },
    Advice {
        word: String,
        #[serde(skip_serializing_if = "Option::is_none")]
        margin_us: Option<i64>,
        #[serde(skip_serializing_if = "Option::is_none")]
        sigma_us: Option<i64>,
        #[serde(skip_serializing_if = "Option::is_none")]
        hold_us: Option<i64>,
    },
    Marked {
        number: u8,
        lat_e9: i64,
        lon_e9: i64,
        sd_mm: i64,
        fixes: u16,
        seconds: u16,
    },
    Learned {
        accepted: bool,
        pull_now_mm_s2: u16,
        pull_learned_mm_s2: u16,
        bend_now_mm_s: i32,
        bend_learned_mm_s: i32,
        forecasts: u8,
        bias_ms: i16,
        spread_ms: u16,
    },
    StartStep {
        step: String,
        took_us: i64,
    },
    Cleared {},
    End {
        digest: String,
        fixes: u32,
        rejected: u32,
        ignored: u32,
    },
}

#[derive(Clone, Debug, Serialize)]
struct Drawn {
    name: String,
    value: String,
}

/// Writes a log as JSON lines, without the tones.
///
/// # Errors
/// Only the writer's own.
pub fn write(log: &Log, out: &mut impl Write) -> io::Result<()> {
    write_line(&heat(log), out)?;
    for decided in log.decisions.iter().filter(|decided| !matches!(decided.output, Output::Cue(_))) {
        write_line(&Line::of(decided.t, decided), out)?;
    }
    write_line(&end(log), out)
}

/// Writes one object and the end of its line.
///
/// # Errors
/// Only the writer's own.
pub fn write_line(line: &Line, out: &mut impl Write) -> io::Result<()> {
    serde_json::to_writer(&mut *out, line)?;
    writeln!(out)
}

impl Line {
    /// A decision, with `t` as the time to say.
    #[must_use]
    pub fn of(t: Span, decided: &Decided) -> Self {
        let (kind, body) = body(decided);
        Self { kind, t_us: t.as_micros(), race_us: decided.race.map(Span::as_micros), body }
    }
}

/// The `kind` that a decision has here.
#[must_use]
pub fn kind(output: &Output) -> &'static str {
    let decided = Decided { t: Span::ZERO, at: firmware::units::Instant::BOOT, race: None, output: *output };
    body(&decided).0
}

fn heat(log: &Log) -> Line {
    let body = Body::Heat {
        title: log.title.clone(),
        seed: log.seed,
        drawn: log.drawn.iter().cloned().map(|(name, value)| Drawn { name, value }).collect(),
        zero_utc_us: log.zero_utc.as_unix_micros(),
        demonstration_limits: log.settings.engine.demonstration,
    };
    Line { kind: "heat", t_us: log.extent().0.as_micros(), race_us: None, body }
}

/// The last object.
#[must_use]
pub fn end(log: &Log) -> Line {
    let (t, counts) = (log.extent().1, log.receiver);
    let body = Body::End {
        digest: timeline::hex(&log.digest),
        fixes: counts.fixes,
        rejected: counts.rejected,
        ignored: counts.ignored,
    };
    let last = log.decisions.last().and_then(|decided| Some(decided.race? + (t - decided.t)));
    Line { kind: "end", t_us: t.as_micros(), race_us: last.map(Span::as_micros), body }
}

fn body(decided: &Decided) -> (&'static str, Body) {
    let us = Span::as_micros;
    match decided.output {
        Output::Zero { source, moved, sigma, .. } => ("zero", zero(source, moved, sigma)),
        Output::Stray { contact, why } => (
            "stray",
            Body::Stray { why: words::kebab(why), line: if contact { "contact" } else { "button" } },
        ),
        Output::Cleared => ("cleared", Body::Cleared {}),
        Output::Crossing { at, sigma, forward, place, counted } => {
            let at_us = decided.race_at(at).map(us);
            let (place_mm, counted) = (place.as_mm(), words::kebab(counted));
            ("crossing", Body::Crossing { at_us, sigma_us: us(sigma), forward, place_mm, counted })
        }
        Output::Call { call, margin, sigma, revised } => {
            let (margin_us, sigma_us) = (us(margin), us(sigma));
            ("call", Body::Call { call: words::kebab(call), margin_us, sigma_us, revised })
        }
        Output::Lap { lap, time, speed, sigma } => {
            ("lap", Body::Lap { lap, time_us: us(time), speed_mm_s: speed.as_mm_s(), sigma_us: us(sigma) })
        }
        Output::Penalty { cause, laps, time } => {
            ("penalty", Body::Penalty { cause: words::kebab(cause), laps, time_us: us(time) })
        }
        Output::LapMissed { run } => ("lap-missed", Body::LapMissed { run_mm: run.as_mm() }),
        Output::Finish { laps, time, penalty } => {
            ("finish", Body::Finish { laps, time_us: us(time), penalty_us: us(penalty) })
        }
        Output::Alert { id, level, state } => {
            let [id, level, state] = [words::kebab(id), words::kebab(level), words::kebab(state)];
            ("alert", Body::Alert { id, level, state })
        }
        Output::Cue(tone) => ("cue", Body::Cue { tone: words::kebab(tone) }),
        Output::Exceedance { quantity, threshold, peak, above, over } => {
            let (unit, above_us) = (unit(quantity), us(above));
            let quantity = words::kebab(quantity);
            ("exceedance", Body::Exceedance { quantity, unit, threshold, peak, above_us, over })
        }
        Output::Clock { tie, drift, sigma } => {
            let (tie, drift_ppb) = (words::kebab(tie), drift.as_ppb());
            ("clock", Body::Clock { tie, drift_ppb, sigma_us: us(sigma) })
        }
        Output::Refused(why) => ("refused", Body::Refused { why: words::kebab(why) }),
        Output::Lost(count) => ("lost", Body::Lost { count }),
        Output::Suffered { what, heat, total } => {
            ("suffered", Body::Suffered { what: suffering(what), heat, total })
        }
        Output::RunIn { forecast, actual, sigma } => {
            let (forecast_us, margin_us, sigma_us) = (us(forecast), us(actual), us(sigma));
            ("run-in", Body::RunIn { forecast_us, margin_us, sigma_us })
        }
        Output::Advice { word, margin, sigma, hold } => ("advice", advice(word, [margin, sigma, hold])),
        Output::Learned { accepted, offer } => ("learned", learned(accepted, &offer)),
        Output::Marked { number, position, sd, fixes, seconds } => {
            let (lat_e9, lon_e9) = (position.lat.as_nano(), position.lon.as_nano());
            ("marked", Body::Marked { number, lat_e9, lon_e9, sd_mm: sd.as_mm(), fixes, seconds })
        }
        Output::StartStep { step, took } => {
            ("start-step", Body::StartStep { step: words::kebab(step), took_us: us(took) })
        }
    }
}

fn zero(source: ZeroSource, moved: Option<Span>, sigma: Span) -> Body {
    let before_s = match source {
        ZeroSource::Press { before_s } | ZeroSource::Contact { before_s } => Some(before_s),
        ZeroSource::Utc | ZeroSource::Drift | ZeroSource::Resumed => None,
    };
    Body::Zero {
        source: words::zero_source(source),
        before_s,
        armed: moved.is_none(),
        moved_us: moved.unwrap_or_default().as_micros(),
        sigma_us: sigma.as_micros(),
    }
}

fn advice(word: Advice, numbers: [Span; 3]) -> Body {
    let [margin_us, sigma_us, hold_us] =
        numbers.map(|span| words::has_number(word).then(|| span.as_micros()));
    Body::Advice { word: words::kebab(word), margin_us, sigma_us, hold_us }
}

fn learned(accepted: bool, offer: &Offer) -> Body {
    Body::Learned {
        accepted,
        pull_now_mm_s2: offer.pull_now_mm_s2,
        pull_learned_mm_s2: offer.pull_learned_mm_s2,
        bend_now_mm_s: offer.bend_now.as_mm_s(),
        bend_learned_mm_s: offer.bend_learned.as_mm_s(),
        forecasts: offer.forecasts,
        bias_ms: offer.bias_ms,
        spread_ms: offer.spread_ms,
    }
}

/// What an account is kept of, with its unit at the end where it has one.
fn suffering(what: Suffering) -> String {
    match what {
        Suffering::RunSeconds => "run_s".into(),
        Suffering::Starts => "starts".into(),
        Suffering::HotStarts => "hot-starts".into(),
        Suffering::BandSeconds(band) => format!("band-{band}_s"),
        Suffering::Exceeded(quantity) => format!("{}-limits", words::kebab(quantity)),
    }
}

/// The unit of an exceedance's whole numbers.
const fn unit(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Egt => "0.001 degC",
        Quantity::N1 | Quantity::N2 => "0.01 %",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::invented;

    #[test]
    fn a_small_heat_reads_as_these_lines() {
        let mut text = Vec::new();
        write(&invented::small(), &mut text).unwrap();
        let text = String::from_utf8(text).unwrap();
        assert_eq!(text, include_str!("../golden/small.jsonl"));
    }

    #[test]
    fn every_line_is_an_object_that_begins_with_its_kind_and_time() {
        let log = invented::oval();
        let mut text = Vec::new();
        write(&log, &mut text).unwrap();
        let text = String::from_utf8(text).unwrap();
        for line in text.lines() {
            assert!(line.starts_with(r#"{"kind":""#), "{line}");
            let object: serde_json::Value = serde_json::from_str(line).unwrap();
            assert!(object["t_us"].is_i64(), "{line}");
        }
        assert!(text.lines().next().unwrap().contains(r#""kind":"heat""#));
        assert!(text.lines().last().unwrap().contains(&timeline::hex(&log.digest)));
    }
}
