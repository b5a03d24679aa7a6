//! The record: every input that the dash acted on and every decision it took.
//!
//! A journal is a string of frames: one byte of length, the low byte of the record's number, the record, two bytes
//! of CRC-16/IBM-SDLC over all of these. A record is one [`Record`] in the postcard format. Times are differences
//! from the input before, so a fix takes some 40 bytes; every 64 records a mark gives the record's number and the
//! full time, so a reader that has lost a record knows how many are gone and finds the time again.
//!
//! Marks and seals are the links of a chain: each holds the SHA-256 of every byte from the link before it on, that
//! link's own frame with its hash included. An opening begins a stretch, too, and
//! says the hash of what it found before it, so the chain goes on over restarts.
//!
//! The first records are an opening and the settings in pieces: a journal can be replayed with nothing else.
//! Replaying its inputs must give its decisions, bit for bit. The layout in full: `docs/journal.md`.
//!
//! Knows inputs, outputs and settings. Records in, bytes out, and back.

mod chain;
mod digest;
mod reader;
pub mod ring;
#[cfg(feature = "signing")]
pub mod signature;
mod writer;

pub use chain::{Before, Chain, Seal, Tail, Why};
pub use digest::Digest;
pub use reader::{Entry, Raw, Reader};
pub use writer::{Sink, Writer};

use heapless::Vec;
use serde::{Deserialize, Serialize};

use crate::engine::suffered::Accounts;
use crate::input::Input;
use crate::output::Output;
use crate::resume::Carried;
use crate::units::{Instant, Span};

/// The version of this format. A reader refuses any other. 1 had neither sequence nor chain.
pub const FORMAT: u8 = 2;

/// What a frame adds to its record: length, sequence, check sum.
pub const FRAME_ADDS: usize = 4;

/// The longest record in bytes; its length must fit one byte and differ from 0xFF, which erased flash holds.
pub const RECORD_MAX: usize = 250;

/// So many bytes of settings go into one record.
pub const SETTINGS_PIECE: usize = 128;

/// A mark follows after so many records.
pub const MARK_EVERY: u32 = 64;

/// What is carried is written again after so many bytes of frames: once in a sector of flash, 4,096 bytes with what
/// the ring adds to each of its pages.
pub const CARRIED_EVERY: u32 = 3_500;

/// One entry of the journal. Variants are appended, never reordered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Record {
    /// A dash began: everything after this is its own, and it knew nothing before.
    Opening {
        /// [`FORMAT`].
        format: u8,
        /// The firmware's version: major, minor, patch.
        firmware: [u16; 3],
        /// How many bytes of settings follow.
        settings_len: u16,
        /// What this dash found before it; none: it found no record, and its chain stands alone.
        before: Option<Before>,
        /// Whether whoever records this closes it with a seal when it is taken; then a record without one was cut off.
        closes: bool,
    },
    /// A piece of the settings.
    Settings(Vec<u8, SETTINGS_PIECE>),
    /// A waymark, and a link of the chain.
    Mark {
        /// This record's own number, counted from the journal's first record.
        number: u32,
        /// The time of the last input.
        at: Instant,
        /// SHA-256 of all bytes from the link before this one on.
        chain: [u8; 32],
    },
    /// Something happened.
    Input {
        /// Since the input before; negative when a stamp came late.
        after: Span,
        /// What it was.
        input: Input,
    },
    /// It led to this.
    Decision(Output),
    /// What a fresh dash would have to know to go on from here; none: nothing.
    Carried(Option<Carried>),
    /// Something came to its end; a link of the chain.
    Seal(Seal),
    /// The signature of the seal before it.
    Signature {
        /// The public key that it can be checked with.
        key: [u8; 32],
        /// Its 64 bytes, in two halves.
        halves: [[u8; 32]; 2],
    },
    /// What the engine has suffered so far.
    Suffered(Accounts),
}

impl Record {
    /// Whether a chain begins here, or begins a new stretch.
    #[must_use]
    pub const fn is_link(&self) -> bool {
        matches!(self, Self::Opening { .. } | Self::Mark { .. } | Self::Seal(_))
    }
}

/// The places of [`Record::Opening`], [`Record::Mark`], [`Record::Carried`] and [`Record::Seal`] among the records.
const OPENING: u8 = 0;
const MARK: u8 = 2;
const CARRIED: u8 = 5;
const SEAL: u8 = 6;

/// What is carried by an undecoded record, if it is one of that kind.
#[must_use]
pub fn carried_in(record: &[u8]) -> Option<Option<Carried>> {
    let content = record.strip_prefix(&[CARRIED])?;
    postcard::take_from_bytes(content).ok().filter(|(_, rest)| rest.is_empty()).map(|(carried, _)| carried)
}

/// The place of [`Record::Suffered`] among the records.
const SUFFERED: u8 = 8;

/// What the engine had suffered by an undecoded record, if it is one of that kind.
#[must_use]
pub fn suffered_in(record: &[u8]) -> Option<Accounts> {
    let content = record.strip_prefix(&[SUFFERED])?;
    postcard::take_from_bytes(content).ok().filter(|(_, rest)| rest.is_empty()).map(|(accounts, _)| accounts)
}

/// The number of an undecoded record, if it is a link of the chain.
#[must_use]
pub fn number_of_link(record: &[u8]) -> Option<u32> {
    let (&kind, content) = record.split_first()?;
    match kind {
        OPENING => {
            let ((.., before), _) =
                postcard::take_from_bytes::<(u8, [u16; 3], u16, Option<Before>)>(content).ok()?;
            Some(before.map_or(0, |before| before.number.saturating_add(1)))
        }
        MARK | SEAL => Some(postcard::take_from_bytes::<u32>(content).ok()?.0),
        _ => None,
    }
}

/// CRC-16/IBM-SDLC of the catalogue of parametrised CRC algorithms.
fn checksum(frame: &[u8]) -> u16 {
    const CRC: crc::Crc<u16> = crc::Crc::<u16>::new(&crc::CRC_16_IBM_SDLC);
    CRC.checksum(frame)
}

/// This firmware's version.
#[must_use]
pub fn firmware_version() -> [u16; 3] {
    let part = |text: &str| text.bytes().fold(0_u16, |n, b| n * 10 + u16::from(b.wrapping_sub(b'0')));
    [
        part(env!("CARGO_PKG_VERSION_MAJOR")),
        part(env!("CARGO_PKG_VERSION_MINOR")),
        part(env!("CARGO_PKG_VERSION_PATCH")),
    ]
}

#[cfg(test)]
mod tests;
