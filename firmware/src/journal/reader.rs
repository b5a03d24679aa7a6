//! Framed records out of bytes, past whatever is broken.

use super::{Before, FORMAT, FRAME_ADDS, RECORD_MAX, Record, Tail, carried_in, checksum, suffered_in};
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
        /// The low byte of its number.
        sequence: u8,
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

/// A whole record, undecoded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Raw<'a> {
    /// Where its frame begins.
    pub offset: usize,
    /// The low byte of its number.
    pub sequence: u8,
    /// Its bytes.
    pub record: &'a [u8],
    /// The whole frame.
    pub frame: &'a [u8],
}

impl<'a> Raw<'a> {
    /// A frame of just these bytes.
    #[must_use]
    pub fn of(frame: &'a [u8]) -> Option<Self> {
        Reader::new(frame).frame_at(0).filter(|raw| raw.frame.len() == frame.len())
    }

    /// Where the next frame would begin.
    const fn end(&self) -> usize {
        self.offset.saturating_add(self.frame.len())
    }
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
        self.undecoded().filter_map(|raw| carried_in(raw.record)).last().flatten()
    }

    /// What the engine had suffered when the journal ended: the newest such record in it.
    #[must_use]
    pub fn newest_suffered(self) -> Option<Accounts> {
        self.undecoded().filter_map(|raw| suffered_in(raw.record)).last()
    }

    /// What a dash that goes on with this journal says of it.
    #[must_use]
    pub fn before(self) -> Option<Before> {
        let mut tail = Tail::default();
        self.undecoded().for_each(|raw| tail.add(&raw));
        tail.before()
    }

    /// The format of a journal that is older than this one's frames, by the look of its first record.
    #[must_use]
    pub fn older_format(&self) -> Option<u8> {
        // One byte of length, the record, two of check sum over both; an opening is record 0 and says its format.
        let len = usize::from(*self.bytes.first()?);
        let (content, sum) = self.bytes.get(..len.checked_add(3)?)?.split_at_checked(len + 1)?;
        let is_whole = sum == checksum(content).to_le_bytes();
        let &[_, 0, format, ..] = content else { return None };
        (is_whole && format < FORMAT).then_some(format)
    }

    /// The records as they stand, undecoded; past whatever is broken.
    ///
    /// For a board that looks for one kind of record: the code that decodes all of them takes 9 KiB.
    pub fn undecoded(mut self) -> impl Iterator<Item = Raw<'a>> {
        core::iter::from_fn(move || {
            while self.offset < self.bytes.len() {
                if let Some(raw) = self.frame_at(self.offset) {
                    self.offset = raw.end();
                    return Some(raw);
                }
                self.offset = self.next_whole(|place| self.frame_at(place).map(|raw| raw.end()));
            }
            None
        })
    }

    /// The whole record that begins at `offset`, its sequence, and where the next one would begin.
    fn record_at(&self, offset: usize) -> Option<(Record, u8, usize)> {
        let raw = self.frame_at(offset)?;
        let (record, rest) = postcard::take_from_bytes(raw.record).ok()?;
        rest.is_empty().then_some((record, raw.sequence, raw.end()))
    }

    /// The same, undecoded.
    fn frame_at(&self, offset: usize) -> Option<Raw<'a>> {
        let len = usize::from(*self.bytes.get(offset)?);
        if len == 0 || len > RECORD_MAX {
            return None;
        }
        let frame = self.bytes.get(offset..offset.checked_add(len)?.checked_add(FRAME_ADDS)?)?;
        let (content, sum) = frame.split_at_checked(len + 2)?;
        let &[_, sequence, ref record @ ..] = content else { return None };
        (sum == checksum(content).to_le_bytes()).then_some(Raw { offset, sequence, record, frame })
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
        if let Some((record, sequence, next)) = self.record_at(offset) {
            self.offset = next;
            return Some(Entry::Record { offset, sequence, record });
        }
        self.offset = self.next_whole(|place| self.record_at(place).map(|(_, _, next)| next));
        Some(Entry::Broken { offset, len: self.offset - offset })
    }
}
