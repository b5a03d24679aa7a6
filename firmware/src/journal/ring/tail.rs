//! The end of the record, for a dash that goes on with it: the number of its newest record, and the hash of what
//! stands behind the newest link of the chain.
//!
//! For power-up. It walks back to a page with a whole link in it and reads on from there to the end. A frame that was cut
//! short ends what it belongs to; the next one begins where its page says.
//!
//! Knows the ring's pages and the journal's frames.

use super::Ring;
use super::chip::{Chip, PAGE};
use super::read::{Cursor, Found};
use crate::journal::{Before, FRAME_ADDS, RECORD_MAX, Raw, Reader, Tail, number_of_link};

impl<const PAGES: usize> Ring<PAGES> {
    /// How the next record would follow on what is on the chip, looked for through at most `pages` pages from the
    /// newest back; none when no link is in them, and while the chip is busy.
    ///
    /// # Errors The chip's.
    pub fn tail<C: Chip>(&self, chip: &mut C, pages: u32) -> Result<Option<Before>, C::Error> {
        let mut buffer = [0; PAGE];
        for back in 1..=pages {
            let Some(page) = self.end().checked_sub(back) else { break };
            let mut cursor = self.cursor(page);
            if let Found::Piece(piece) = self.read_back(chip, &mut cursor, &mut buffer)? {
                let frames = piece.bytes.get(piece.first.unwrap_or(piece.bytes.len())..).unwrap_or_default();
                if Reader::new(frames).undecoded().any(|raw| number_of_link(raw.record).is_some()) {
                    return self.tail_from(chip, self.cursor(page));
                }
            }
        }
        Ok(None)
    }

    /// The same from a page on, in which a frame begins.
    fn tail_from<C: Chip>(&self, chip: &mut C, mut cursor: Cursor) -> Result<Option<Before>, C::Error> {
        let (mut tail, mut buffer, mut frame) = (Tail::default(), [0; PAGE], heapless::Vec::new());
        let mut begun = false;
        loop {
            match self.read_back(chip, &mut cursor, &mut buffer)? {
                Found::Busy | Found::End => return Ok(tail.before()),
                Found::Nothing => {}
                Found::Piece(piece) => {
                    let first = piece.first.unwrap_or(piece.bytes.len());
                    let (end, frames) = piece.bytes.split_at_checked(first).unwrap_or_default();
                    if begun && piece.joins {
                        join(&mut tail, &mut frame, end);
                    }
                    if piece.first.is_some() {
                        frame.clear();
                        begun = true;
                    }
                    join(&mut tail, &mut frame, frames);
                }
            }
        }
    }
}

/// Bytes of the stream: whole frames among them are added to the tail, what is left waits for more.
fn join(tail: &mut Tail, frame: &mut heapless::Vec<u8, { RECORD_MAX + FRAME_ADDS }>, bytes: &[u8]) {
    for byte in bytes {
        if frame.push(*byte).is_err() {
            return;
        }
        let len = frame.first().map_or(0, |len| usize::from(*len) + FRAME_ADDS);
        if frame.len() >= len {
            if let Some(raw) = Raw::of(frame) {
                tail.add(&raw);
            }
            frame.clear();
        }
    }
}
