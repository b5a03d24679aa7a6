//! The fields of a whole NMEA 0183 sentence become quantities.
//!
//! Four sentences are read, from any talker: RMC, GGA, VTG and ZDA. All others, and all proprietary ones
//! (their address begins with P), are none of ours. The order of the fields follows the NMEA 0183 sentence
//! lists; all arithmetic is on whole numbers, rounded to nearest.
//!
//! This file knows the units and the calendar; it remembers nothing from one sentence to the next.

use super::calendar::{Day, TimeOfDay, two};
use super::digits::{NANO, nano, two_and_fraction, whole};
use super::{Fix, Position, Reject};
use crate::units::{CentiDegrees, MmPerSecond, NanoDegrees, Utc};

/// A sentence that says something of use.
pub(super) enum Sentence {
    Rmc(Rmc),
    Gga(Gga),
    Vtg(Vtg),
    Zda(Zda),
}

/// Recommended minimum data: place, motion, date and time in one.
pub(super) struct Rmc {
    pub(super) time: Option<TimeOfDay>,
    /// `None` while the receiver knows no place, date or time.
    pub(super) fix: Option<Fix>,
}

/// Place, time of day and quality, without motion or date.
#[derive(Clone, Copy, Debug)]
pub(super) struct Gga {
    pub(super) time: Option<TimeOfDay>,
    pub(super) position: Option<Position>,
    pub(super) valid: bool,
    pub(super) hdop_centi: Option<u16>,
}

/// Motion, without time or place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Vtg {
    pub(super) course: Option<CentiDegrees>,
    pub(super) speed: Option<MmPerSecond>,
}

/// Date and time.
pub(super) struct Zda {
    pub(super) moment: Option<Utc>,
}

/// Reads what stands between `$` and `*`; `None` when it is none of ours.
pub(super) fn read(content: &[u8]) -> Result<Option<Sentence>, Reject> {
    let mut fields = Fields { rest: Some(content) };
    Ok(match formatter(fields.next()?) {
        Some(b"RMC") => Some(Sentence::Rmc(rmc(fields)?)),
        Some(b"GGA") => Some(Sentence::Gga(gga(fields)?)),
        Some(b"VTG") => Some(Sentence::Vtg(vtg(fields)?)),
        Some(b"ZDA") => Some(Sentence::Zda(zda(fields)?)),
        _ => None,
    })
}

/// The three letters that say what an address announces, after the two of its talker.
fn formatter(address: &[u8]) -> Option<&[u8]> {
    match address {
        [b'P', ..] => None,
        [_, _, formatter @ ..] => Some(formatter),
        _ => None,
    }
}

/// time, status, latitude, N/S, longitude, E/W, knots, course, ddmmyy, variation, E/W, mode (2.3 on).
///
/// Status V or mode N: the receiver does not vouch for it, and may leave fields empty. Without a place, a date
/// or a time there is no fix then, and nothing to reject. Any other mode leaves it to the status, which the
/// standard wants to be V for estimated, manual and simulated positions (from memory).
fn rmc(mut fields: Fields<'_>) -> Result<Rmc, Reject> {
    let time = filled(fields.next()?, time)?;
    let status = fields.next()?;
    let position = fields.position()?;
    let speed = filled(fields.next()?, knots)?;
    let course = filled(fields.next()?, course)?;
    let day = filled(fields.next()?, day)?;
    let _variation = (fields.next(), fields.next());
    let mode = fields.next().unwrap_or_default();
    let valid = match status {
        b"A" => mode != b"N",
        b"V" => false,
        _ => return Err(Reject::BadField),
    };
    let fix = match (day, time, position) {
        (Some(day), Some(time), Some(position)) if speed.is_some() || !valid => {
            Some(fix(day.at(time), position, Vtg { course, speed }, valid))
        }
        _ if valid => return Err(Reject::BadField),
        _ => None,
    };
    Ok(Rmc { time, fix })
}

/// time, latitude, N/S, longitude, E/W, quality 0 to 8, satellites, HDOP, and more that is not read.
fn gga(mut fields: Fields<'_>) -> Result<Gga, Reject> {
    let time = filled(fields.next()?, time)?;
    let position = fields.position()?;
    let quality = filled(fields.next()?, |field| whole(field, 1).ok_or(Reject::BadField))?;
    let _satellites = fields.next()?;
    let hdop_centi = filled(fields.next()?, hdop)?;
    let valid = quality.is_some_and(|quality| quality > 0);
    if valid && (time.is_none() || position.is_none()) {
        return Err(Reject::BadField);
    }
    Ok(Gga { time, position, valid, hdop_centi })
}

/// course, T, magnetic course, M, knots, N, km/h, K, mode (2.3 on). km/h stand in for absent knots.
fn vtg(mut fields: Fields<'_>) -> Result<Vtg, Reject> {
    let course = filled(fields.next()?, course)?;
    let unit_of_course = fields.next()?;
    let _magnetic = (fields.next()?, fields.next()?);
    let in_knots = filled(fields.next()?, knots)?;
    let unit_of_speed = fields.next()?;
    let in_km_h = filled(fields.next()?, km_h)?;
    if unit_of_course != b"T" || unit_of_speed != b"N" {
        return Err(Reject::BadField);
    }
    Ok(Vtg { course, speed: in_knots.or(in_km_h) })
}

/// time, dd, mm, yyyy, and the local zone, which is not read: the time is UTC.
fn zda(mut fields: Fields<'_>) -> Result<Zda, Reject> {
    let time = filled(fields.next()?, time)?;
    let (day, month, year) = (fields.next()?, fields.next()?, fields.next()?);
    if day.is_empty() && month.is_empty() && year.is_empty() {
        return Ok(Zda { moment: None });
    }
    let year = whole(year, 4).ok_or(Reject::BadField)?;
    let day = civil(year, month, day)?;
    Ok(Zda { moment: time.map(|time| day.at(time)) })
}

/// A fix from its parts. Receivers leave the course empty when they stand still: it is then given as 0.
pub(super) fn fix(utc: Utc, position: Position, motion: Vtg, valid: bool) -> Fix {
    Fix {
        utc,
        position,
        speed: motion.speed.unwrap_or_default(),
        course: motion.course.unwrap_or_default(),
        position_sd: None,
        speed_sd: None,
        hdop_centi: None,
        valid,
    }
}

/// The fields of a sentence, first to last.
struct Fields<'a> {
    /// What has not been read yet; `None` behind the last field.
    rest: Option<&'a [u8]>,
}

impl<'a> Fields<'a> {
    /// The next field; a sentence that ends too soon lacks one.
    fn next(&mut self) -> Result<&'a [u8], Reject> {
        let rest = self.rest.ok_or(Reject::BadField)?;
        let comma = rest.iter().position(|byte| *byte == b',');
        let (field, rest) = match comma.and_then(|comma| rest.split_at_checked(comma)) {
            Some((field, rest)) => (field, rest.get(1..)),
            None => (rest, None),
        };
        self.rest = rest;
        Ok(field)
    }

    /// The next four fields as a place; `None` when both angles are empty.
    fn position(&mut self) -> Result<Option<Position>, Reject> {
        let (lat, north_south) = (self.next()?, self.next()?);
        let (lon, east_west) = (self.next()?, self.next()?);
        if lat.is_empty() && lon.is_empty() {
            return Ok(None);
        }
        let lat = angle(lat, 2, 90, hemisphere(north_south, b"N", b"S")?)?;
        let lon = angle(lon, 3, 180, hemisphere(east_west, b"E", b"W")?)?;
        Ok(Some(Position { lat, lon }))
    }
}

/// Nothing for an empty field, else what `read` makes of it.
fn filled<T>(field: &[u8], read: impl Fn(&[u8]) -> Result<T, Reject>) -> Result<Option<T>, Reject> {
    if field.is_empty() { Ok(None) } else { read(field).map(Some) }
}

/// 1 or -1 for the letter of a hemisphere.
fn hemisphere(field: &[u8], positive: &[u8], negative: &[u8]) -> Result<i64, Reject> {
    match field {
        _ if field == positive => Ok(1),
        _ if field == negative => Ok(-1),
        _ => Err(Reject::BadField),
    }
}

/// `ddmm.mmmm` with `places` digits of degrees and any number of decimals.
fn angle(field: &[u8], places: usize, limit: i64, sign: i64) -> Result<NanoDegrees, Reject> {
    let (degrees, minutes) = field.split_at_checked(places).ok_or(Reject::BadField)?;
    let degrees = whole(degrees, places).ok_or(Reject::BadField)?;
    let minutes = two_and_fraction(minutes).ok_or(Reject::BadField)?;
    // A billionth of a minute is 1/60 of a billionth of a degree, and a half of that has nine decimals at
    // most: digits after the ninth cannot change the rounding.
    let rest = i64::try_from((minutes + 30) / 60).map_err(|_| Reject::BadField)?;
    let size = i64::from(degrees) * NANO_DEGREES + rest;
    if minutes >= 60 * NANO || size > limit * NANO_DEGREES {
        return Err(Reject::BadPosition);
    }
    Ok(NanoDegrees::from_nano(sign * size))
}

/// One degree.
const NANO_DEGREES: i64 = 1_000_000_000;

/// `hhmmss` with any number of decimals.
fn time(field: &[u8]) -> Result<TimeOfDay, Reject> {
    let (hour, rest) = field.split_at_checked(2).ok_or(Reject::BadField)?;
    let (minute, second) = rest.split_at_checked(2).ok_or(Reject::BadField)?;
    let hour = two(hour).ok_or(Reject::BadField)?;
    let minute = two(minute).ok_or(Reject::BadField)?;
    let second = two_and_fraction(second).ok_or(Reject::BadField)?;
    TimeOfDay::from_hm_nanos(hour, minute, second).ok_or(Reject::BadTime)
}

/// `ddmmyy`; 80 to 99 are of the 20th century, in which this protocol and the satellites began.
fn day(field: &[u8]) -> Result<Day, Reject> {
    let (day, rest) = field.split_at_checked(2).ok_or(Reject::BadField)?;
    let (month, year) = rest.split_at_checked(2).ok_or(Reject::BadField)?;
    let year = whole(year, 2).ok_or(Reject::BadField)?;
    civil(if year >= 80 { 1900 + year } else { 2000 + year }, month, day)
}

fn civil(year: u16, month: &[u8], day: &[u8]) -> Result<Day, Reject> {
    let month = two(month).ok_or(Reject::BadField)?;
    let day = two(day).ok_or(Reject::BadField)?;
    Day::from_civil(year, month, day).ok_or(Reject::BadTime)
}

/// Degrees from true north, 0 to 360, where 360 is 0 again.
fn course(field: &[u8]) -> Result<CentiDegrees, Reject> {
    let centi = nearest(nano(field), 1, NANO / 100)?;
    if centi > 36_000 { Err(Reject::BadField) } else { Ok(CentiDegrees::from_centi(centi % 36_000)) }
}

/// Knots: the nautical mile is 1852 m by definition, so one knot is 4630/9 mm/s.
fn knots(field: &[u8]) -> Result<MmPerSecond, Reject> {
    nearest(nano(field), 4_630, 9 * NANO).map(MmPerSecond::from_mm_s)
}

/// Kilometres per hour: one is 2500/9 mm/s.
fn km_h(field: &[u8]) -> Result<MmPerSecond, Reject> {
    nearest(nano(field), 2_500, 9 * NANO).map(MmPerSecond::from_mm_s)
}

/// Dilution of precision in hundredths; more than 655.35 is given as 655.35.
fn hdop(field: &[u8]) -> Result<u16, Reject> {
    nearest(nano(field), 1, NANO / 100).map(|centi| u16::try_from(centi).unwrap_or(u16::MAX))
}

/// `value * times / per`, rounded to nearest. The value is below 10^15, so nothing is cut off.
fn nearest(value: Option<u64>, times: u64, per: u64) -> Result<i32, Reject> {
    let scaled = value.ok_or(Reject::BadField)?.saturating_mul(times).saturating_add(per / 2) / per;
    i32::try_from(scaled).map_err(|_| Reject::BadField)
}

#[cfg(test)]
mod tests;
