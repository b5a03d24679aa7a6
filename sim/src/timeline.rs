//! The timeline: what a driver or a crew chief reads on a terminal, one line an event.
//!
//! First what was run, then what happened, then what it came to. What repeats within ten seconds is folded
//! into the line of its first time, with a count; the run-in's word has a line when it changes; tones, and crossings that a call or a lap tells of anyway,
//! are left out.
//!
//! Knows the log and the words. A log in, text out; the same log gives the same text.

use std::io::{self, Write};

use firmware::gnss::calendar::rfc3339;
use firmware::laps::EarlyCost;
use firmware::output::{AlertId, AlertState, Counted, Output, Quantity, Reading, Refused, ZeroSource};
use firmware::run_in::Advice;
use firmware::screen::Units;
use firmware::settings::Settings;
use firmware::units::{CentiPercent, MilliCelsius, Span};

use crate::log::{Decided, Log, Sample};
use crate::summary::{Called, Scale, Summary};
use crate::words;

/// Events of one kind closer than this are one line.
const FOLD_WITHIN: Span = Span::from_secs(10);

/// Writes the timeline of a simulated heat.
///
/// # Errors
/// Only the writer's own.
pub fn write(log: &Log, out: &mut impl Write) -> io::Result<()> {
    write_on(log, Scale::TrueZero, out)
}

/// Writes the timeline of a log whose times count from whatever `scale` says.
///
/// # Errors
/// Only the writer's own.
pub fn write_on(log: &Log, scale: Scale, out: &mut impl Write) -> io::Result<()> {
    header(log, scale, out)?;
    for event in events(log) {
        writeln!(out, "{:>10}  {}", words::clock(event.t), event.text)?;
    }
    summary(log, &Summary::of(log, scale), out)
}

/// One line of the timeline.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Event {
    /// When it was decided; for a folded line, the first time.
    pub t: Span,
    /// What happened.
    pub text: String,
}

/// Everything that happened, in order.
#[must_use]
pub fn events(log: &Log) -> Vec<Event> {
    let mut lines: Vec<Folded> = Vec::new();
    let mut advised = None;
    for decided in log.decisions.iter().filter(|decided| is_news(&decided.output, &mut advised)) {
        let Some(fold) = fold_of(&decided.output) else {
            let text = sentence(decided, log.settings.screen.units);
            lines.extend(text.map(|text| Folded::new(decided.t, Fold::Never, text)));
            continue;
        };
        let again = |line: &&mut Folded| line.fold == fold && decided.t - line.last <= FOLD_WITHIN;
        match lines.iter_mut().rev().find(again) {
            Some(line) => line.again(decided),
            None => lines.push(Folded::first(decided, fold, log.settings.screen.units)),
        }
    }
    lines.into_iter().map(Folded::event).collect()
}

/// The run-in's number is recorded every second; its word is news when it changes.
fn is_news(output: &Output, advised: &mut Option<Advice>) -> bool {
    match *output {
        Output::Advice { word, .. } => advised.replace(word) != Some(word),
        Output::Cleared => {
            *advised = None;
            true
        }
        _ => true,
    }
}

/// What may be folded with its like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fold {
    Never,
    Refused(Refused),
    Crossing(Counted),
    Trim,
}

struct Folded {
    t: Span,
    last: Span,
    fold: Fold,
    count: u32,
    moved: Span,
    text: String,
}

impl Folded {
    fn new(t: Span, fold: Fold, text: String) -> Self {
        Self { t, last: t, fold, count: 1, moved: Span::ZERO, text }
    }

    fn first(decided: &Decided, fold: Fold, units: Units) -> Self {
        let text = sentence(decided, units).unwrap_or_default();
        Self { moved: moved(decided), ..Self::new(decided.t, fold, text) }
    }

    fn again(&mut self, decided: &Decided) {
        self.last = decided.t;
        self.count = self.count.saturating_add(1);
        self.moved = self.moved + moved(decided);
    }

    fn event(self) -> Event {
        let text = match (self.fold, self.count) {
            (_, 1) => self.text,
            (Fold::Trim, count) => {
                format!("zero trimmed by {} s for the crystal, in {count} steps", words::signed(self.moved))
            }
            (_, count) => format!("{} ({count} times up to {})", self.text, words::clock(self.last)),
        };
        Event { t: self.t, text }
    }
}

fn fold_of(output: &Output) -> Option<Fold> {
    match *output {
        Output::Refused(why) => Some(Fold::Refused(why)),
        Output::Crossing { counted, .. } if !matches!(counted, Counted::Start | Counted::Lap) => {
            Some(Fold::Crossing(counted))
        }
        Output::Zero { source: ZeroSource::Drift, .. } => Some(Fold::Trim),
        _ => None,
    }
}

fn moved(decided: &Decided) -> Span {
    match decided.output {
        Output::Zero { moved, .. } => moved.unwrap_or_default(),
        _ => Span::ZERO,
    }
}

/// A decision in plain words; `None` for what another line tells.
#[must_use]
pub fn sentence(decided: &Decided, units: Units) -> Option<String> {
    Some(match decided.output {
        Output::Zero { source, moved, sigma, .. } => zero(source, moved, sigma),
        Output::Stray { contact, why } => {
            format!("stray {} ignored: {}", if contact { "gun contact" } else { "press" }, words::stray(why))
        }
        Output::Cleared => "clock cleared by holding the button: waiting for a first gun".into(),
        Output::Crossing { counted: Counted::Start | Counted::Lap, .. } | Output::Cue(_) => return None,
        Output::Crossing { counted, .. } => words::counted(counted).into(),
        Output::Call { call, margin, sigma, revised } => {
            let word = if revised { "START, called anew" } else { "START" };
            format!("{word}: {} (officials decide)", words::verdict(call, margin, sigma))
        }
        Output::Lap { lap, time, speed, sigma } => lap_line(lap, time, sigma, &words::speed(speed, units)),
        Output::Penalty { cause, laps, time } => {
            format!("penalty owed: {} ({})", words::owed(laps, time), words::cause(cause))
        }
        Output::LapMissed { run } => {
            format!("a crossing was missed: {} run since the last one", words::metres(run))
        }
        Output::Finish { laps, time, penalty } => finish(laps, time, penalty),
        Output::Alert { id, level, state } => alert(id, &words::kebab(level), state)?,
        Output::Exceedance { quantity, threshold, peak, above, over } => {
            exceedance(quantity, (threshold, peak), above, over)
        }
        Output::Clock { tie, sigma, .. } => format!("{}, ± {} s", words::tie(tie), words::sigma(sigma)),
        Output::Refused(why) => format!("not used: {}", words::refused(why)),
        Output::Lost(count) => {
            format!("{} found no room and went unrecorded", words::many(count, "decision"))
        }
        // The tables tell it; here it would only repeat what was said of limits and starts.
        Output::Suffered { .. } => return None,
        Output::RunIn { forecast, actual, sigma } => {
            let (forecast, sigma, off) =
                (words::signed(forecast), words::sigma(sigma), words::signed(actual - forecast));
            format!("the run-in was forecast to end at {forecast} ± {sigma} s; it ended {off} s from that")
        }
        Output::Advice { word, margin, .. } if words::has_number(word) => {
            format!("run-in: {} ({} s if he goes now)", words::advice(word), words::margin(margin))
        }
        Output::Advice { word, .. } => format!("run-in: {}", words::advice(word)),
        Output::Learned { accepted, offer } => words::learned(accepted, &offer, units),
        Output::Marked { number, position, sd, fixes, seconds } => {
            let place = crate::survey::paste::place(position);
            format!(
                "mark {number} taken: {place} ± {} m, {fixes} fixes in {seconds} s",
                words::metres(sd).trim_end_matches(" m")
            )
        }
        Output::StartStep { step, took } => {
            format!("engine: {} (after {} s)", words::start_step(step), words::seconds(took))
        }
    })
}

fn zero(source: ZeroSource, moved: Option<Span>, sigma: Span) -> String {
    let (by, sigma) = (words::set_by(source), words::sigma(sigma));
    match moved {
        None => format!("clock set by {by}, ± {sigma} s"),
        Some(moved) if source == ZeroSource::Drift => {
            format!("zero trimmed by {} s for the crystal, ± {sigma} s", words::signed(moved))
        }
        Some(moved) => format!("zero moved by {} s by {by}, ± {sigma} s", words::signed(moved)),
    }
}

fn lap_line(lap: u16, time: Span, sigma: Span, speed: &str) -> String {
    format!("lap {lap}  {} ± {} s  {speed}", words::run_time(time), words::sigma(sigma))
}

fn finish(laps: u16, time: Span, penalty: Span) -> String {
    let mut text = format!("FINISH: {} in {} from zero", words::many(laps, "lap"), words::run_time(time));
    if penalty > Span::ZERO {
        text += &format!(", plus a penalty of {} s", words::seconds(penalty));
    }
    text
}

/// Raised and cleared with their level. What is said only in passing (the line near, the last lap, zero moved)
/// has no end worth a line, and the finish has its own.
fn alert(id: AlertId, level: &str, state: AlertState) -> Option<String> {
    let what = words::alert(id);
    match (id, state) {
        (AlertId::Approach | AlertId::Finished, _) => None,
        (AlertId::LastLap, AlertState::Raised) => Some("last lap".into()),
        (AlertId::LastLap | AlertId::ZeroMoved, AlertState::Cleared) => None,
        (_, AlertState::Raised) => Some(format!("{level} raised: {what}")),
        (_, AlertState::Cleared) => Some(format!("{level} cleared: {what}")),
        (_, AlertState::Acknowledged) => Some(format!("{level} acknowledged: {what}")),
    }
}

fn exceedance(quantity: Quantity, (threshold, peak): (i32, i32), above: Span, over: bool) -> String {
    let (name, limit) = (words::quantity(quantity), words::amount(quantity, threshold));
    let (peak, above) = (words::amount(quantity, peak), words::seconds(above));
    if over {
        format!("{name} no longer above {limit}: peak {peak}, {above} s above")
    } else {
        format!("{name} OVER THE LIMIT of {limit}: peak so far {peak}, {above} s above")
    }
}

fn header(log: &Log, scale: Scale, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "{}\n", log.title)?;
    for (name, text) in header_rows(log, scale) {
        writeln!(out, "{name:<10}  {text}")?;
    }
    writeln!(out, "\n{}\n", words::CAUTION)
}

/// What was run, as name and text.
#[must_use]
pub fn header_rows(log: &Log, scale: Scale) -> Vec<(&'static str, String)> {
    let (settings, mut rows) = (&log.settings, Vec::new());
    if scale == Scale::TrueZero {
        rows.push(("heat", words::INVENTED.into()));
        rows.push(("seed", log.seed.to_string()));
        rows.extend(log.drawn.iter().map(|(name, value)| ("drawn", format!("{name}: {value}"))));
    }
    let signals: Vec<_> = settings.gun.signals_s.iter().map(u16::to_string).collect();
    rows.push(("signals", format!("{} s before zero", signals.join(", "))));
    rows.push(("early", early(settings)));
    rows.push(("course", course(settings)));
    rows.push(("engine", engine(settings).into()));
    rows.push(("times", times(log, scale)));
    rows
}

fn early(settings: &Settings) -> String {
    let window = words::brief(settings.race.early_window);
    format!("a crossing within {window} before zero costs {}", early_cost(settings.race.early_costs))
}

fn course(settings: &Settings) -> String {
    settings.course.as_ref().map_or("not set: no laps, no start call".into(), |course| {
        format!("{} of {}", words::many(settings.race.laps, "lap"), words::length(course.lap_length))
    })
}

/// Whose engine limits they are.
#[must_use]
pub const fn engine(settings: &Settings) -> &'static str {
    if settings.engine.demonstration { words::DEMONSTRATION } else { "the owner's own limits" }
}

fn times(log: &Log, scale: Scale) -> String {
    match scale {
        Scale::TrueZero => format!("race time from the true zero, {}", rfc3339(log.zero_utc)),
        Scale::DashZero => "race time from the dash's own zero".into(),
    }
}

/// What an early start costs.
#[must_use]
pub fn early_cost(cost: EarlyCost) -> String {
    match cost {
        EarlyCost::Lap => "one more lap".into(),
        EarlyCost::Time(time) => words::brief(time),
        EarlyCost::Nothing => "nothing".into(),
    }
}

fn summary(log: &Log, summary: &Summary, out: &mut impl Write) -> io::Result<()> {
    writeln!(out)?;
    for (name, text) in summary_rows(log, summary) {
        writeln!(out, "{name:<10}  {text}")?;
    }
    Ok(())
}

/// What the heat came to, as name and text.
#[must_use]
pub fn summary_rows(log: &Log, summary: &Summary) -> Vec<(&'static str, String)> {
    let units = log.settings.screen.units;
    let mut rows = vec![("zero", zero_row(summary)), ("start", start_row(summary))];
    rows.extend(truth_row(summary).map(|text| ("truth", text)));
    for lap in &summary.laps {
        rows.push(("lap", lap_line(lap.lap, lap.time, lap.sigma, &words::speed(lap.speed, units))));
    }
    for owed in &summary.penalties {
        rows.push(("owed", format!("{} ({})", words::owed(owed.laps, owed.time), words::cause(owed.cause))));
    }
    rows.push(("finish", finish_row(summary)));
    rows.extend(engine_rows(log).map(|text| ("engine", text)));
    let counts = log.receiver;
    let receiver =
        format!("{} fixes, {} rejected, {} ignored", counts.fixes, counts.rejected, counts.ignored);
    rows.push(("receiver", receiver));
    rows.push(("digest", hex(&log.digest).chars().take(16).collect()));
    rows
}

/// The most that the gauges said, before zero (the start at the dock among it) and after.
fn engine_rows(log: &Log) -> impl Iterator<Item = String> {
    let (before, after): (Vec<&Sample>, Vec<&Sample>) = log.samples.iter().partition(|s| s.t < Span::ZERO);
    [("before zero", before), ("after zero", after)].into_iter().filter_map(|(when, samples)| {
        let most = |gauge: fn(&Sample) -> Option<i32>| {
            samples.iter().filter_map(|s| gauge(s).map(|v| (v, s.t))).max()
        };
        let (egt, at) = most(|s| good(s.view.gauges.egt).map(MilliCelsius::as_milli))?;
        let shaft = |top: Option<(i32, Span)>| {
            top.map_or("---".into(), |(v, _)| format!("{:.1} %", f64::from(v) / 100.0))
        };
        let n1 = shaft(most(|s| good(s.view.gauges.n1).map(CentiPercent::as_centi)));
        let n2 = shaft(most(|s| good(s.view.gauges.n2).map(CentiPercent::as_centi)));
        let at = words::clock(at);
        Some(format!("{when}: EGT up to {} °C (at {at}), N1 up to {n1}, N2 up to {n2}", (egt + 500) / 1_000))
    })
}

fn good<T>(reading: Reading<T>) -> Option<T> {
    if let Reading::Good(value) = reading { Some(value) } else { None }
}

fn zero_row(summary: &Summary) -> String {
    let Some((source, sigma)) = summary.zero else { return "never set".into() };
    let set = format!("set by {}, ± {} s", words::set_by(source), words::sigma(sigma));
    match summary.zero_error {
        Some(error) => format!("{set}; {} the true zero", words::beside(error)),
        None => set,
    }
}

fn start_row(summary: &Summary) -> String {
    let verdict = |called: Called| words::verdict(called.call, called.margin, called.sigma);
    summary.call.map_or("none seen".into(), verdict)
}

fn truth_row(summary: &Summary) -> Option<String> {
    let start = summary.true_start?;
    let side = if start < Span::ZERO { "early" } else { "legal" };
    let truth = format!("{side} by {} s", words::margin_size(start));
    Some(match summary.call_error() {
        Some(error) => format!("{truth}; the call is off by {} s", words::signed(error)),
        None => truth,
    })
}

fn finish_row(summary: &Summary) -> String {
    summary.finish.map_or("not reached".into(), |end| {
        let text = finish(end.laps, end.time, end.penalty);
        text.trim_start_matches("FINISH: ").to_string()
    })
}

/// Bytes as hexadecimal digits.
#[must_use]
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests;
