//! The part of [`Carried`](super::Carried) that survives a restart with the power on: eight words of the chip.
//!
//! The RP2040's watchdog has eight 32-bit scratch registers that a watchdog reset leaves alone. They are written at
//! every kick. The boot ROM takes word 4 for a request to jump somewhere when it is 0xB007C0D3; here its highest bits
//! are never set, so it never is. (RP2040 data sheet, watchdog and boot sequence; from memory.)
//!
//! Facts in, words out, and back; words that were not written here are refused by their check.

use super::{Basis, CarriedZero, Labelled};
use crate::units::{Instant, Span, Utc};

/// How many words there are.
pub const SCRATCH_WORDS: usize = 8;

/// What the words say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Scratch {
    /// The board's time when the watchdog was last kicked.
    pub kicked: Instant,
    /// Zero, when the clock was armed then.
    pub zero: Option<CarriedZero>,
}

/// Instants are held in 48 bits: nine years of a board's time. A later one is held as the last of them.
const INSTANT_MAX: u64 = (1 << 48) - 1;

/// Labels are held in 52 bits: up to the year 2112. Others are not held.
const UTC_MAX: u64 = (1 << 52) - 1;

/// In word 4, above the label's 20 high bits: what zero rests on, 0 for no zero; and whether it has a label.
const BASIS_AT: u32 = 20;
const LABELLED: u32 = 1 << 22;

/// CRC-32/ISO-HDLC of the catalogue of parametrised CRC algorithms; without a table, which would cost a kilobyte.
pub(super) const CHECK: crc::Crc<u32, crc::NoTable> =
    crc::Crc::<u32, crc::NoTable>::new(&crc::CRC_32_ISO_HDLC);

impl Scratch {
    /// As words: last kick and zero (words 0 to 2), sigma (3), label (4, 5) and its sigma (6), check (7).
    #[must_use]
    pub fn to_words(&self) -> [u32; SCRATCH_WORDS] {
        let kicked = self.kicked.as_micros().min(INSTANT_MAX);
        let zero = self.zero.map_or(0, |zero| zero.at.as_micros().min(INSTANT_MAX));
        let label = self.zero.and_then(|zero| zero.utc).and_then(|label| {
            let us = u64::try_from(label.utc.as_unix_micros()).ok().filter(|us| *us <= UTC_MAX)?;
            Some((us, micros(label.sigma)))
        });
        let (utc, utc_sigma) = label.unwrap_or_default();
        let basis = self.zero.map_or(0, |zero| zero.rests_on as u32 + 1);
        let flags = basis << BASIS_AT | if label.is_some() { LABELLED } else { 0 };
        let mut words = [
            low(kicked),
            low(zero),
            high(kicked) << 16 | high(zero),
            self.zero.map_or(0, |zero| micros(zero.sigma)),
            flags | high(utc),
            low(utc),
            utc_sigma,
            0,
        ];
        let check = check(&words);
        if let Some(last) = words.last_mut() {
            *last = check;
        }
        words
    }

    /// From words; `None` when they are not whole.
    #[must_use]
    pub fn from_words(words: &[u32; SCRATCH_WORDS]) -> Option<Self> {
        let [kick_low, zero_low, highs, sigma, word_4, utc_low, utc_sigma, found] = *words;
        if found != check(words) {
            return None;
        }
        let rests_on = match word_4 >> BASIS_AT & 3 {
            1 => Some(Basis::Thumb),
            2 => Some(Basis::Contact),
            3 => Some(Basis::Schedule),
            _ => None,
        };
        let us = joined(word_4 & 0xF_FFFF, utc_low);
        let label = Labelled { utc: Utc::from_unix_micros(us.cast_signed()), sigma: span(utc_sigma) };
        let utc = (word_4 & LABELLED != 0).then_some(label);
        let at = Instant::from_micros(joined(highs & 0xFFFF, zero_low));
        Some(Self {
            kicked: Instant::from_micros(joined(highs >> 16, kick_low)),
            zero: rests_on.map(|rests_on| CarriedZero { at, sigma: span(sigma), rests_on, utc }),
        })
    }
}

/// The check of the first seven words. All words zero, as after power-on, do not meet it.
fn check(words: &[u32; SCRATCH_WORDS]) -> u32 {
    let mut digest = CHECK.digest();
    for word in words.iter().take(SCRATCH_WORDS - 1) {
        digest.update(&word.to_le_bytes());
    }
    digest.finalize()
}

/// A deviation in whole microseconds, up to 71 minutes.
fn micros(sigma: Span) -> u32 {
    u32::try_from(sigma.as_micros().max(0)).unwrap_or(u32::MAX)
}

fn span(us: u32) -> Span {
    Span::from_micros(i64::from(us))
}

const fn low(value: u64) -> u32 {
    (value & 0xFFFF_FFFF) as u32
}

const fn high(value: u64) -> u32 {
    (value >> 32) as u32
}

fn joined(high: u32, low: u32) -> u64 {
    u64::from(high) << 32 | u64::from(low)
}
