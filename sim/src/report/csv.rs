//! Two tables for spreadsheets: every decision, and the track. Units stand in the headers.
//!
//! Comma-separated values as RFC 4180 has them, but for line ends of one character. Empty means not known.
//!
//! Knows the log and the words. A log in, text out.

use firmware::output::Output;
use firmware::units::Span;

use crate::log::{Decided, Log, Sample};
use crate::{timeline, words};

/// Every decision but the tones.
#[must_use]
pub fn decisions(log: &Log) -> String {
    let mut text = String::from(
        "time_s,dash_race_time_s,what,zero_moved_s,margin_s,sigma_s,lap,lap_time_s,lap_speed_m_s,alert_level\n",
    );
    for decided in log.decisions.iter().filter(|decided| !matches!(decided.output, Output::Cue(_))) {
        text += &decision(decided, log);
        text.push('\n');
    }
    text
}

fn decision(decided: &Decided, log: &Log) -> String {
    let what = match decided.output {
        Output::Crossing { counted, .. } => words::counted(counted).to_string(),
        Output::Alert { id, state, .. } => format!("{} {}", words::alert(id), words::kebab(state)),
        _ => timeline::sentence(decided, log.settings.screen.units).unwrap_or_default(),
    };
    let [moved, margin, sigma, lap, time, speed, level] = figures(&decided.output);
    let (t, race) = (exact(decided.t), decided.race.map(exact).unwrap_or_default());
    [t, race, quoted(&what), moved, margin, sigma, lap, time, speed, level].join(",")
}

/// Moved, margin, sigma, lap, its time, its speed, alert level.
fn figures(output: &Output) -> [String; 7] {
    let none = String::new;
    match *output {
        Output::Zero { moved, sigma, .. } => {
            [moved.map(exact).unwrap_or_default(), none(), exact(sigma), none(), none(), none(), none()]
        }
        Output::Advice { word, margin, sigma, .. } if words::has_number(word) => {
            [none(), exact(margin), exact(sigma), none(), none(), none(), none()]
        }
        Output::Call { margin, sigma, .. } => {
            [none(), exact(margin), exact(sigma), none(), none(), none(), none()]
        }
        Output::Lap { lap, time, speed, sigma } => {
            let speed = format!("{:.3}", f64::from(speed.as_mm_s()) / 1_000.0);
            [none(), none(), exact(sigma), lap.to_string(), exact(time), speed, none()]
        }
        Output::Alert { level, .. } => [none(), none(), none(), none(), none(), none(), words::kebab(level)],
        Output::Crossing { sigma, .. } | Output::Clock { sigma, .. } => {
            [none(), none(), exact(sigma), none(), none(), none(), none()]
        }
        _ => [none(), none(), none(), none(), none(), none(), none()],
    }
}

/// Ten rows a second: where the boat was and what the dash showed.
#[must_use]
pub fn track(log: &Log) -> String {
    let mut text = String::from(
        "time_s,dash_race_time_s,phase,lat_deg,lon_deg,bow_past_line_m,bow_along_line_m,speed_m_s,run_m,\
         dash_egt_degc,dash_n1_pct,dash_n2_pct\n",
    );
    for sample in &log.samples {
        text += &row(sample);
        text.push('\n');
    }
    text
}

fn row(sample: &Sample) -> String {
    let view = &sample.view;
    let mut cells = vec![exact(sample.t), view.race.map(exact).unwrap_or_default(), words::kebab(view.phase)];
    match sample.boat {
        Some(boat) => {
            cells.extend([nano(boat.position.lat.as_nano()), nano(boat.position.lon.as_nano())]);
            let metres = [boat.bow_past_m, boat.bow_along_m, boat.speed_m_s, boat.run_m];
            cells.extend(metres.map(|value| format!("{value:.3}")));
        }
        None => cells.extend([""; 6].map(String::from)),
    }
    let gauges = &view.gauges;
    let egt = words::celsius(gauges.egt).map(|value| format!("{value:.3}"));
    let shafts = [gauges.n1, gauges.n2].map(|shaft| words::percent(shaft).map(|value| format!("{value:.2}")));
    cells.extend(std::iter::once(egt).chain(shafts).map(Option::unwrap_or_default));
    cells.join(",")
}

/// Seconds to the microsecond.
fn exact(span: Span) -> String {
    let us = span.as_micros();
    let (sign, size) = (if us < 0 { "-" } else { "" }, us.unsigned_abs());
    format!("{sign}{}.{:06}", size / 1_000_000, size % 1_000_000)
}

/// Degrees to the billionth.
fn nano(degrees: i64) -> String {
    let (sign, size) = (if degrees < 0 { "-" } else { "" }, degrees.unsigned_abs());
    format!("{sign}{}.{:09}", size / 1_000_000_000, size % 1_000_000_000)
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('"', "\"\""))
}
