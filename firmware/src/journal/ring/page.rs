//! One slot of the ring: a page with everything in it that is needed to judge it alone.
//!
//! ```text
//! byte   0        bytes of frames, 0 to 244: never 0xFF, so a page once begun does not read as blank
//!        1        where the first frame begins that begins here; 0xFF when none does
//!        2, 3     how many slots back the page before stands, in the lower 15 bits; 0: there is none.
//!                 Top bit: slots between were tried with these very frames
//!        4 to 7   number of the slot, counted from the ring's first lap
//!        8 to 251 frames, then 0xFF
//!      252 to 255 CRC-32/ISO-HDLC of all before
//! ```
//!
//! All numbers are little-endian. A page without frames marks the beginning of a run. A page is written once
//! and judged whole or not by its check sum; there is no other header anywhere that a power cut could tear.
//!
//! Knows nobody. Frames in, an image out, and back.

use super::chip::PAGE;
use crate::check_sum::CRC_32;

/// Where the slot's number stands.
pub(super) const NUMBER_AT: u32 = 4;

/// Bytes before the frames.
const HEAD: usize = 8;

/// Where the check sum stands.
const SUM_AT: usize = PAGE - 4;

/// Bytes of frames in one page.
pub const PAYLOAD: usize = SUM_AT - HEAD;

/// "No frame begins here", and what a blank byte reads as.
const NONE: u8 = 0xFF;

/// Slots between were tried with the same frames.
const AGAIN: u16 = 0x8000;

/// CRC-32/ISO-HDLC of the catalogue of parametrised CRC algorithms.
pub(crate) fn checksum(bytes: &[u8]) -> u32 {
    CRC_32.checksum(bytes)
}

/// A page in RAM that is being filled, or waits to be written.
#[derive(Clone, Debug)]
pub(super) struct Draft {
    image: [u8; PAGE],
    len: usize,
    first: Option<usize>,
}

impl Draft {
    pub(super) const fn new() -> Self {
        Self { image: [0xFF; PAGE], len: 0, first: None }
    }

    /// Bytes of frames in it.
    pub(super) const fn len(&self) -> usize {
        self.len
    }

    /// Bytes that still fit.
    pub(super) const fn free(&self) -> usize {
        PAYLOAD.saturating_sub(self.len)
    }

    /// The next byte begins a frame.
    pub(super) fn mark_first(&mut self) {
        self.first = self.first.or(Some(self.len));
    }

    /// Takes as many bytes as fit and gives back the rest.
    pub(super) fn fill<'a>(&mut self, bytes: &'a [u8]) -> &'a [u8] {
        let fits = self.free().min(bytes.len());
        let (now, later) = bytes.split_at_checked(fits).unwrap_or((&[], bytes));
        let place = self.image.get_mut(HEAD.saturating_add(self.len)..);
        if let Some(place) = place.and_then(|place| place.get_mut(..now.len())) {
            place.copy_from_slice(now);
            self.len = self.len.saturating_add(now.len());
        }
        later
    }

    /// Makes it ready for a slot. May be done again for another one.
    pub(super) fn seal(&mut self, number: u32, back: Option<u32>, again: bool) -> &[u8; PAGE] {
        let len = u8::try_from(self.len).unwrap_or(NONE);
        let first = self.first.and_then(|first| u8::try_from(first).ok()).unwrap_or(NONE);
        let back = back.and_then(|back| u16::try_from(back).ok()).filter(|back| *back < AGAIN).unwrap_or(0);
        let [link_low, link_high] = (back | if again { AGAIN } else { 0 }).to_le_bytes();
        let [a, b, c, d] = number.to_le_bytes();
        if let Some((head, _)) = self.image.split_first_chunk_mut() {
            *head = [len, first, link_low, link_high, a, b, c, d];
        }
        if let Some((content, sum)) = self.image.split_last_chunk_mut() {
            *sum = checksum(content).to_le_bytes();
        }
        &self.image
    }

    /// What was sealed.
    pub(super) const fn image(&self) -> &[u8; PAGE] {
        &self.image
    }
}

/// A whole page as read from the chip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Slot<'a> {
    pub(super) number: u32,
    /// Number of the page before it; none for the first, or when it is too far to say.
    pub(super) before: Option<u32>,
    /// Whether slots between were tried with the same frames.
    pub(super) again: bool,
    pub(super) first: Option<usize>,
    pub(super) frames: &'a [u8],
}

impl<'a> Slot<'a> {
    /// The page, if it is whole.
    pub(super) fn read(image: &'a [u8; PAGE]) -> Option<Self> {
        let (content, sum) = image.split_last_chunk::<4>()?;
        if u32::from_le_bytes(*sum) != checksum(content) {
            return None;
        }
        let ([len, first, link_low, link_high, a, b, c, d], frames) = content.split_first_chunk::<HEAD>()?;
        let number = u32::from_le_bytes([*a, *b, *c, *d]);
        let link = u16::from_le_bytes([*link_low, *link_high]);
        let back = u32::from(link & !AGAIN);
        Some(Self {
            number,
            before: number.checked_sub(back).filter(|_| back > 0),
            again: link & AGAIN != 0,
            first: (*first != NONE).then_some(usize::from(*first)),
            frames: frames.get(..usize::from(*len))?,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: catalogue of parametrised CRC algorithms, CRC-32/ISO-HDLC, check value for "123456789".
    #[test]
    fn the_page_checksum_is_the_catalogued_one() {
        assert_eq!(checksum(b"123456789"), 0xCBF4_3926);
    }

    #[test]
    fn a_page_comes_back_as_it_was_sealed() {
        let mut draft = Draft::new();
        assert_eq!(draft.fill(b"end of a frame "), b"");
        draft.mark_first();
        assert_eq!(draft.fill(b"a frame"), b"");
        draft.mark_first();
        assert_eq!(draft.fill(b"another"), b"");
        let expected = Slot {
            number: 70_000,
            before: Some(69_997),
            again: true,
            first: Some(15),
            frames: b"end of a frame a frameanother",
        };
        assert_eq!(Slot::read(draft.seal(70_000, Some(3), true)), Some(expected));
    }

    #[test]
    fn a_page_takes_one_byte_less_all_and_not_one_more() {
        for (bytes, rest) in [(PAYLOAD - 1, 0), (PAYLOAD, 0), (PAYLOAD + 1, 1)] {
            let mut draft = Draft::new();
            let content = std::vec![7; bytes];
            assert_eq!(draft.fill(&content).len(), rest);
            let kept = bytes - rest;
            assert_eq!(draft.free(), PAYLOAD - kept);
            assert_eq!(Slot::read(draft.seal(0, None, false)).unwrap().frames, &content[..kept]);
        }
    }

    #[test]
    fn blank_and_cleared_pages_are_not_whole() {
        assert_eq!(Slot::read(&[0xFF; PAGE]), None);
        assert_eq!(Slot::read(&[0x00; PAGE]), None);
    }

    #[test]
    fn a_page_before_that_is_too_far_back_is_none() {
        for (back, before) in [(1, Some(99_999)), (0x7FFF, Some(100_000 - 0x7FFF)), (0x8000, None)] {
            let mut draft = Draft::new();
            draft.fill(b"x");
            assert_eq!(Slot::read(draft.seal(100_000, Some(back), false)).unwrap().before, before);
        }
    }

    #[test]
    fn any_single_bit_that_is_wrong_is_noticed() {
        let mut draft = Draft::new();
        draft.fill(b"a frame");
        let image = *draft.seal(12, Some(1), false);
        for place in 0..PAGE * 8 {
            let mut wrong = image;
            wrong[place / 8] ^= 1 << (place % 8);
            assert_eq!(Slot::read(&wrong), None, "bit {place}");
        }
    }
}
