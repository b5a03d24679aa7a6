//! Reading the record back: from old to new for whoever fetches it, from new to old for what the dash must
//! know.
//!
//! Both read at most one page a call and can stop and go on at any time, also while the ring is written. Only
//! acknowledged pages are shown, and those of earlier runs that are whole.
//!
//! Knows the ring's fields, pages and the chip.

use super::Ring;
use super::chip::{Chip, PAGE};
use super::page::{PAYLOAD, Slot};
use crate::journal::{FRAME_ADDS, RECORD_MAX, Raw, Reader};

/// A place in the record, for reading from old to new.
///
/// Pages are numbered from the ring's first lap on; a number is never used twice.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Cursor {
    next: u32,
    shown: Option<u32>,
}

impl Cursor {
    /// The number of the page that is read next.
    #[must_use]
    pub const fn page(&self) -> u32 {
        self.next
    }
}

/// A place in the record, for reading from new to old.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Trail {
    next: Option<u32>,
    joins: bool,
}

/// What stood there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found<'a> {
    /// The chip is at work; the place did not move.
    Busy,
    /// Nothing; the place moved. Ask again.
    Nothing,
    /// A stretch of the record.
    Piece(Piece<'a>),
    /// There is no more; when reading from old to new, more may come.
    End,
}

/// The frames of one page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Piece<'a> {
    /// A stretch of the stream of frames, up to [`PAYLOAD`] bytes.
    pub bytes: &'a [u8],
    /// Where the first frame begins that begins in this piece. What stands before it belongs to a frame that
    /// began in an earlier one.
    pub first: Option<usize>,
    /// Whether this piece and the one shown before it are neighbours in the record. False for the first one
    /// shown, and where pages between have been lost.
    pub joins: bool,
}

impl<const PAGES: usize> Ring<PAGES> {
    /// The beginning of what is on the chip.
    #[must_use]
    pub const fn oldest(&self) -> Cursor {
        Cursor { next: self.oldest, shown: None }
    }

    /// A place by the number of its page. What is read there does not join anything before it.
    #[must_use]
    pub const fn cursor(&self, page: u32) -> Cursor {
        Cursor { next: page, shown: None }
    }

    /// The number behind that of the newest acknowledged page. It grows from run to run.
    #[must_use]
    pub const fn end(&self) -> u32 {
        match self.last {
            Some(last) => last.saturating_add(1),
            None => self.oldest,
        }
    }

    /// Reads at most one page and moves the cursor towards the newest. When the cursor's place has been
    /// erased since, it goes on with the oldest that is left.
    ///
    /// # Errors The chip's; the cursor did not move.
    pub fn read_back<'b, C: Chip>(
        &self,
        chip: &mut C,
        cursor: &mut Cursor,
        buffer: &'b mut [u8; PAGE],
    ) -> Result<Found<'b>, C::Error> {
        let number = cursor.next.max(self.oldest);
        if self.last.is_none_or(|last| number > last) {
            return Ok(Found::End);
        }
        if chip.is_busy()? {
            return Ok(Found::Busy);
        }
        let slot = self.read_slot(chip, number, buffer)?;
        cursor.next = number.saturating_add(1);
        let Some(slot) = slot.filter(|slot| !slot.frames.is_empty()) else { return Ok(Found::Nothing) };
        // A page that did not read as it should, was written again, and reads well after all.
        if slot.again && cursor.shown > slot.before {
            return Ok(Found::Nothing);
        }
        let joins = slot.before.is_some() && cursor.shown >= slot.before;
        cursor.shown = Some(number);
        Ok(Found::Piece(Piece { bytes: slot.frames, first: slot.first, joins }))
    }

    /// The newest end of what is on the chip.
    #[must_use]
    pub const fn newest(&self) -> Trail {
        Trail { next: self.last, joins: false }
    }

    /// Reads at most one page and moves the trail towards the oldest.
    ///
    /// # Errors
    /// The chip's; the trail did not move.
    pub fn walk_back<'b, C: Chip>(
        &self,
        chip: &mut C,
        trail: &mut Trail,
        buffer: &'b mut [u8; PAGE],
    ) -> Result<Found<'b>, C::Error> {
        let Some(number) = trail.next.filter(|number| *number >= self.oldest) else { return Ok(Found::End) };
        if chip.is_busy()? {
            return Ok(Found::Busy);
        }
        let Some(slot) = self.read_slot(chip, number, buffer)? else {
            *trail = Trail { next: number.checked_sub(1), joins: false };
            return Ok(Found::Nothing);
        };
        if slot.frames.is_empty() {
            // Only met where a page behind it is lost: pages point past markers.
            *trail = Trail { next: slot.before, joins: false };
            return Ok(Found::Nothing);
        }
        let joins = trail.joins;
        *trail = Trail { next: slot.before, joins: true };
        Ok(Found::Piece(Piece { bytes: slot.frames, first: slot.first, joins }))
    }

    /// Looks for the newest record for which `wanted`, which gets it undecoded, has an answer, through at
    /// most `pages` pages from the newest back; none while the chip is busy. For power-up: it reads page
    /// after page without a pause.
    ///
    /// # Errors The chip's.
    pub fn find_newest<C: Chip, T>(
        &self,
        chip: &mut C,
        pages: u32,
        mut wanted: impl FnMut(Raw<'_>) -> Option<T>,
    ) -> Result<Option<T>, C::Error> {
        let (mut trail, mut buffer, mut overhang) = (self.newest(), [0; PAGE], Overhang::new());
        for _ in 0..pages {
            match self.walk_back(chip, &mut trail, &mut buffer)? {
                Found::Busy | Found::End => break,
                Found::Nothing => {}
                Found::Piece(piece) => {
                    let found = overhang.newest_of(&piece, &mut wanted);
                    if found.is_some() {
                        return Ok(found);
                    }
                }
            }
        }
        Ok(None)
    }

    fn read_slot<'b, C: Chip>(
        &self,
        chip: &mut C,
        number: u32,
        buffer: &'b mut [u8; PAGE],
    ) -> Result<Option<Slot<'b>>, C::Error> {
        chip.read(self.layout.slot_address(number), buffer)?;
        Ok(Slot::read(buffer).filter(|slot| slot.number == number))
    }
}

/// The end of a frame that began in an older page than those read so far.
struct Overhang(heapless::Vec<u8, OVERHANG_MAX>);

/// All of the longest frame but its first byte.
const OVERHANG_MAX: usize = RECORD_MAX + FRAME_ADDS - 1;

impl Overhang {
    const fn new() -> Self {
        Self(heapless::Vec::new())
    }

    /// The newest record that begins in a piece and is wanted. Pieces come from new to old.
    fn newest_of<T>(
        &mut self,
        piece: &Piece<'_>,
        wanted: &mut impl FnMut(Raw<'_>) -> Option<T>,
    ) -> Option<T> {
        if !piece.joins {
            self.0.clear();
        }
        let (end, begun) = piece.bytes.split_at_checked(piece.first.unwrap_or(piece.bytes.len()))?;
        let mut joined: heapless::Vec<u8, { PAYLOAD + OVERHANG_MAX }> = heapless::Vec::new();
        let _ = joined.extend_from_slice(begun).and_then(|()| joined.extend_from_slice(&self.0));
        let here = Reader::new(&joined).undecoded().take_while(|raw| raw.offset < begun.len());
        let found = here.filter_map(wanted).last();
        self.put_before(end, piece.first.is_some());
        found
    }

    /// The end of a piece becomes the overhang; a piece in which no frame begins is all of it and goes on.
    fn put_before(&mut self, end: &[u8], replaces: bool) {
        let mut joined = heapless::Vec::new();
        let whole =
            joined.extend_from_slice(end).is_ok() && (replaces || joined.extend_from_slice(&self.0).is_ok());
        self.0 = if whole { joined } else { heapless::Vec::new() };
    }
}
