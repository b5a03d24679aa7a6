//! Framed records out of bytes, past whatever is broken.

use super::{RECORD_MAX, Record, checksum};

/// What stands at a place of the journal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Entry {
    /// A whole record.
    Record {
        /// Where its frame begins.
        offset: usize,
        /// What it says.
        record: Record,
    },
    /// Bytes that are no record.
    Broken {
        /// Where they begin.
        offset: usize,
        /// How many there are before the next whole record or the end.
        len: usize,
    },
}

/// Reads a journal from memory, entry by entry.
#[derive(Clone, Debug)]
pub struct Reader<'a> {
    bytes: &'a [u8],
    offset: usize,
}

impl<'a> Reader<'a> {
    /// A reader at the beginning of `bytes`.
    #[must_use]
    pub const fn new(bytes: &'a [u8]) -> Self {
        Self { bytes, offset: 0 }
    }

    /// The whole record that begins at `offset`, and where the next one would begin.
    fn record_at(&self, offset: usize) -> Option<(Record, usize)> {
        let len = usize::from(*self.bytes.get(offset)?);
        if len == 0 || len > RECORD_MAX {
            return None;
        }
        let end = offset.checked_add(len)?.checked_add(3)?;
        let frame = self.bytes.get(offset..end)?;
        let (content, sum) = frame.split_at_checked(len + 1)?;
        if sum != checksum(content).to_le_bytes() {
            return None;
        }
        let (record, rest) = postcard::take_from_bytes(content.get(1..)?).ok()?;
        rest.is_empty().then_some((record, end))
    }

    /// The next place after `offset` where a whole record begins that another one, or the end, follows: sixteen
    /// bits of checksum alone would be met by chance once in 65,536 places.
    fn next_whole(&self, offset: usize) -> usize {
        let whole = |place: &usize| {
            self.record_at(*place)
                .is_some_and(|(_, next)| next == self.bytes.len() || self.record_at(next).is_some())
        };
        (offset + 1..self.bytes.len()).find(whole).unwrap_or(self.bytes.len())
    }
}

impl Iterator for Reader<'_> {
    type Item = Entry;

    fn next(&mut self) -> Option<Entry> {
        let offset = self.offset;
        if offset >= self.bytes.len() {
            return None;
        }
        if let Some((record, next)) = self.record_at(offset) {
            self.offset = next;
            return Some(Entry::Record { offset, record });
        }
        self.offset = self.next_whole(offset);
        Some(Entry::Broken { offset, len: self.offset - offset })
    }
}
