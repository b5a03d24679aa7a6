//! Framed records out of bytes, past whatever is broken.

use super::{RECORD_MAX, Record, carried_in, checksum, suffered_in};
use crate::engine::suffered::Accounts;
use crate::resume::Carried;

/// What stands at a place of the journal.
#[derive(Clone, Debug, PartialEq, Eq)]
#[expect(clippy::large_enum_variant, reason = "read one at a time, where there is no heap")]
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

    /// What was carried when the journal ended: the newest such record in it.
    #[must_use]
    pub fn newest_carried(self) -> Option<Carried> {
        self.undecoded().filter_map(|(_, record)| carried_in(record)).last().flatten()
    }

    /// What the engine had suffered when the journal ended: the newest such record in it.
    #[must_use]
    pub fn newest_suffered(self) -> Option<Accounts> {
        self.undecoded().filter_map(|(_, record)| suffered_in(record)).last()
    }

    /// The records as they stand, undecoded, each with the place where its frame begins; past whatever is broken.
    ///
    /// For a board that looks for one kind of record: the code that decodes all of them takes 9 KiB.
    pub fn undecoded(mut self) -> impl Iterator<Item = (usize, &'a [u8])> {
        core::iter::from_fn(move || {
            while self.offset < self.bytes.len() {
                let offset = self.offset;
                if let Some((record, next)) = self.frame_at(offset) {
                    self.offset = next;
                    return Some((offset, record));
                }
                self.offset = self.next_whole(|place| self.frame_at(place).map(|(_, next)| next));
            }
            None
        })
    }

    /// The whole record that begins at `offset`, and where the next one would begin.
    fn record_at(&self, offset: usize) -> Option<(Record, usize)> {
        let (record, end) = self.frame_at(offset)?;
        let (record, rest) = postcard::take_from_bytes(record).ok()?;
        rest.is_empty().then_some((record, end))
    }

    /// The same, undecoded.
    fn frame_at(&self, offset: usize) -> Option<(&'a [u8], usize)> {
        let len = usize::from(*self.bytes.get(offset)?);
        if len == 0 || len > RECORD_MAX {
            return None;
        }
        let end = offset.checked_add(len)?.checked_add(3)?;
        let frame = self.bytes.get(offset..end)?;
        let (content, sum) = frame.split_at_checked(len + 1)?;
        (sum == checksum(content).to_le_bytes()).then_some((content.get(1..)?, end))
    }

    /// The next place where a whole record begins that another one, or the end, follows: sixteen bits of checksum
    /// alone would be met by chance once in 65,536 places. `end_of` is where the whole record at a place ends.
    fn next_whole(&self, end_of: impl Fn(usize) -> Option<usize>) -> usize {
        let is_followed = |end: usize| end == self.bytes.len() || end_of(end).is_some();
        let whole = |place: &usize| end_of(*place).is_some_and(is_followed);
        (self.offset + 1..self.bytes.len()).find(whole).unwrap_or(self.bytes.len())
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
        self.offset = self.next_whole(|place| self.record_at(place).map(|(_, next)| next));
        Some(Entry::Broken { offset, len: self.offset - offset })
    }
}
