//! The receiver's bytes become fixes with their time of validity.
//!
//! Bytes go into a [`Decoder`], however the stream is split into reads; fixes and reasons for rejection come
//! out. The decoder stands outside the dash's door: what it makes of the bytes is the dash's
//! input and is what the journal keeps (a third of the size of the bytes themselves).
//!
//! Inside, data flow one way: [`Decoder`] finds whole sentences and frames in the stream; `nmea` and `ubx`
//! read their fields; `epoch` puts the parts of one moment together; [`calendar`] turns dates into counts.
//!
//! This room knows the units and nothing else.

pub mod calendar;
mod decoder;
mod digits;
mod epoch;
mod nmea;
#[cfg(test)]
mod properties;
#[cfg(test)]
mod test_stream;
mod ubx;

pub use decoder::{Counts, Decoder, Heard};

use core::fmt;

use serde::{Deserialize, Serialize};

use crate::units::{CentiDegrees, Millimetres, MmPerSecond, NanoDegrees, Utc};

/// A place on the WGS 84 ellipsoid.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Position {
    /// Latitude, north positive.
    pub lat: NanoDegrees,
    /// Longitude, east positive.
    pub lon: NanoDegrees,
}

/// Where the antenna was, and how it moved, at a stated moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fix {
    /// The moment for which the fix holds, by the receiver's own label; not when it arrived.
    pub utc: Utc,
    /// The antenna's place.
    pub position: Position,
    /// Speed over ground.
    pub speed: MmPerSecond,
    /// Course over ground, true.
    pub course: CentiDegrees,
    /// The receiver's own figure for its horizontal accuracy, where it gives one (UBX `hAcc`).
    pub position_sd: Option<Millimetres>,
    /// The receiver's own figure for its speed accuracy, where it gives one (UBX `sAcc`).
    pub speed_sd: Option<MmPerSecond>,
    /// Horizontal dilution of precision in hundredths, where it is known (GGA).
    pub hdop_centi: Option<u16>,
    /// True when the receiver vouches for position and time; nothing is decided on a fix without it.
    pub valid: bool,
}

/// Why something the receiver sent was not used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Reject {
    /// The checksum does not match the content.
    Checksum,
    /// A sentence that does not end in `*` and the two hexadecimal digits of a checksum.
    NoChecksum,
    /// A sentence longer than 128 characters, or a UBX header that announces more than 512 bytes.
    TooLong,
    /// A sentence began before the last one ended.
    CutShort,
    /// A byte that no sentence may hold.
    BadByte,
    /// A field that is not what its place asks for.
    BadField,
    /// A date or a time of day that does not exist.
    BadTime,
    /// A latitude or longitude off the globe.
    BadPosition,
    /// A UBX NAV-PVT whose length is not 92 bytes.
    BadLength,
}

impl Reject {
    /// Every reason, in the order of their declaration.
    pub const ALL: [Self; 9] = [
        Self::Checksum,
        Self::NoChecksum,
        Self::TooLong,
        Self::CutShort,
        Self::BadByte,
        Self::BadField,
        Self::BadTime,
        Self::BadPosition,
        Self::BadLength,
    ];
}

impl fmt::Display for Reject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Checksum => "checksum does not match",
            Self::NoChecksum => "no checksum",
            Self::TooLong => "too long",
            Self::CutShort => "cut short by the next sentence",
            Self::BadByte => "a byte that no sentence may hold",
            Self::BadField => "a field is not what its place asks for",
            Self::BadTime => "no such date or time",
            Self::BadPosition => "position off the globe",
            Self::BadLength => "NAV-PVT of the wrong length",
        })
    }
}
