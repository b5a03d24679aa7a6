//! UBX frames: following them through a stream, and reading NAV-PVT.
//!
//! A frame is B5 62, class, id, the payload's length (little endian), the payload, and the two sums of an
//! 8-bit Fletcher checksum over everything after B5 62. Layout and scales of NAV-PVT after the message's
//! published field list (class 01, id 07, payload 92 bytes); its UTC rounding after the M10 receivers'
//! integration manual: the calendar fields are rounded and `nano`, which may be negative, corrects them.
//!
//! This file knows the units and the calendar; the bytes come from the decoder.

use super::calendar::{Day, TimeOfDay};
use super::{Fix, Position, Reject};
use crate::units::{CentiDegrees, Millimetres, MmPerSecond, NanoDegrees, Span, Utc, mul_div};

/// The first of the two bytes with which every frame begins.
pub(super) const SYNC: u8 = 0xB5;
/// How every NAV-PVT begins: sync, class 01, id 07, length 92.
pub(super) const NAV_PVT_HEAD: [u8; 6] = [SYNC, 0x62, 0x01, 0x07, PAYLOAD as u8, 0x00];
/// The bytes of a NAV-PVT payload.
const PAYLOAD: usize = 92;
/// The bytes of a whole NAV-PVT frame.
pub(super) const NAV_PVT_FRAME: usize = PAYLOAD + 8;
/// A header that announces a longer payload than this is not believed. No text can make a believable one:
/// two printable characters, read as a length, say 8,224 or more.
pub(super) const LENGTH_MAX: u16 = 512;

/// True if the checksum of a whole frame is right.
pub(super) fn is_sound(frame: &[u8; NAV_PVT_FRAME]) -> bool {
    let [_, _, covered @ .., a, b] = frame;
    covered.iter().fold(Fletcher::default(), |sums, byte| sums.with(*byte)) == Fletcher { a: *a, b: *b }
}

/// The two running sums of the checksum.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Fletcher {
    a: u8,
    b: u8,
}

impl Fletcher {
    const fn with(self, byte: u8) -> Self {
        let a = self.a.wrapping_add(byte);
        Self { a, b: self.b.wrapping_add(a) }
    }
}

/// Follows one frame at a time from its header to its end, without keeping its bytes.
#[derive(Clone, Debug, Default)]
pub(super) struct Follower {
    /// How many of its bytes have come; 0 outside any frame.
    taken: u16,
    class: u8,
    id: u8,
    length: u16,
    sums: Fletcher,
    /// The first of the two sums that the frame itself states.
    stated_a: u8,
}

/// How a frame ended that is not a NAV-PVT in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ended {
    /// Its checksum is right: its bytes belonged to it. `Err` if it should have been a NAV-PVT.
    Whole(Result<(), Reject>),
    /// It was broken, or no frame at all.
    Broken(Reject),
}

impl Follower {
    /// True outside any frame.
    pub(super) const fn is_idle(&self) -> bool {
        self.taken == 0
    }

    /// True from the second sync byte of a frame to its last byte.
    pub(super) const fn is_inside(&self) -> bool {
        self.taken >= 2
    }

    /// Takes a byte and says how the frame ended, if it did.
    pub(super) fn push(&mut self, byte: u8) -> Option<Ended> {
        let ended = self.step(byte);
        if ended.is_some() {
            self.taken = 0;
        }
        ended
    }

    fn step(&mut self, byte: u8) -> Option<Ended> {
        let at = self.taken;
        self.taken = self.taken.saturating_add(1);
        if at >= 2 && at < self.length.saturating_add(6) {
            self.sums = self.sums.with(byte);
        }
        match at {
            0 | 1 => self.sync(at, byte),
            2 => self.class = byte,
            3 => self.id = byte,
            4 => self.length = u16::from(byte),
            5 => return self.begin(byte),
            _ if at == self.length.saturating_add(6) => self.stated_a = byte,
            _ if at > self.length.saturating_add(6) => return Some(self.end(byte)),
            _ => {}
        }
        None
    }

    /// B5 begins a frame, 62 after it goes on with it, anything else was no beginning.
    fn sync(&mut self, at: u16, byte: u8) {
        let taken = match (at, byte) {
            (1, 0x62) => 2,
            (_, SYNC) => 1,
            _ => 0,
        };
        *self = Self { taken, ..Self::default() };
    }

    fn begin(&mut self, high: u8) -> Option<Ended> {
        self.length |= u16::from(high) << 8;
        (self.length > LENGTH_MAX).then_some(Ended::Broken(Reject::TooLong))
    }

    fn end(&self, stated_b: u8) -> Ended {
        let stated = Fletcher { a: self.stated_a, b: stated_b };
        if self.sums != stated {
            Ended::Broken(Reject::Checksum)
        } else if (self.class, self.id) == (0x01, 0x07) {
            Ended::Whole(Err(Reject::BadLength))
        } else {
            Ended::Whole(Ok(()))
        }
    }
}

/// Reads a NAV-PVT whose checksum is right.
///
/// Until the receiver vouches for its answer, its fields may say anything: then a date or a place that does
/// not exist gives `None`.
///
/// # Errors
///
/// [`Reject::BadTime`] or [`Reject::BadPosition`] if the receiver vouches for a date, a time of day or a
/// place that does not exist.
pub(super) fn nav_pvt(frame: &[u8; NAV_PVT_FRAME]) -> Result<Option<Fix>, Reject> {
    let fields = Fields(frame);
    match fields.fix() {
        Err(reject) if fields.vouched_for() => Err(reject),
        fix => Ok(fix.ok()),
    }
}

/// The fields of a NAV-PVT, by their offsets in the payload.
struct Fields<'a>(&'a [u8; NAV_PVT_FRAME]);

impl Fields<'_> {
    /// `N` bytes from `offset` on. Every offset below lies inside the payload.
    fn at<const N: usize>(&self, offset: usize) -> [u8; N] {
        let field = self.0.get(offset + 6..).and_then(|tail| tail.first_chunk());
        field.copied().unwrap_or([0; N])
    }

    fn byte(&self, offset: usize) -> u8 {
        u8::from_le_bytes(self.at(offset))
    }

    fn signed(&self, offset: usize) -> i32 {
        i32::from_le_bytes(self.at(offset))
    }

    fn unsigned(&self, offset: usize) -> u32 {
        u32::from_le_bytes(self.at(offset))
    }

    /// True when the receiver vouches for date, time and place: the date and time are valid and resolved to
    /// the second, the fix is within its masks and uses satellites for at least two dimensions, and the place
    /// is not marked as invalid. Dead reckoning alone (type 1) and time only (type 5) do not do.
    fn vouched_for(&self) -> bool {
        let time_resolved = self.byte(11) & 0b111 == 0b111;
        let fix_ok = self.byte(21) & 1 == 1;
        let place_invalid = self.byte(78) & 1 == 1;
        time_resolved && fix_ok && matches!(self.byte(20), 2..=4) && !place_invalid
    }

    fn utc(&self) -> Result<Utc, Reject> {
        let day = Day::from_civil(u16::from_le_bytes(self.at(4)), self.byte(6), self.byte(7));
        let time = TimeOfDay::from_hms(self.byte(8), self.byte(9), self.byte(10));
        let nano = self.signed(16);
        match (day, time) {
            (Some(day), Some(time)) if nano.unsigned_abs() <= 1_000_000_000 => {
                Ok(day.at(time).plus(Span::from_micros(mul_div(nano.into(), 1, 1_000))))
            }
            _ => Err(Reject::BadTime),
        }
    }

    fn position(&self) -> Result<Position, Reject> {
        let (lon, lat) = (i64::from(self.signed(24)), i64::from(self.signed(28)));
        if lon.abs() > 1_800_000_000 || lat.abs() > 900_000_000 {
            return Err(Reject::BadPosition);
        }
        let nano = |tenths_of_micro: i64| NanoDegrees::from_nano(tenths_of_micro * 100);
        Ok(Position { lat: nano(lat), lon: nano(lon) })
    }

    /// All of it; gSpeed, headMot, hAcc and sAcc stand for themselves.
    fn fix(&self) -> Result<Fix, Reject> {
        let course = mul_div(self.signed(64).into(), 1, 1_000).rem_euclid(36_000);
        let speed_sd = i32::try_from(self.unsigned(68)).unwrap_or(i32::MAX);
        Ok(Fix {
            utc: self.utc()?,
            position: self.position()?,
            speed: MmPerSecond::from_mm_s(self.signed(60)),
            course: CentiDegrees::from_centi(i32::try_from(course).unwrap_or_default()),
            position_sd: Some(Millimetres::from_mm(self.unsigned(40).into())),
            speed_sd: Some(MmPerSecond::from_mm_s(speed_sd)),
            hdop_centi: None,
            valid: self.vouched_for(),
        })
    }
}

#[cfg(test)]
mod tests {
    //! Each field that can take back a fix, one at a time; offsets after the message's published field list.

    extern crate std;

    use super::super::test_stream::{frame, hear, nav_pvt};
    use super::super::{Counts, Decoder, Heard};
    use super::*;

    /// What becomes of a good NAV-PVT when these bytes are written over its payload.
    fn with(offset: usize, bytes: &[u8]) -> (Option<Heard>, Counts) {
        let mut payload = nav_pvt(&[0; 92]);
        payload[offset..offset + bytes.len()].copy_from_slice(bytes);
        let mut decoder = Decoder::default();
        let heard = hear(&mut decoder, &frame(1, 7, &payload)).pop();
        (heard, *decoder.counts())
    }

    fn fix(offset: usize, bytes: &[u8]) -> Fix {
        match with(offset, bytes).0 {
            Some(Heard::Fix(fix)) => fix,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn every_flag_that_vouches_is_needed() {
        assert!(fix(11, &[0b111]).valid);
        for valid in [0b110, 0b101, 0b011] {
            assert!(!fix(11, &[valid]).valid, "{valid:b}");
        }
        for (fix_type, expected) in
            [(0, false), (1, false), (2, true), (3, true), (4, true), (5, false), (6, false)]
        {
            assert_eq!(fix(20, &[fix_type]).valid, expected, "type {fix_type}");
        }
        assert!(!fix(21, &[0xFE]).valid);
        assert!(!fix(78, &[0x01]).valid);
        assert!(fix(78, &[0xFE]).valid);
    }

    #[test]
    fn a_moment_or_place_that_does_not_exist_is_rejected_if_the_receiver_vouches_for_it() {
        for (offset, bytes) in [(6, &[4, 31][..]), (6, &[0, 0]), (8, &[24]), (9, &[60]), (10, &[61])] {
            assert_eq!(with(offset, bytes).0, Some(Heard::Rejected(Reject::BadTime)), "{bytes:?}");
        }
        let nano = 1_000_000_001_i32.to_le_bytes();
        assert_eq!(with(16, &nano).0, Some(Heard::Rejected(Reject::BadTime)));
        for (offset, tenths_of_micro) in
            [(24, 1_800_000_001_i32), (24, i32::MIN), (28, 900_000_001), (28, i32::MIN)]
        {
            let heard = with(offset, &tenths_of_micro.to_le_bytes()).0;
            assert_eq!(heard, Some(Heard::Rejected(Reject::BadPosition)), "{tenths_of_micro}");
        }
    }

    #[test]
    fn a_receiver_that_knows_nothing_yet_says_nothing() {
        let (heard, counts) = with(4, &[0; 20]);
        assert_eq!((heard, counts.parts), (None, 1));
    }

    #[test]
    fn courses_end_below_36_000_and_speed_figures_saturate() {
        for (heading, centi) in
            [(35_999_499_i32, 35_999), (35_999_500, 0), (36_000_000, 0), (-1_000_000, 35_000)]
        {
            assert_eq!(fix(64, &heading.to_le_bytes()).course.as_centi(), centi, "{heading}");
        }
        assert_eq!(fix(68, &[0xFF; 4]).speed_sd, Some(MmPerSecond::MAX));
    }
}
