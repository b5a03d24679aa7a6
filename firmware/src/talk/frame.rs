//! Messages in frames, so that a listener that comes in the middle, or loses bytes, finds the next one.
//!
//! A frame is the message's bytes and their CRC-32, stuffed by COBS (consistent overhead byte stuffing) so that no
//! zero is left in it, and then a zero. Nothing between two zeros is an empty frame and means nothing.
//!
//! Both directions go byte by byte: one buffer each, work that is bounded for each byte, and no panic. The crate
//! `cobs` is the tests' second opinion.

use heapless::Vec;
use postcard::ser_flavors::Flavor;
use serde::{Deserialize, Serialize};

use super::message::Head;
use crate::check_sum::CRC_32;

/// The longest content of a frame: head and message without their check sum.
///
/// Whole settings or a piece of the journal (1,024 bytes) and 33 bytes for what stands before them, which is at
/// most: head 10, variant 1, two positions 20, length 2. A test fills them.
pub const CONTENT_MAX: usize = super::PIECE_MAX + 33;

/// The check sum after the content.
const SUM_LEN: usize = 4;

/// The longest frame: stuffing adds one byte in 254, begun or whole; then the zero.
pub const FRAME_MAX: usize = CONTENT_MAX + SUM_LEN + (CONTENT_MAX + SUM_LEN).div_ceil(254) + 1;

/// A stuffed run of this code is full: 254 bytes follow and no zero after them.
const FULL: u8 = 0xFF;

/// Writes head and message as a frame; `None` when the buffer is too small.
pub fn write<M: Serialize>(head: Head, message: &M, buffer: &mut [u8]) -> Option<usize> {
    postcard::serialize_with_flavor(&(head, message), Stuffing::into(buffer)).ok()
}

/// Reads the message of a frame's content, with its head; `None` when it is none, or something follows it.
pub fn read<'a, M: Deserialize<'a>>(content: &'a [u8]) -> Option<(Head, M)> {
    let (message, rest) = postcard::take_from_bytes(content).ok()?;
    rest.is_empty().then_some(message)
}

/// Reads only the head of a frame's content: whatever message follows, its writer may be of a later release.
#[must_use]
pub fn head(content: &[u8]) -> Option<Head> {
    postcard::take_from_bytes(content).ok().map(|(head, _)| head)
}

/// Serialised bytes on their way into a frame.
struct Stuffing<'a> {
    buffer: &'a mut [u8],
    /// Where the current run's code will stand, and where the next byte will.
    code_at: usize,
    next: usize,
    code: u8,
    sum: crc::Digest<'static, u32>,
}

impl<'a> Stuffing<'a> {
    fn into(buffer: &'a mut [u8]) -> Self {
        Self { buffer, code_at: 0, next: 1, code: 1, sum: CRC_32.digest() }
    }

    fn put(&mut self, at: usize, byte: u8) -> Option<()> {
        *self.buffer.get_mut(at)? = byte;
        Some(())
    }

    /// Ends the run: its code says how far it is to the zero that it stands for.
    fn end_run(&mut self) -> Option<()> {
        self.put(self.code_at, self.code)?;
        self.code_at = self.next;
        self.next = self.next.saturating_add(1);
        self.code = 1;
        Some(())
    }

    fn stuff(&mut self, byte: u8) -> Option<()> {
        if self.code == FULL {
            self.end_run()?;
        }
        if byte == 0 {
            return self.end_run();
        }
        self.put(self.next, byte)?;
        self.next = self.next.saturating_add(1);
        self.code = self.code.saturating_add(1);
        Some(())
    }
}

impl Flavor for Stuffing<'_> {
    /// How long the frame is.
    type Output = usize;

    fn try_push(&mut self, byte: u8) -> postcard::Result<()> {
        self.sum.update(&[byte]);
        self.stuff(byte).ok_or(postcard::Error::SerializeBufferFull)
    }

    fn finalize(mut self) -> postcard::Result<usize> {
        for byte in self.sum.clone().finalize().to_le_bytes() {
            self.stuff(byte).ok_or(postcard::Error::SerializeBufferFull)?;
        }
        self.put(self.code_at, self.code)
            .and_then(|()| self.put(self.next, 0))
            .map(|()| self.next.saturating_add(1))
            .ok_or(postcard::Error::SerializeBufferFull)
    }
}

/// What a byte completed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// A frame with the right check sum: its content can be read.
    Whole,
    /// Something that is no frame.
    Broken,
}

/// Bytes on their way out of a frame.
///
/// A whole frame's content stays until [`clear`](Self::clear); bytes that come meanwhile are lost, and so is the
/// rest of the frame that they belong to.
#[derive(Clone, Debug)]
pub struct Unstuffing {
    content: Vec<u8, { CONTENT_MAX + SUM_LEN }>,
    /// Bytes of the current run still to come.
    left: u8,
    /// The current run is full: no zero follows it.
    full: bool,
    /// The frame has begun; it cannot be one.
    begun: bool,
    broken: bool,
    whole: bool,
}

impl Default for Unstuffing {
    fn default() -> Self {
        Self::new()
    }
}

impl Unstuffing {
    /// Nothing has come yet.
    #[must_use]
    pub const fn new() -> Self {
        Self { content: Vec::new(), left: 0, full: false, begun: false, broken: false, whole: false }
    }

    /// Takes the next byte, and says what it completed.
    pub fn push(&mut self, byte: u8) -> Option<Ended> {
        if self.whole {
            // What comes now has no room; up to the next zero it is not even worth a look later.
            (self.begun, self.broken) = (byte != 0, byte != 0);
            return None;
        }
        if byte != 0 {
            self.unstuff(byte);
            return None;
        }
        let was_begun = self.begun;
        self.whole = was_begun && !self.broken && self.left == 0 && self.sum_is_right();
        (self.begun, self.broken) = (false, false);
        let whole = self.whole;
        if !whole {
            self.clear();
        }
        was_begun.then_some(if whole { Ended::Whole } else { Ended::Broken })
    }

    fn unstuff(&mut self, byte: u8) {
        let put = if self.left > 0 {
            self.left -= 1;
            Some(byte)
        } else {
            // A run ended just before this byte, which is the code of the next.
            let zero = (self.begun && !self.full).then_some(0);
            (self.left, self.full) = (byte.saturating_sub(1), byte == FULL);
            zero
        };
        self.begun = true;
        if let Some(byte) = put
            && self.content.push(byte).is_err()
        {
            self.broken = true;
        }
    }

    fn sum_is_right(&self) -> bool {
        let split = self.content.len().checked_sub(SUM_LEN).and_then(|at| self.content.split_at_checked(at));
        split.is_some_and(|(content, sum)| sum == CRC_32.checksum(content).to_le_bytes())
    }

    /// The content of a whole frame; `None` while there is none.
    #[must_use]
    pub fn content(&self) -> Option<&[u8]> {
        let len = self.content.len().checked_sub(SUM_LEN)?;
        self.content.get(..len).filter(|_| self.whole)
    }

    /// Makes room for the next frame.
    pub fn clear(&mut self) {
        self.content.clear();
        (self.left, self.full, self.whole) = (0, false, false);
    }
}
