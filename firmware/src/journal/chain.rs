//! The chain: what ties each record to all before it.
//!
//! A link (opening, mark or seal) begins a stretch, and the next link holds the SHA-256 of the stretch's bytes, the
//! first link's frame included. So each link vouches for the one before it, a stretch can be checked without what came
//! before, and each byte is hashed once. Without a key anybody can compute a chain anew: it shows what was changed by
//! accident or by hand, not what was forged with care. A signature over a seal shows that, too.
//!
//! Knows the hash and the records' numbers. Frames in, hashes out.

use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

use super::{Raw, number_of_link};
use crate::units::Instant;

/// The hash of the stretch that is being written or read.
#[derive(Clone, Debug, Default)]
pub struct Chain(Sha256);

impl Chain {
    /// A frame joins the stretch; a link's begins a new one.
    pub fn add(&mut self, frame: &[u8], is_link: bool) {
        if is_link {
            self.0 = Sha256::new();
        }
        self.0.update(frame);
    }

    /// What the next link must hold.
    #[must_use]
    pub fn value(&self) -> [u8; 32] {
        self.0.clone().finalize().into()
    }
}

/// What a dash that begins found of the record before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Before {
    /// The number of the newest record; its own is the next one.
    pub number: u32,
    /// SHA-256 of all bytes from the newest link on, up to that record.
    pub chain: [u8; 32],
}

/// The end of a record that is read: how the next one would follow on it.
#[derive(Clone, Debug, Default)]
pub struct Tail {
    chain: Chain,
    /// The number of the newest record; none before the first link.
    number: Option<u32>,
}

impl Tail {
    /// The next record.
    pub fn add(&mut self, raw: &Raw<'_>) {
        let link = number_of_link(raw.record);
        let [before, ..] = self.number.unwrap_or_default().to_le_bytes();
        let on = u32::from(raw.sequence.wrapping_sub(before));
        self.number = link.or_else(|| self.number.map(|number| number.saturating_add(on)));
        self.chain.add(raw.frame, link.is_some());
    }

    /// What a dash that goes on says of it; none when nothing tells the numbers.
    #[must_use]
    pub fn before(&self) -> Option<Before> {
        Some(Before { number: self.number?, chain: self.chain.value() })
    }
}

/// A link that closes what came before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Seal {
    /// Its own number.
    pub number: u32,
    /// The time of the last input.
    pub at: Instant,
    /// What came to its end.
    pub why: Why,
    /// Whether the record that follows is its signature.
    pub signed: bool,
    /// SHA-256 of all bytes from the link before this one on.
    pub chain: [u8; 32],
}

/// What came to its end. Variants are appended, never reordered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Why {
    /// The heat: its last lap is run.
    Heat,
    /// The record, for whoever takes it from the board.
    Taken,
}

/// What a signature is made of: these words, so that it is good for nothing else, and the seal.
const WORDS: &[u8; 20] = b"gunline journal seal";

impl Seal {
    /// How long [`Seal::message`] is.
    pub const MESSAGE: usize = WORDS.len() + 4 + 8 + 1 + 32;

    /// The bytes that are signed: 20 bytes of ASCII words, the number (4 bytes) and the time in microseconds (8), low
    /// byte first, the place of [`Why`] (1), the hash (32).
    #[must_use]
    pub fn message(&self) -> [u8; Self::MESSAGE] {
        let mut message = [0; Self::MESSAGE];
        let (number, at) = (self.number.to_le_bytes(), self.at.as_micros().to_le_bytes());
        let parts = WORDS.iter().chain(&number).chain(&at).copied();
        let parts = parts.chain(core::iter::once(self.why as u8)).chain(self.chain);
        message.iter_mut().zip(parts).for_each(|(place, byte)| *place = byte);
        message
    }
}
