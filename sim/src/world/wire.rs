//! What the receiver has to say about one epoch, and the two tongues it says it in: NMEA 0183 sentences and
//! the UBX-NAV-PVT message.
//!
//! An [`Epoch`] goes in, bytes as they leave the receiver come out, checksums included. Numbers are written
//! from whole units, so that the same epoch gives the same bytes everywhere.
//!
//! This room knows the maths only.

use super::maths::{round, sin_cos};

/// One sentence or frame. The longest sentence written here has 85 characters, a NAV-PVT frame 100 bytes.
pub type Bytes = heapless::Vec<u8, 128>;

/// One epoch as the receiver sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Epoch {
    /// Its label: microseconds since 1970 in UTC, a whole number of milliseconds.
    pub unix_us: i64,
    /// Latitude, degrees north.
    pub lat_deg: f64,
    /// Longitude, degrees east.
    pub lon_deg: f64,
    /// Speed over ground.
    pub speed_m_s: f64,
    /// Course over ground, clockwise from north, 0 to 360.
    pub course_deg: f64,
    /// The receiver vouches for all this.
    pub valid: bool,
    /// Its own figure for the error of its position.
    pub position_sd_m: f64,
    /// Its own figure for the error of its speed.
    pub speed_sd_m_s: f64,
}

/// A knot in metres per second, exact: 1852 m in 3600 s.
const KNOT_M_S: f64 = 1_852.0 / 3_600.0;
const SATELLITES: u8 = 18;
const DAY_S: i64 = 86_400;

/// A UTC label taken apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Calendar {
    year: i64,
    month: i64,
    day: i64,
    hour: i64,
    minute: i64,
    second: i64,
    micros: i64,
}

impl Calendar {
    /// From microseconds since 1970; days by the proleptic Gregorian calendar, counted in years from March.
    fn of(unix_us: i64) -> Self {
        let (seconds, micros) = (unix_us.div_euclid(1_000_000), unix_us.rem_euclid(1_000_000));
        let (days, time) = (seconds.div_euclid(DAY_S), seconds.rem_euclid(DAY_S));
        // 719,468 days lie between 0000-03-01 and 1970-01-01; 400 years have 146,097.
        let shifted = days + 719_468;
        let (era, day) = (shifted.div_euclid(146_097), shifted.rem_euclid(146_097));
        let year = (day - day / 1_460 + day / 36_524 - day / 146_096) / 365;
        let day = day - (365 * year + year / 4 - year / 100);
        let month = (5 * day + 2) / 153;
        Self {
            year: era * 400 + year + i64::from(month >= 10),
            month: if month < 10 { month + 3 } else { month - 9 },
            day: day - (153 * month + 2) / 5 + 1,
            hour: time / 3_600,
            minute: time / 60 % 60,
            second: time % 60,
            micros,
        }
    }
}

/// One epoch in NMEA 0183: the RMC sentence (place, speed, course, date) and the GGA sentence (place, quality,
/// satellites, dilution of precision, height).
///
/// Minutes have seven decimals, so a step is 0.2 mm on the ground; knots have three, 0.5 mm/s. Every field is
/// as wide as its largest value; without a fix the fields are empty.
pub fn nmea(epoch: &Epoch, [rmc, gga]: &mut [Bytes; 2]) {
    let when = Calendar::of(epoch.unix_us);
    let mut time = *b"000000.00";
    fill(&mut time, (when.hour * 10_000 + when.minute * 100 + when.second) * 100 + when.micros / 10_000);
    let mut date = *b"000000";
    fill(&mut date, when.day * 10_000 + when.month * 100 + when.year % 100);
    if !epoch.valid {
        sentence(rmc, &[b"$GNRMC,", &time, b",V,,,,,,,", &date, b",,,N"]);
        sentence(gga, &[b"$GNGGA,", &time, b",,,,,0,00,99.99,,,,,,"]);
        return;
    }
    let mut place = *b"0000.0000000,N,00000.0000000,E";
    let (lat, lon) = place.split_at_mut(15);
    angle(lat, epoch.lat_deg, b'S');
    angle(lon, epoch.lon_deg, b'W');
    let mut motion = *b"000.000,000.00";
    let (speed, course) = motion.split_at_mut(8);
    fill(speed, round(epoch.speed_m_s / KNOT_M_S * 1_000.0));
    fill(course, round(epoch.course_deg * 100.0) % 36_000);
    sentence(rmc, &[b"$GNRMC,", &time, b",A,", &place, b",", &motion, b",", &date, b",,,A"]);
    sentence(gga, &[b"$GNGGA,", &time, b",", &place, b",1,18,0.80,50.0,M,45.0,M,,"]);
}

/// Writes a number over a field's zeros, last digit last, past the points, until the field is full.
fn fill(field: &mut [u8], value: i64) {
    let mut rest = value.unsigned_abs();
    for byte in field.iter_mut().rev().filter(|byte| **byte == b'0') {
        *byte = b'0' + (rest % 10) as u8;
        rest /= 10;
    }
}

/// Degrees and minutes in one number, as the standard wants it, and the letter of the hemisphere.
fn angle(field: &mut [u8], degrees: f64, negative: u8) {
    const MINUTE: i64 = 10_000_000;
    let minutes = round(degrees.abs() * 60.0 * MINUTE as f64);
    fill(field, minutes / (60 * MINUTE) * (100 * MINUTE) + minutes % (60 * MINUTE));
    if degrees < 0.0 {
        for letter in field.iter_mut().filter(|byte| byte.is_ascii_uppercase()) {
            *letter = negative;
        }
    }
}

/// The parts joined, then a star, the checksum of all between dollar and star, and the line's end.
#[inline(always)] // the parts' lengths are then known, and each is copied in a few instructions
fn sentence(line: &mut Bytes, parts: &[&[u8]]) {
    const HEX: [u8; 16] = *b"0123456789ABCDEF";
    line.clear();
    for part in parts {
        let _ = line.extend_from_slice(part); // 128 bytes hold every sentence written here
    }
    let sum = line.get(1..).unwrap_or_default().iter().fold(0, |sum, byte| sum ^ byte);
    let hex = |nibble: u8| HEX.get(usize::from(nibble)).copied().unwrap_or(b'0');
    let _ = line.extend_from_slice(&[b'*', hex(sum >> 4), hex(sum & 15), b'\r', b'\n']);
}

/// GPS time began on 1980-01-06 and is 18 s ahead of UTC since 2017.
const GPS_EPOCH_S: i64 = 315_964_800;
const GPS_AHEAD_S: i64 = 18;
const WEEK_MS: i64 = 604_800_000;

/// The UBX-NAV-PVT frame: class 01, id 07, 92 bytes of payload.
#[must_use]
pub fn nav_pvt(epoch: &Epoch) -> Bytes {
    let when = Calendar::of(epoch.unix_us);
    let week_ms = (epoch.unix_us / 1_000 + (GPS_AHEAD_S - GPS_EPOCH_S) * 1_000).rem_euclid(WEEK_MS);
    let valid = epoch.valid;
    let (sin, cos) = sin_cos(epoch.course_deg.to_radians());
    let mm_s = |m_s: f64| round(m_s * 1_000.0);
    let mut frame = Frame(Bytes::new());
    frame.bytes(&[0xB5, 0x62, 0x01, 0x07, 92, 0]);
    frame.le(week_ms, 4);
    frame.le(when.year, 2);
    for field in [when.month, when.day, when.hour, when.minute, when.second] {
        frame.le(field, 1);
    }
    frame.le(if valid { 0x37 } else { 0 }, 1);
    frame.le(25, 4); // tAcc, ns
    frame.le(when.micros * 1_000, 4);
    frame.bytes(if valid { &[3, 1, 0xE0, SATELLITES] } else { &[0, 0, 0xE0, 0] });
    frame.le(round(epoch.lon_deg * 1e7), 4);
    frame.le(round(epoch.lat_deg * 1e7), 4);
    frame.le(0, 4); // height
    frame.le(0, 4); // hMSL
    frame.le(if valid { round(epoch.position_sd_m * 1_000.0) } else { 0xFFFF_FFFF }, 4);
    frame.le(1_500, 4); // vAcc, mm
    frame.le(mm_s(epoch.speed_m_s * cos), 4);
    frame.le(mm_s(epoch.speed_m_s * sin), 4);
    frame.le(0, 4); // velD
    frame.le(mm_s(epoch.speed_m_s), 4);
    frame.le(round(epoch.course_deg * 1e5), 4);
    frame.le(mm_s(epoch.speed_sd_m_s), 4);
    frame.le(50_000, 4); // headAcc, 0.5 degrees
    frame.le(120, 2); // pDOP 1.20
    frame.bytes(&[0; 14]); // flags3, reserved, headVeh, magDec, magAcc
    frame.end()
}

/// A frame being written.
struct Frame(Bytes);

impl Frame {
    fn bytes(&mut self, bytes: &[u8]) {
        let _ = self.0.extend_from_slice(bytes);
    }

    fn le(&mut self, value: i64, size: usize) {
        self.bytes(value.to_le_bytes().get(..size).unwrap_or_default());
    }

    /// Two running sums over all between the sync characters and here.
    fn end(mut self) -> Bytes {
        let sums = self.0.iter().skip(2).fold((0_u8, 0_u8), |(a, b), byte| {
            let a = a.wrapping_add(*byte);
            (a, b.wrapping_add(a))
        });
        self.bytes(&[sums.0, sums.1]);
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 2026-07-11 19:00:00.100 UTC.
    const LABEL: i64 = 1_783_796_400_100_000;

    fn epoch() -> Epoch {
        Epoch {
            unix_us: LABEL,
            lat_deg: 47.58,
            lon_deg: -122.25,
            speed_m_s: 71.526,
            course_deg: 90.0,
            valid: true,
            position_sd_m: 0.9,
            speed_sd_m_s: 0.15,
        }
    }

    fn sentences(epoch: &Epoch) -> [Bytes; 2] {
        let mut both = [Bytes::new(), Bytes::new()];
        nmea(epoch, &mut both);
        both
    }

    fn text(bytes: &Bytes) -> &str {
        core::str::from_utf8(bytes).unwrap()
    }

    /// Worked by hand: 0.58 degrees are 34.8 minutes, 71.526 m/s are 139.035 knots; the checksums by the
    /// exclusive-or rule of NMEA 0183, computed apart.
    #[test]
    fn sentences_say_what_the_epoch_says() {
        let [rmc, gga] = sentences(&epoch());
        assert_eq!(
            text(&rmc),
            "$GNRMC,190000.10,A,4734.8000000,N,12215.0000000,W,139.035,090.00,110726,,,A*65\r\n"
        );
        assert_eq!(
            text(&gga),
            "$GNGGA,190000.10,4734.8000000,N,12215.0000000,W,1,18,0.80,50.0,M,45.0,M,,*65\r\n"
        );
    }

    #[test]
    fn without_a_fix_the_status_is_v_and_the_fields_are_empty() {
        let none = Epoch { valid: false, ..epoch() };
        let [rmc, gga] = sentences(&none);
        assert!(text(&rmc).starts_with("$GNRMC,190000.10,V,,,,,,,110726,,,N*"));
        assert!(text(&gga).starts_with("$GNGGA,190000.10,,,,,0,00,99.99,,,,,,*"));
    }

    /// A frame built and read back with the Python package pyubx2 1.4.0.
    #[test]
    fn a_nav_pvt_frame_is_the_one_that_another_library_reads() {
        let hex = "b56201075c003422fa22ea07070b130000371900000000e1f5050301e012602122b7c0215c1c000000000000000084030000\
                   dc05000000000000661701000000000066170100405489009600000050c30000780000000000000000000000000000006237";
        let frame: String = nav_pvt(&epoch()).iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(frame, hex);
    }

    /// Moments whose seconds since 1970 are well known: two round ones, a leap day, the end of a century.
    #[test]
    fn dates_are_those_of_the_gregorian_calendar() {
        for (seconds, date) in [
            (0, (1970, 1, 1)),
            (951_782_400, (2000, 2, 29)),
            (1_000_000_000, (2001, 9, 9)),
            (4_102_444_799, (2099, 12, 31)),
        ] {
            let when = Calendar::of(seconds * 1_000_000);
            assert_eq!((when.year, when.month, when.day), date);
        }
    }
}
