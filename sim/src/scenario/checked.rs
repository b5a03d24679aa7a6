//! One value against what its key takes.
//!
//! Knows the keys, exact decimals and race time. A value as parsed in; a checked value, or what is wrong, out.

use std::ops::Range;

use firmware::gnss::calendar::{Day, TimeOfDay};
use firmware::units::Span;
use toml::Spanned;
use toml::de::{DeArray, DeInteger, DeValue};
use toml::value::{Datetime, Offset, Time};

use super::degrees;
use super::keys::{RADIUS_M, Takes, bound, one_of};
use super::measure::{self, NoMeasure};
use super::nearest::did_you_mean;
use super::number::Decimal;
use super::race_time;
use super::value::Value;

/// What is wrong with a value, and where.
#[derive(Debug)]
pub struct Wrong {
    /// The bytes in question.
    pub at: Range<usize>,
    /// What is wrong; the key's name goes before it.
    pub what: String,
    /// What would be right; when empty, what the key takes says it all.
    pub right: String,
}

/// A value as parsed, and where it stands.
type Parsed<'a, 'i> = &'a Spanned<DeValue<'i>>;

/// The value, checked.
///
/// # Errors
/// What is wrong with it.
pub fn value(takes: &Takes, parsed: Parsed<'_, '_>) -> Result<Value, Wrong> {
    match *takes {
        Takes::Number { unit, from, to } => {
            within(parsed, number(parsed, unit, takes)?, bound(from), bound(to), unit).map(Value::Number)
        }
        Takes::Whole { unit, from, to } => whole(parsed, unit, from, to, takes).map(Value::Number),
        Takes::List { each, most } => list(parsed, each, most, takes),
        Takes::Place => place(parsed, takes).map(|(latitude, longitude)| Value::Place(latitude, longitude)),
        Takes::Bends { most } => bends(parsed, most, takes),
        Takes::Word(words) => word(parsed, words, takes),
        Takes::Flag => parsed.get_ref().as_bool().map(Value::Flag).ok_or_else(|| not(parsed, takes)),
        Takes::Text => text(parsed, takes).map(Value::Text),
        Takes::File => file(parsed, takes),
        Takes::Moment => moment(parsed, takes),
        Takes::Day => day(parsed, takes),
        Takes::RaceTime => time(parsed, takes),
    }
}

/// What a value is, in words.
#[must_use]
pub const fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

fn wrong(parsed: Parsed<'_, '_>, what: impl Into<String>, right: impl Into<String>) -> Wrong {
    Wrong { at: parsed.span(), what: what.into(), right: right.into() }
}

/// The value is of another kind.
fn not(parsed: Parsed<'_, '_>, takes: &Takes) -> Wrong {
    let wants = match takes {
        Takes::Number { .. } => "a number",
        Takes::Whole { .. } => "a whole number",
        Takes::List { .. } => "a list of numbers",
        Takes::Place => "a latitude and a longitude",
        Takes::Bends { .. } => "a list of bends",
        Takes::Word(_) | Takes::Text | Takes::File => "a text in quotes",
        Takes::Flag => "true or false",
        Takes::Moment => "a date and time",
        Takes::Day => "a date",
        Takes::RaceTime => "a race time",
    };
    wrong(parsed, format!("must be {wants}, not {}", kind(parsed.get_ref())), "")
}

/// A number; or a text with a number and its unit, as a number of the key's own unit.
fn number(parsed: Parsed<'_, '_>, unit: &str, takes: &Takes) -> Result<Decimal, Wrong> {
    let number = match parsed.get_ref() {
        DeValue::Integer(integer) => whole_number(integer),
        DeValue::Float(float) => Decimal::parse(float.as_str()),
        DeValue::String(text) => {
            return measure::read(text, unit).map_err(|why| no_measure(parsed, text, unit, takes, why));
        }
        _ => return Err(not(parsed, takes)),
    };
    number.ok_or_else(|| wrong(parsed, "is no number that means anything here", ""))
}

fn no_measure(parsed: Parsed<'_, '_>, text: &str, unit: &str, takes: &Takes, why: NoMeasure) -> Wrong {
    let units = measure::units_for(unit).join(", ");
    let what = match why {
        NoMeasure::Bare => return not(parsed, takes),
        NoMeasure::WithoutUnit => format!("is \"{text}\": a text needs a unit behind its number"),
        NoMeasure::NoNumber => format!("is \"{text}\", which does not begin with a number such as 12 or 0.5"),
        NoMeasure::TooLarge => format!("is \"{text}\", which means nothing here"),
        NoMeasure::Other { is, wanted } => format!("is \"{text}\", {is}, but must be {wanted}"),
        NoMeasure::Unknown { unit, near } => {
            let what = format!("is \"{text}\", and no unit here is called {unit}");
            let near = near.map_or(String::new(), |near| format!("did you mean {near}? "));
            return wrong(parsed, what, format!("{near}Its units are {units}"));
        }
    };
    wrong(parsed, what, format!("write {}, or in quotes with one of {units}", takes.in_words()))
}

fn whole_number(integer: &DeInteger<'_>) -> Option<Decimal> {
    match integer.radix() {
        10 => Decimal::parse(integer.as_str()),
        radix => i64::from_str_radix(integer.as_str(), radix).ok().map(Decimal::whole),
    }
}

fn within(
    at: Parsed<'_, '_>,
    number: Decimal,
    from: Decimal,
    to: Decimal,
    unit: &str,
) -> Result<Decimal, Wrong> {
    if (from..=to).contains(&number) {
        return Ok(number);
    }
    let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
    let what = match at.get_ref().as_str() {
        Some(text) => format!("is \"{text}\", {}{unit}, which is out of range", number.shortened()),
        None => format!("is {number}{unit}, which is out of range"),
    };
    Err(wrong(at, what, format!("it must be from {from} to {to}{unit}")))
}

fn whole(parsed: Parsed<'_, '_>, unit: &str, from: i64, to: i64, takes: &Takes) -> Result<Decimal, Wrong> {
    let number = number(parsed, unit, takes)?;
    if !number.is_whole() {
        return Err(wrong(parsed, format!("must be a whole number, not {}", number.shortened()), ""));
    }
    within(parsed, number, Decimal::whole(from), Decimal::whole(to), unit)
}

fn list(parsed: Parsed<'_, '_>, each: &Takes, most: usize, takes: &Takes) -> Result<Value, Wrong> {
    let elements = parsed.get_ref().as_array().ok_or_else(|| not(parsed, takes))?;
    if elements.len() > most {
        return Err(wrong(
            parsed,
            format!("has {} entries", elements.len()),
            format!("there may be up to {most}"),
        ));
    }
    let read = |element| match value(each, element) {
        Ok(Value::Number(number)) => Ok(number),
        Ok(_) => Err(not(element, each)),
        Err(wrong) => Err(Wrong { what: format!("has an entry that {}", wrong.what), ..wrong }),
    };
    elements.iter().map(read).collect::<Result<_, _>>().map(Value::List)
}

fn place(parsed: Parsed<'_, '_>, takes: &Takes) -> Result<(Decimal, Decimal), Wrong> {
    let elements: Option<&DeArray<'_>> = parsed.get_ref().as_array();
    let Some([lat, lon]) = elements.map(|elements| elements.as_ref()) else {
        return Err(not(parsed, takes));
    };
    on_globe(lat, lon, takes)
}

fn on_globe(lat: Parsed<'_, '_>, lon: Parsed<'_, '_>, takes: &Takes) -> Result<(Decimal, Decimal), Wrong> {
    let (latitude, longitude) = (degrees(lat, ['N', 'S'], takes)?, degrees(lon, ['E', 'W'], takes)?);
    let (highest, widest) = (Decimal::whole(85), Decimal::whole(180));
    let is_lat = |degrees: Decimal| (Decimal::whole(-85)..=highest).contains(&degrees);
    if !is_lat(latitude) && is_lat(longitude) {
        let what = format!("has latitude {latitude}, which is none");
        return Err(wrong(
            lat,
            what,
            "latitude stands first, longitude second; latitudes go from -85 to 85 degrees",
        ));
    }
    let off = |axis: &str, wrong: Wrong| Wrong { what: format!("has a {axis} that {}", wrong.what), ..wrong };
    let degrees = "degrees";
    within(lat, latitude, Decimal::whole(-85), highest, degrees).map_err(|wrong| off("latitude", wrong))?;
    within(lon, longitude, Decimal::whole(-180), widest, degrees).map_err(|wrong| off("longitude", wrong))?;
    Ok((latitude, longitude))
}

/// Degrees as a number, or as a chart writes them.
fn degrees(parsed: Parsed<'_, '_>, letters: [char; 2], takes: &Takes) -> Result<Decimal, Wrong> {
    let Some(text) = parsed.get_ref().as_str() else { return number(parsed, "", takes) };
    degrees::parse(text, letters).ok_or_else(|| {
        let [first, second] = letters;
        let right = format!(
            "write degrees as a number, or like \"45°12'34.5\\\"{first}\": {first} or {second} behind"
        );
        wrong(parsed, format!("has \"{text}\", which is no such degrees"), right)
    })
}

fn bends(parsed: Parsed<'_, '_>, most: usize, takes: &Takes) -> Result<Value, Wrong> {
    let elements = parsed.get_ref().as_array().ok_or_else(|| not(parsed, takes))?;
    if elements.len() > most {
        let what = format!("has {} bends", elements.len());
        return Err(wrong(parsed, what, format!("there may be up to {most}")));
    }
    let bend = |element: Parsed<'_, '_>| {
        let triple: Option<&DeArray<'_>> = element.get_ref().as_array();
        let Some([lat, lon, radius]) = triple.map(|triple| triple.as_ref()) else {
            return Err(wrong(element, "has a bend that is not [latitude, longitude, radius]", ""));
        };
        let (latitude, longitude) = on_globe(lat, lon, takes)?;
        let (from, to) = (bound(RADIUS_M.0), bound(RADIUS_M.1));
        let size = number(radius, "m", takes)
            .and_then(|size| within(radius, size, from, to, "m"))
            .map_err(|wrong| Wrong { what: format!("has a radius that {}", wrong.what), ..wrong })?;
        Ok([latitude, longitude, size])
    };
    elements.iter().map(bend).collect::<Result<_, _>>().map(Value::Bends)
}

fn text(parsed: Parsed<'_, '_>, takes: &Takes) -> Result<String, Wrong> {
    parsed.get_ref().as_str().map(str::to_owned).ok_or_else(|| not(parsed, takes))
}

fn file(parsed: Parsed<'_, '_>, takes: &Takes) -> Result<Value, Wrong> {
    match text(parsed, takes)? {
        path if path.is_empty() => Err(wrong(parsed, "names no file", "")),
        path => Ok(Value::Text(path)),
    }
}

fn word(parsed: Parsed<'_, '_>, words: &'static [&'static str], takes: &Takes) -> Result<Value, Wrong> {
    let word = text(parsed, takes)?;
    if words.contains(&word.as_str()) {
        return Ok(Value::Text(word));
    }
    let right = match did_you_mean(&word, words) {
        Some(near) => format!("did you mean \"{near}\"? It takes {}", one_of(words)),
        None => format!("it takes {}", one_of(words)),
    };
    Err(wrong(parsed, format!("does not know the word \"{word}\""), right))
}

fn moment(parsed: Parsed<'_, '_>, takes: &Takes) -> Result<Value, Wrong> {
    let moment = match parsed.get_ref() {
        DeValue::Datetime(moment) => moment,
        DeValue::String(_) => return Err(wrong(parsed, "must stand without quotes", "")),
        _ => return Err(not(parsed, takes)),
    };
    let Datetime { date: Some(date), time: Some(time), offset: Some(Offset::Z) } = moment else {
        let what =
            if moment.offset.is_some() { "is not in UTC" } else { "is not a whole date and time with a Z" };
        return Err(wrong(
            parsed,
            what,
            "write UTC, with a T between date and time and a Z behind: 2031-05-17T19:05:00.000Z",
        ));
    };
    if !(1980..2080).contains(&date.year) {
        let right = "from 1980 to 2079: receivers write years with two digits";
        return Err(wrong(parsed, format!("is in the year {}", date.year), right));
    }
    let day = Day::from_civil(date.year, date.month, date.day);
    let utc = day.zip(time_of_day(time)).map(|(day, (time, fraction))| day.at(time).plus(fraction));
    utc.map(Value::Moment).ok_or_else(|| wrong(parsed, "is no date and time that exists", ""))
}

fn day(parsed: Parsed<'_, '_>, takes: &Takes) -> Result<Value, Wrong> {
    let moment = match parsed.get_ref() {
        DeValue::Datetime(moment) => moment,
        DeValue::String(_) => return Err(wrong(parsed, "must stand without quotes", "")),
        _ => return Err(not(parsed, takes)),
    };
    let Datetime { date: Some(date), time: None, offset: None } = moment else {
        return Err(wrong(parsed, "is more than a date", "write the day alone: 2031-05-17"));
    };
    if !(1980..2080).contains(&date.year) {
        return Err(wrong(parsed, format!("is in the year {}", date.year), "from 1980 to 2079"));
    }
    let midnight = Day::from_civil(date.year, date.month, date.day).zip(TimeOfDay::from_hms(0, 0, 0));
    let midnight = midnight.map(|(day, time)| Value::Day(day.at(time)));
    midnight.ok_or_else(|| wrong(parsed, "is no date that exists", ""))
}

/// A time of day and what is left behind its whole seconds, to the nearest microsecond.
fn time_of_day(time: &Time) -> Option<(TimeOfDay, Span)> {
    let whole = TimeOfDay::from_hms(time.hour, time.minute, time.second.unwrap_or(0))?;
    let nanos = i64::from(time.nanosecond.unwrap_or(0));
    Some((whole, Span::from_micros((nanos + 500) / 1_000)))
}

fn time(parsed: Parsed<'_, '_>, takes: &Takes) -> Result<Value, Wrong> {
    let span = match parsed.get_ref() {
        DeValue::String(text) => race_time::parse(text).map_err(|why| {
            wrong(parsed, format!("is \"{text}\": {why}"), "write \"[-]M:SS.mmm\", such as \"-4:59.730\"")
        })?,
        DeValue::Integer(_) | DeValue::Float(_) => {
            let day = Decimal::whole(race_time::A_DAY.as_micros() / 1_000_000);
            let least = Decimal::whole(-race_time::A_DAY.as_micros() / 1_000_000);
            Span::from_micros(within(parsed, number(parsed, "", takes)?, least, day, "s")?.in_units(6))
        }
        _ => return Err(not(parsed, takes)),
    };
    Ok(Value::Time(span))
}
