//! The journal on a flash chip: a ring of pages that survives a power cut at any moment.
//!
//! ```text
//!            oldest            last  next           erased to
//!   ...........|=================|====|---------------|??|..........
//!   given up     acknowledged          erased ahead    ^ doubtful: its erase may have been cut
//! ```
//!
//! Frames are taken into pages in RAM. A page is programmed into the next slot, read back, and only then
//! counts as acknowledged; a slot that did not take it is passed over for the next. Sectors are erased ahead,
//! oldest first, while nobody is racing. Each is used in its turn, so wear spreads by itself.
//!
//! What is done against power cuts:
//!
//! * A page is judged by its own check sum and its own number. No header exists that could be torn.
//! * A page points to the page before it, so what was begun between them and never became whole is known to
//!   be nothing, and a page that was whole and is gone is seen to be missing.
//! * A program that was cut early may leave a slot that reads as blank, with cells half-way; that can only be
//!   the slot behind the last one that does not read as blank. So the first page of a run is a marker without
//!   frames: it takes that slot, and if it fades some day, nothing is lost and nothing is missed.
//! * Sectors are erased one by one, in order. After power-up the one whose erase may have been cut is erased
//!   anew before use: the oldest, if something in it is missing, and else the last that reads as blank,
//!   because reading does not show cells that are half-way.
//! * Every slot is read before it is programmed and after.
//!
//! Knows frames and a chip. Frames in, pages out, and back.

mod chip;
mod layout;
mod mount;
mod page;
mod queue;
mod read;
mod tail;
mod work;

pub use chip::{Chip, Geometry, PAGE, SHELF_SECTORS};
pub use mount::{MountFault, Mounted};
pub use page::PAYLOAD;
pub(crate) use page::checksum;
pub use read::{Cursor, Found, Piece, Trail};
pub use work::Activity;

use self::layout::Layout;
use self::queue::Queue;
use self::work::Step;
use super::Sink;

/// Pages that wait in RAM unless told otherwise. 16 pages are 3.9 kB of frames: at the 2.5 kB/s of a busy
/// moment they outlast the 0.4 s that an erase may take which began before the clock did (W25Q128JV data
/// sheet, AC characteristics, from memory).
pub const QUEUE: usize = 16;

/// Slots that shall be erased ahead unless told otherwise: 1.5 MiB, two heats and the milling between them.
const AHEAD: u32 = 1_572_864 / PAGE as u32;

/// The journal's place on a chip, and the pages that wait for it: up to `PAGES` of them.
///
/// It does not own the chip, which it shares with the settings' shelf. Whoever owns all three polls them in
/// turn; each sees for itself whether the chip is busy.
#[derive(Debug)]
pub struct Ring<const PAGES: usize = QUEUE> {
    layout: Layout,
    queue: Queue<PAGES>,
    step: Step,
    /// The first slot whose page has not been given up.
    oldest: u32,
    /// The newest acknowledged page.
    last: Option<u32>,
    /// The slot to be written next.
    next: u32,
    /// The first slot that is not erased; it begins a sector.
    erased_to: u32,
    /// Slots that shall be erased ahead.
    ahead: u32,
    /// The marker of this run was written.
    is_marked: bool,
    taken: u64,
    acknowledged: u64,
    counters: Counters,
    /// Slots in a row that did not take their page.
    pages_refused: u8,
    /// Erases in a row that left something behind.
    erases_refused: u8,
}

/// What the ring counted since power-up. All of them saturate.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Counters {
    /// Frames that found no room.
    pub lost_frames: u32,
    /// Pages that were found torn at power-up.
    pub torn_pages: u32,
    /// Slots that were not blank when their turn came, or did not take what was programmed.
    pub bad_pages: u32,
    /// Sectors that were not blank after an erase.
    pub bad_sectors: u32,
}

impl<const PAGES: usize> Ring<PAGES> {
    /// A ring that goes on where a survey of the chip found the end of the record.
    fn new(layout: Layout, bounds: &mount::Bounds) -> Self {
        Self {
            layout,
            queue: Queue::new(),
            step: Step::Rest,
            oldest: bounds.oldest,
            last: bounds.last,
            next: bounds.next,
            erased_to: bounds.erased_to,
            ahead: AHEAD.min(layout.slots / 2),
            is_marked: false,
            taken: 0,
            acknowledged: 0,
            counters: Counters { torn_pages: bounds.torn, ..Counters::default() },
            pages_refused: 0,
            erases_refused: 0,
        }
    }

    /// Sets how many bytes of frames shall be erased ahead; at most half of the ring, at least one page.
    pub fn erase_ahead(&mut self, bytes: u32) {
        self.ahead = bytes.div_ceil(PAYLOAD as u32).min(self.layout.slots / 2).max(1);
    }

    /// Makes what was taken due, even if it does not fill a page. A page that is due is filled on until it is
    /// written.
    pub fn flush(&mut self) {
        self.queue.flush();
    }

    /// Bytes of frames that fit into what is erased ahead. A flush may leave part of a page unused.
    #[must_use]
    pub const fn room(&self) -> u32 {
        self.slots_free().saturating_mul(PAYLOAD as u32)
    }

    /// Bytes of frames taken since power-up.
    #[must_use]
    pub const fn taken(&self) -> u64 {
        self.taken
    }

    /// Of those, how many are on the chip and read back as they were written. A frame that ends at or before
    /// this stays until its sector's turn to be erased comes.
    #[must_use]
    pub const fn acknowledged(&self) -> u64 {
        self.acknowledged
    }

    /// What was counted since power-up.
    #[must_use]
    pub const fn counters(&self) -> Counters {
        self.counters
    }

    /// Whether the chip refused so much in a row that the ring writes or erases no more until power-up.
    #[must_use]
    pub const fn has_failed(&self) -> bool {
        self.is_refused() || self.erases_are_refused()
    }

    /// Slots from the next one to the end of what is erased.
    const fn slots_free(&self) -> u32 {
        self.erased_to.saturating_sub(self.next)
    }
}

impl<const PAGES: usize> Sink for Ring<PAGES> {
    /// Takes a frame into RAM. False when it does not fit: it is lost as a whole, and counted.
    fn frame(&mut self, frame: &[u8]) -> bool {
        let fits = self.queue.take(frame);
        if fits {
            self.taken = self.taken.saturating_add(frame.len() as u64);
        } else {
            self.counters.lost_frames = self.counters.lost_frames.saturating_add(1);
        }
        fits
    }
}

#[cfg(test)]
pub(crate) mod strict_chip;
#[cfg(test)]
mod tests;
