//! Plain words and figures: how the dash's decisions read to people and in files.
//!
//! Times shown to people have milliseconds. Race times and margins are rounded down (towards minus infinity):
//! zero is never shown before it has come, and a margin is never shown better than it is. Deviations are rounded
//! up. Everything else goes to the nearest, halves away from zero.
//!
//! Knows the core's words. Values in, text out.

use std::fmt::Debug;

use firmware::engine::watch::WatchSettings;
use firmware::output::{
    AlertId, Call, Cause, Counted, Quantity, Reading, Refused, StartStep, Stray, Suffering, Tie, ZeroSource,
};
use firmware::run_in::Advice;
use firmware::run_in::learn::Offer;
use firmware::screen::Units;
use firmware::units::{CentiPercent, MilliCelsius, Millimetres, MmPerSecond, Span, mul_div};
use firmware::view::Phase;

/// What stands above everything a person reads about a heat.
pub const CAUTION: &str =
    "Practice and advice only: the race officials decide on starts, laps and penalties.";

/// What is said of engine limits that the owner has not entered himself.
pub const DEMONSTRATION: &str = "demonstration limits, invented, for no real engine: use the maker's manual";

/// What is said of a heat that was simulated.
pub const INVENTED: &str = "A simulated heat: whatever was not recorded on the water is invented.";

/// A variant's name in small letters with hyphens: `EgtLimit` is `egt-limit`.
#[must_use]
pub fn kebab(name: impl Debug) -> String {
    let mut text = String::new();
    for letter in format!("{name:?}").chars() {
        if letter.is_ascii_uppercase() && !text.is_empty() {
            text.push('-');
        }
        text.push(letter.to_ascii_lowercase());
    }
    text
}

/// A race time, rounded down: `-4:59.730`, `0:00.213`, `12:03.500`.
#[must_use]
pub fn clock(time: Span) -> String {
    let ms = time.as_micros().div_euclid(1_000);
    let (sign, size) = (if ms < 0 { "-" } else { "" }, ms.unsigned_abs());
    format!("{sign}{}:{:02}.{:03}", size / 60_000, size / 1_000 % 60, size % 1_000)
}

/// Seconds with a sign, to the nearest millisecond: `-0.030`.
#[must_use]
pub fn signed(span: Span) -> String {
    thousandths(mul_div(span.as_micros(), 1, 1_000), true)
}

/// Seconds with a sign, rounded down: the margin of a start.
#[must_use]
pub fn margin(span: Span) -> String {
    thousandths(span.as_micros().div_euclid(1_000), true)
}

/// The size of a margin, for a sentence that says on which side of zero it lies.
#[must_use]
pub fn margin_size(span: Span) -> String {
    thousandths(span.as_micros().div_euclid(1_000).saturating_abs(), false)
}

/// One standard deviation in seconds, rounded up: `0.021`.
#[must_use]
pub fn sigma(span: Span) -> String {
    thousandths(span.as_micros().saturating_add(999).div_euclid(1_000), false)
}

/// Seconds to the nearest millisecond: `58.912`.
#[must_use]
pub fn seconds(span: Span) -> String {
    thousandths(mul_div(span.as_micros(), 1, 1_000), false)
}

/// Seconds without needless noughts, as they were set: `60 s`, `0.19 s`.
#[must_use]
pub fn brief(span: Span) -> String {
    format!("{} s", trimmed(&seconds(span)))
}

fn trimmed(decimal: &str) -> &str {
    decimal.trim_end_matches('0').trim_end_matches('.')
}

fn thousandths(ms: i64, plus: bool) -> String {
    let sign = match ms {
        ..0 => "-",
        _ if plus => "+",
        _ => "",
    };
    format!("{sign}{}.{:03}", ms.unsigned_abs() / 1_000, ms.unsigned_abs() % 1_000)
}

/// A span before or after something: `0.012 s after`, `0.012 s before`.
#[must_use]
pub fn beside(span: Span) -> String {
    let side = if span < Span::ZERO { "before" } else { "after" };
    format!("{} s {side}", seconds(span.abs()))
}

/// The time of a lap or a heat to the nearest millisecond: `58.912 s`, from 100 s on `3:02.123`.
#[must_use]
pub fn run_time(span: Span) -> String {
    let ms = mul_div(span.as_micros(), 1, 1_000);
    if (0..100_000).contains(&ms) {
        format!("{} s", thousandths(ms, false))
    } else {
        clock(Span::from_millis(ms))
    }
}

/// A speed to the nearest tenth of its unit: `152.8 mph`.
///
/// A statute mile is 1,609.344 m (the international mile), so 1 mph is 447.04 mm/s.
#[must_use]
pub fn speed(speed: MmPerSecond, units: Units) -> String {
    let tenths = mul_div(i64::from(speed.as_mm_s()), 36_000, mm_in(units));
    format!("{} {}", tenth(tenths), speed_unit(units))
}

/// The unit's name.
#[must_use]
pub const fn speed_unit(units: Units) -> &'static str {
    match units {
        Units::Mph => "mph",
        Units::KmPerHour => "km/h",
    }
}

/// How many of the unit one metre per second is.
#[must_use]
pub fn per_metre_a_second(units: Units) -> f64 {
    3_600_000.0 / mm_in(units) as f64
}

const fn mm_in(units: Units) -> i64 {
    match units {
        Units::Mph => 1_609_344,
        Units::KmPerHour => 1_000_000,
    }
}

fn tenth(tenths: i64) -> String {
    let sign = if tenths < 0 { "-" } else { "" };
    format!("{sign}{}.{}", tenths.unsigned_abs() / 10, tenths.unsigned_abs() % 10)
}

/// A distance to the nearest tenth of a metre: `5.0 m`.
#[must_use]
pub fn metres(distance: Millimetres) -> String {
    format!("{} m", tenth(mul_div(distance.as_mm(), 1, 100)))
}

/// A length to the millimetre, as it was set: `4023.36 m`, `5 m`.
#[must_use]
pub fn length(distance: Millimetres) -> String {
    format!("{} m", trimmed(&thousandths(distance.as_mm(), false)))
}

/// The value of a limited quantity with its unit: `843.2 °C`, `102.5 %`.
#[must_use]
pub fn amount(quantity: Quantity, raw: i32) -> String {
    match quantity {
        Quantity::Egt => format!("{} °C", tenth(mul_div(i64::from(raw), 1, 100))),
        Quantity::N1 | Quantity::N2 => format!("{} %", tenth(mul_div(i64::from(raw), 1, 10))),
    }
}

/// What an engine's account is kept of, and the unit of its figures.
#[must_use]
pub fn suffering(what: Suffering, settings: &WatchSettings) -> (String, &'static str) {
    match what {
        Suffering::RunSeconds => ("running".into(), "s"),
        Suffering::Starts => ("starts".into(), ""),
        Suffering::HotStarts => ("hot starts".into(), ""),
        Suffering::BandSeconds(band) => (format!("EGT {}", self::band(band, settings)), "s"),
        Suffering::Exceeded(of) => (format!("{} limits exceeded", quantity(of)), ""),
    }
}

/// A band of temperature: `below 600 °C`, `600 to 700 °C`, `from 850 °C`.
fn band(band: u8, settings: &WatchSettings) -> String {
    let edge = |place: Option<usize>| place.and_then(|place| settings.bands.get(place));
    let degrees = |edge: &MilliCelsius| edge.as_milli() / 1_000;
    let place = usize::from(band);
    match (edge(place.checked_sub(1)), edge(Some(place))) {
        (None, Some(to)) => format!("below {} °C", degrees(to)),
        (Some(from), Some(to)) => format!("{} to {} °C", degrees(from), degrees(to)),
        (Some(from), None) => format!("from {} °C", degrees(from)),
        (None, None) => "at any temperature".into(),
    }
}

/// The quantity's name on the gauge.
#[must_use]
pub const fn quantity(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Egt => "EGT",
        Quantity::N1 => "N1",
        Quantity::N2 => "N2",
    }
}

/// A good temperature in degrees.
#[must_use]
pub fn celsius(reading: Reading<MilliCelsius>) -> Option<f64> {
    good(reading).map(|value| f64::from(value.as_milli()) / 1_000.0)
}

/// A good shaft speed in percent.
#[must_use]
pub fn percent(reading: Reading<CentiPercent>) -> Option<f64> {
    good(reading).map(|value| f64::from(value.as_centi()) / 100.0)
}

fn good<T>(reading: Reading<T>) -> Option<T> {
    match reading {
        Reading::Good(value) => Some(value),
        Reading::Absent | Reading::Fault => None,
    }
}

/// The official signal that comes so many seconds before zero.
#[must_use]
pub fn signal(before_s: u16) -> String {
    match before_s {
        300 => "five-minute gun".into(),
        240 => "four-minute gun".into(),
        180 => "three-minute gun".into(),
        60 => "one-minute gun".into(),
        0 => "zero gun".into(),
        other => format!("{other}-second gun"),
    }
}

/// What zero rests on, as the JSON lines say it.
#[must_use]
pub fn zero_source(source: ZeroSource) -> String {
    match source {
        ZeroSource::Press { before_s } => signal(before_s),
        ZeroSource::Contact { .. } => "contact".into(),
        ZeroSource::Utc => "utc".into(),
        ZeroSource::Drift => "drift".into(),
        ZeroSource::Resumed => "resumed".into(),
    }
}

/// What set the clock, in a sentence.
#[must_use]
pub fn set_by(source: ZeroSource) -> String {
    match source {
        ZeroSource::Press { before_s } => format!("the {}", signal(before_s)),
        ZeroSource::Contact { before_s } => format!("the gun contact ({})", signal(before_s)),
        ZeroSource::Utc => "the UTC schedule".into(),
        ZeroSource::Drift => "the crystal".into(),
        ZeroSource::Resumed => "what was known before the restart".into(),
    }
}

/// Why a press or closure counted for nothing.
#[must_use]
pub const fn stray(why: Stray) -> &'static str {
    match why {
        Stray::NoSignalDue => "no signal is due",
        Stray::AlreadyTaken => "this signal is taken already",
        Stray::Overruled => {
            "it disagrees with a gun contact or the schedule, which a thumb does not overrule"
        }
        Stray::RaceOn => "the race is on, every signal is past",
    }
}

/// A call and its margin: `LEGAL by 0.213 s ± 0.021 s`.
#[must_use]
pub fn verdict(call: Call, by: Span, deviation: Span) -> String {
    let (size, deviation) = (margin_size(by), sigma(deviation));
    match call {
        Call::Early => format!("EARLY by {size} s ± {deviation} s"),
        Call::Legal => format!("LEGAL by {size} s ± {deviation} s"),
        Call::TooClose => format!("TOO CLOSE TO CALL: {} s ± {deviation} s", margin(by)),
    }
}

/// What a crossing counted as.
#[must_use]
pub const fn counted(counted: Counted) -> &'static str {
    match counted {
        Counted::Milling => "line crossed while milling: counts for nothing",
        Counted::Start => "line crossed: the start",
        Counted::Lap => "line crossed: a lap",
        Counted::TooSoon => "line crossed too soon for a lap: counts for nothing",
        Counted::WrongWay => "line crossed against the racing direction: counts for nothing",
        Counted::AfterFinish => "line crossed after the finish: counts for nothing",
    }
}

/// What a penalty is for.
#[must_use]
pub const fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::EarlyStart => "jumped the gun",
        Cause::SpeedFloor => "below the speed floor",
    }
}

/// What is owed: `1 lap`, `10.000 s`, `nothing`.
#[must_use]
pub fn owed(laps: u16, time: Span) -> String {
    match (laps, time) {
        (0, Span::ZERO) => "nothing".into(),
        (0, time) => format!("{} s", seconds(time)),
        (laps, Span::ZERO) => many(laps, "lap"),
        (laps, time) => format!("{} and {} s", many(laps, "lap"), seconds(time)),
    }
}

/// A number of things: `1 lap`, `3 laps`.
#[must_use]
pub fn many(count: u16, what: &str) -> String {
    if count == 1 { format!("1 {what}") } else { format!("{count} {what}s") }
}

/// What ties the clock to UTC.
#[must_use]
pub const fn tie(tie: Tie) -> &'static str {
    match tie {
        Tie::None => "clock no longer tied to UTC",
        Tie::Arrivals => "clock tied to UTC by the arrival of fixes",
        Tie::Pps => "clock tied to UTC by the pulse per second",
        Tie::Holdover => "pulse per second lost: the crystal carries on",
        Tie::Told => "clock tied to UTC by what a host told",
    }
}

/// Why an input was not used.
#[must_use]
pub const fn refused(why: Refused) -> &'static str {
    match why {
        Refused::Late => "an input stamped well before others already taken",
        Refused::Repeated => "a fix for a moment already covered",
        Refused::FromTheFuture => "a fix for a moment yet to come",
        Refused::PulseOutOfStep => "a pulse that is no whole second from the others",
        Refused::LabelOutOfStep => "a fix whose UTC disagrees with the running clock",
        Refused::NoUtcYet => "a schedule, while UTC is not known: it waits",
        Refused::SchedulePast => "a schedule whose zero has passed",
        Refused::NotFresh => "what was known before a restart, while the clock runs already",
        Refused::ZeroWaitsForUtc => "the zero of before the restart, until UTC is known: it waits",
        Refused::ZeroLost => "the zero of before the restart: UTC was never known, so it is lost",
        Refused::ZeroTooOld => "the zero of before the restart: it is an old heat's",
        Refused::UtcKnown => "UTC told by a host, while the receiver tells it",
        Refused::UtcUnusable => "UTC told by a host for no moment just past, or with no useful deviation",
        Refused::NothingOffered => "an answer to an offer, while nothing is offered",
        Refused::ClockRuns => "what may not be done while a clock runs or is to come",
    }
}

/// A step of the engine's start.
#[must_use]
pub const fn start_step(step: StartStep) -> &'static str {
    match step {
        StartStep::AtRest => "at rest",
        StartStep::Igniters => "igniters on",
        StartStep::Cranking => "cranking",
        StartStep::FuelOn => "start fuel on",
        StartStep::Lit => "lit",
        StartStep::StarterHigh => "starter high",
        StartStep::Accelerating => "accelerating",
        StartStep::StarterOff => "self-sustaining, starter off",
        StartStep::PowerAway => "external power away",
        StartStep::Ready => "ready, idle",
        StartStep::Running => "running",
        StartStep::Cooling => "fire out, cooling",
    }
}

/// An alert in words.
#[must_use]
pub const fn alert(id: AlertId) -> &'static str {
    match id {
        AlertId::EgtLimit => "EGT over its limit",
        AlertId::EgtHigh => "EGT high, time running",
        AlertId::N1Limit => "N1 over its limit",
        AlertId::N1High => "N1 high, time running",
        AlertId::N2Overspeed => "N2 overspeed",
        AlertId::N2Limit => "N2 over its limit",
        AlertId::N2High => "N2 high, time running",
        AlertId::ProbeFault => "EGT probe broken",
        AlertId::ProbeStale => "no fresh EGT",
        AlertId::N1Signal => "no N1 signal",
        AlertId::N2Signal => "no N2 signal",
        AlertId::JumpedGun => "jumped the gun",
        AlertId::FixLost => "no GNSS fix",
        AlertId::PpsLost => "no pulse per second",
        AlertId::SpeedFloor => "below the speed floor",
        AlertId::LapMissed => "a crossing was missed",
        AlertId::ZeroMoved => "zero moved: look at the clock",
        AlertId::Approach => "line near",
        AlertId::LastLap => "last lap",
        AlertId::Finished => "finished",
        AlertId::NoLightOff => "no light-off",
        AlertId::HotStart => "hot start",
        AlertId::HungStart => "hung start",
        AlertId::FuelTooSoon => "start fuel before enough rotation",
        AlertId::StarterLong => "starter on too long",
        AlertId::StarterRest => "starter must cool",
        AlertId::NotCooling => "EGT does not fall: keep cranking, no fuel",
        AlertId::FlameOut => "flame-out",
        AlertId::N2Unloaded => "N2 has lost its load",
        AlertId::ShaftMismatch => "N1 and N2 do not belong together",
        AlertId::ProbeSplit => "EGT probes disagree",
        AlertId::ProbeAged => "EGT probe follows slowly",
        AlertId::ColdJunction => "EGT chip's own temperature makes no sense",
    }
}

/// What the run-in advised.
#[must_use]
pub const fn advice(word: Advice) -> &'static str {
    match word {
        Advice::NoClock => "no clock",
        Advice::NoFix => "no number: no fix",
        Advice::OffCourse => "no number: off course",
        Advice::TooUncertain => "no number: too uncertain",
        Advice::Hold => "HOLD",
        Advice::Go => "GO",
        Advice::Late => "LATE",
    }
}

/// Whether a margin goes with the word.
#[must_use]
pub const fn has_number(word: Advice) -> bool {
    matches!(word, Advice::Hold | Advice::Go | Advice::Late)
}

/// What hot laps have taught, or taught and the driver accepted.
#[must_use]
pub fn learned(accepted: bool, offer: &Offer, units: Units) -> String {
    let pull = |mm_s2: u16| tenth(mul_div(i64::from(mm_s2), 1, 100));
    let what = if accepted { "the driver accepts the boat as measured" } else { "the boat is measured" };
    let bends = (speed(offer.bend_now, units), speed(offer.bend_learned, units));
    let record = match offer.forecasts {
        0 => "no forecast tried yet".into(),
        count => {
            let (bias, spread) =
                (Span::from_millis(i64::from(offer.bias_ms)), Span::from_millis(i64::from(offer.spread_ms)));
            let of = many(u16::from(count), "forecast");
            format!("{of} off by {} ± {} s", signed(bias), sigma(spread))
        }
    };
    format!(
        "{what}: mean pull {} instead of {} m/s², tightest bend {} instead of {}; {record}",
        pull(offer.pull_learned_mm_s2),
        pull(offer.pull_now_mm_s2),
        bends.1,
        bends.0
    )
}

/// Where in the heat the dash believed it was.
#[must_use]
pub const fn phase(phase: Phase) -> &'static str {
    match phase {
        Phase::Waiting => "waiting for the first gun",
        Phase::Milling => "milling",
        Phase::Window => "window before zero",
        Phase::Late => "past zero, not started",
        Phase::Racing => "racing",
        Phase::Finished => "finished",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn race_times_and_margins_are_rounded_down_deviations_up() {
        let us = Span::from_micros;
        assert_eq!(clock(us(-299_730_000)), "-4:59.730");
        assert_eq!(clock(us(-1)), "-0:00.001", "zero is not shown before it has come");
        assert_eq!(clock(us(999)), "0:00.000");
        assert_eq!(margin(us(213_999)), "+0.213");
        assert_eq!(margin(us(-1)), "-0.001", "a microsecond early is early");
        assert_eq!(sigma(us(20_001)), "0.021");
        assert_eq!(verdict(Call::Early, us(-132_000), us(21_000)), "EARLY by 0.132 s ± 0.021 s");
    }

    /// A lap of 2.5 statute miles: 52.584 s is 171.155 mph or 275.447 km/h (international mile, 1,609.344 m).
    #[test]
    fn lap_speeds_are_those_of_the_mile() {
        let lap = MmPerSecond::from_mm_s(76_513);
        assert_eq!(speed(lap, Units::Mph), "171.2 mph");
        assert_eq!(speed(lap, Units::KmPerHour), "275.4 km/h");
    }

    #[test]
    fn names_in_files_are_small_letters_with_hyphens() {
        assert_eq!(kebab(AlertId::N2Overspeed), "n2-overspeed");
        assert_eq!(kebab(Call::TooClose), "too-close");
        assert_eq!(zero_source(ZeroSource::Press { before_s: 300 }), "five-minute gun");
        assert_eq!(zero_source(ZeroSource::Press { before_s: 120 }), "120-second gun");
    }
}
