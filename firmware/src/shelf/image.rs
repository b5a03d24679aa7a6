//! One set of settings as it lies in its sector.
//!
//! ```text
//! byte  0, 1    how many bytes of settings
//!       2 to 5  the how-manieth writing; the higher of two whole sets is the newer
//!       6 on    the settings
//!       then    CRC-32/ISO-HDLC of all before
//!       then    0xFF to the end of the page
//! ```
//!
//! All numbers are little-endian. The check sum comes last, so a set is not whole before its last byte is
//! there. The number grows by one a writing; a sector is worn out long before its 32 bits are (100,000
//! erases: W25Q128JV data sheet, from memory).
//!
//! Knows the chip only to read it. Bytes in, pages out, and back.

use heapless::Vec;

use super::BYTES_MAX;
use crate::journal::ring::{Chip, PAGE, checksum};

const HEAD: usize = 6;
const SUM: usize = 4;

/// A set with its head and its check sum, in RAM.
#[derive(Debug)]
pub(super) struct Image(Vec<u8, { HEAD + BYTES_MAX + SUM }>);

impl Image {
    pub(super) const fn new() -> Self {
        Self(Vec::new())
    }

    /// Makes an image; false when there is nothing, or more than fits into `room` bytes.
    pub(super) fn write(&mut self, number: u32, bytes: &[u8], room: u32) -> bool {
        self.0.clear();
        let Some(len) = length(bytes.len(), room) else { return false };
        let [a, b] = len.to_le_bytes();
        let [c, d, e, f] = number.to_le_bytes();
        let content =
            self.0.extend_from_slice(&[a, b, c, d, e, f]).and_then(|()| self.0.extend_from_slice(bytes));
        let sum = checksum(&self.0).to_le_bytes();
        content.and_then(|()| self.0.extend_from_slice(&sum)).is_ok()
    }

    /// Reads what lies at an address; nothing when its head says what cannot be.
    pub(super) fn fetch<C: Chip>(&mut self, chip: &mut C, address: u32, room: u32) -> Result<(), C::Error> {
        self.0.clear();
        let mut len = [0; 2];
        chip.read(address, &mut len)?;
        let len = usize::from(u16::from_le_bytes(len));
        if length(len, room).is_some() && self.0.resize(HEAD + len + SUM, 0).is_ok() {
            chip.read(address, &mut self.0)?;
        }
        Ok(())
    }

    /// Number and bytes of a whole image.
    pub(super) fn content(&self) -> Option<(u32, &[u8])> {
        let (summed, sum) = self.0.split_last_chunk::<SUM>()?;
        let ([_, _, a, b, c, d], bytes) = summed.split_first_chunk::<HEAD>()?;
        let is_whole = u32::from_le_bytes(*sum) == checksum(summed);
        is_whole.then_some((u32::from_le_bytes([*a, *b, *c, *d]), bytes))
    }

    /// How many pages it takes.
    pub(super) fn pages(&self) -> u32 {
        u32::try_from(self.0.len().div_ceil(PAGE)).unwrap_or(0)
    }

    /// What stands in one of them.
    pub(super) fn bytes(&self, page: u32) -> &[u8] {
        let page = usize::try_from(page).unwrap_or(usize::MAX);
        self.0.chunks(PAGE).nth(page).unwrap_or(&[])
    }

    /// One of them, filled up.
    pub(super) fn page(&self, page: u32) -> [u8; PAGE] {
        let (bytes, mut filled) = (self.bytes(page), [0xFF; PAGE]);
        if let Some(place) = filled.get_mut(..bytes.len()) {
            place.copy_from_slice(bytes);
        }
        filled
    }
}

/// A length that can be.
fn length(len: usize, room: u32) -> Option<u16> {
    let fits = usize::try_from(room).is_ok_and(|room| HEAD + len + SUM <= room);
    u16::try_from(len).ok().filter(|_| fits && (1..=BYTES_MAX).contains(&len))
}
