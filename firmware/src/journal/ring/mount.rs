//! Finding the end of the record at power-up.
//!
//! 1. The number in each sector's first slot is read, four bytes a sector. The highest that fits its place
//!    and whose page is whole shows the newest sector, or one a little before it when first slots are torn.
//! 2. From there on sectors are read whole, to the first that holds nothing. That gives the newest page and
//!    the slot to go on with, past whatever was begun and never became whole.
//! 3. The sectors behind it that begin with a blank slot were erased ahead. The sector behind those is the
//!    oldest. It is shown only if nothing is missing in it.
//! 4. One erase may have been cut: that of the oldest sector, if anything is missing in it; else that of the
//!    last blank one, because blank cells may be half-way and reading does not show it; else, if there is
//!    none, that of a sector with nothing but torn slots. That sector does not count as erased. Sectors are
//!    erased one by one and in order, so there is never a second one.
//!
//! Read volume on 16 MiB, commands included: step 1 takes 33 kB, step 3 takes 5 bytes a blank sector, 2 kB in
//! use, and three to five sectors are read whole, 4.2 kB each. A new chip takes 80 kB, a chip full of
//! something else 0.6 MB until the first page is written. A test counts them.
//!
//! Knows the layout, pages and the chip. Reads only.

use super::Ring;
use super::chip::{Chip, PAGE, is_blank};
use super::layout::Layout;
use super::page::{NUMBER_AT, Slot};

/// Bytes of command and address before what is read.
const COMMAND: u32 = 4;

/// So many of the newest sectors may have no whole page in their first slot: one is what a power cut leaves.
const CANDIDATES: usize = 4;

/// So many sectors in a row that hold no page but are not blank end the search: on sectors of 16 pages, 64
/// programs cut in a row, each the first of its run.
const DEAD_SECTORS_MAX: u32 = 4;

/// Why a ring could not be mounted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum MountFault<E> {
    /// The chip's.
    Chip(E),
    /// The chip is at work; wait until it is not.
    Busy,
    /// The chip is too small for a ring, or larger than its slots can be numbered.
    Size,
}

/// What was found at power-up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Mounted {
    /// Bytes that went over the bus to find out, commands included.
    pub bytes_read: u32,
    /// Whether there is any page of earlier runs.
    pub has_history: bool,
    /// Pages behind the newest whole one that were begun and never became whole.
    pub torn_pages: u32,
    /// Whether the oldest sector is left out because something is missing in it: most likely its erase was
    /// cut.
    pub torn_erase: bool,
}

impl<const PAGES: usize> Ring<PAGES> {
    /// Finds the end of the record on a chip that is not busy. Takes the time of reading some 50 kB.
    ///
    /// # Errors
    /// [`MountFault`].
    pub fn mount<C: Chip>(chip: &mut C) -> Result<(Self, Mounted), MountFault<C::Error>> {
        let layout = Layout::new(chip.geometry()).ok_or(MountFault::Size)?;
        if chip.is_busy().map_err(MountFault::Chip)? {
            return Err(MountFault::Busy);
        }
        let mut survey = Survey { chip, layout, bytes_read: 0, page: [0; PAGE] };
        let bounds = survey.run().map_err(MountFault::Chip)?;
        let mounted = Mounted {
            bytes_read: survey.bytes_read,
            has_history: bounds.last.is_some(),
            torn_pages: bounds.torn,
            torn_erase: bounds.torn_erase,
        };
        Ok((Self::new(layout, &bounds), mounted))
    }
}

/// What the survey found out, in slots.
pub(super) struct Bounds {
    pub(super) oldest: u32,
    pub(super) last: Option<u32>,
    pub(super) next: u32,
    pub(super) erased_to: u32,
    pub(super) torn: u32,
    torn_erase: bool,
}

/// Where the record ends.
struct End {
    /// The newest page with frames.
    last: Option<u32>,
    /// Where to go on: behind everything that was begun, or at the beginning of a sector.
    next: u32,
    /// Slots begun behind the last page.
    torn: u32,
    /// The last sector, if it holds only what is torn.
    dead: Option<u32>,
}

/// What a sector holds.
#[derive(Default)]
struct Sector {
    /// Whether it holds any page of this lap, ...
    is_live: bool,
    /// ... and the newest with frames that its newest page knows of.
    last: Option<u32>,
    /// Slots up to the last that is not blank.
    used: u32,
    /// Slots behind the newest page, or from the beginning, that are neither whole nor blank.
    torn: u32,
    /// Whether it holds pages of an earlier lap.
    is_old: bool,
}

struct Survey<'c, C> {
    chip: &'c mut C,
    layout: Layout,
    bytes_read: u32,
    page: [u8; PAGE],
}

impl<C: Chip> Survey<'_, C> {
    fn run(&mut self) -> Result<Bounds, C::Error> {
        let newest = self.newest_start()?;
        let End { last, mut next, torn, dead } = self.follow(newest.unwrap_or(0))?;
        let layout = self.layout;
        let is_within = layout.page_of(next) != 0;
        let blank_from = layout.sector_of(next).saturating_add(u32::from(is_within));
        let limit = layout.sector_of(last.unwrap_or(next)).saturating_add(layout.sectors);
        let blank_to = self.blank_to(blank_from, limit)?;
        let (oldest, torn_erase) = self.oldest(blank_to, limit, last)?;
        let doubtful = match dead {
            _ if torn_erase => blank_to,
            _ if blank_to > blank_from => blank_to.saturating_sub(1),
            Some(dead) => dead,
            None => blank_from,
        };
        next = next.min(layout.start_of(doubtful));
        Ok(Bounds { oldest, last, next, erased_to: layout.start_of(doubtful), torn, torn_erase })
    }

    /// Step 1: the newest sector that has a whole page in its first slot; failing that, in its second, and so
    /// on, unless the chip is new.
    fn newest_start(&mut self) -> Result<Option<u32>, C::Error> {
        for page in 0..self.layout.pages {
            if page == 1 && self.blank_to(0, self.layout.sectors)? == self.layout.sectors {
                break;
            }
            let mut highest = self.highest_numbers(page)?;
            while let Some(number) = highest.iter_mut().max().and_then(Option::take) {
                if self.page_at(number)?.is_some() {
                    return Ok(Some(self.layout.sector_of(number)));
                }
            }
        }
        Ok(None)
    }

    /// The highest numbers among those that stand in one slot of each sector, where they belong.
    fn highest_numbers(&mut self, page: u32) -> Result<[Option<u32>; CANDIDATES], C::Error> {
        let mut highest = [None; CANDIDATES];
        for sector in 0..self.layout.sectors {
            let slot = self.layout.start_of(sector).saturating_add(page);
            let mut number = [0; 4];
            self.read(self.layout.slot_address(slot).saturating_add(NUMBER_AT), &mut number)?;
            let number = u32::from_le_bytes(number);
            if self.layout.is_place_of(number, slot)
                && let Some(least) = highest.iter_mut().min()
            {
                *least = (*least).max(Some(number));
            }
        }
        Ok(highest)
    }

    /// Step 2: reads on from a sector to the first that holds nothing, or nothing of this lap.
    fn follow(&mut self, from: u32) -> Result<End, C::Error> {
        let mut end = End { last: None, next: self.layout.start_of(from), torn: 0, dead: None };
        let mut dead = 0;
        for sector in from..from.saturating_add(self.layout.sectors) {
            let found = self.examine(sector)?;
            if found.is_live {
                dead = 0;
                end = End { last: found.last, next: 0, torn: found.torn, dead: None };
            } else if found.used == 0 || found.is_old || dead == DEAD_SECTORS_MAX {
                break;
            } else {
                dead += 1;
                end.torn = end.torn.saturating_add(found.torn);
                end.dead = Some(sector);
            }
            end.next = self.layout.start_of(sector).saturating_add(found.used);
        }
        Ok(end)
    }

    /// Reads a whole sector as one of this lap.
    fn examine(&mut self, sector: u32) -> Result<Sector, C::Error> {
        let mut found = Sector::default();
        for page in 0..self.layout.pages {
            let number = self.layout.start_of(sector).saturating_add(page);
            self.fetch(number)?;
            match Slot::read(&self.page) {
                Some(slot) if slot.number == number => {
                    let last = if slot.frames.is_empty() { slot.before } else { Some(number) };
                    (found.is_live, found.last, found.torn) = (true, last, 0);
                }
                Some(_) => found.is_old = true,
                None if is_blank(&self.page) => continue,
                None => found.torn = found.torn.saturating_add(1),
            }
            found.used = page.saturating_add(1);
        }
        Ok(found)
    }

    /// Step 3: the first sector, up to a limit, that does not begin with a blank slot.
    fn blank_to(&mut self, from: u32, limit: u32) -> Result<u32, C::Error> {
        for sector in from..limit {
            // A sector is used from its first slot on, and a page that was begun shows it in its first byte.
            let mut byte = [0];
            self.read(self.layout.sector_address(sector), &mut byte)?;
            if !is_blank(&byte) {
                return Ok(sector);
            }
        }
        Ok(limit.max(from))
    }

    /// Step 3, too: the first slot of the record, and whether the sector that is not blank was torn by an
    /// erase.
    fn oldest(&mut self, blank_to: u32, limit: u32, last: Option<u32>) -> Result<(u32, bool), C::Error> {
        // In the first lap nothing was there before.
        let Some(sector) = blank_to.checked_sub(self.layout.sectors) else { return Ok((0, false)) };
        let behind = sector.saturating_add(1);
        let is_torn = blank_to < limit && !self.is_complete(sector, last)?;
        Ok((self.layout.start_of(if is_torn { behind } else { sector }), is_torn))
    }

    /// Whether every page of a sector that a later page knows of is there.
    fn is_complete(&mut self, sector: u32, last: Option<u32>) -> Result<bool, C::Error> {
        let Some(last) = last else { return Ok(true) };
        let start = self.layout.start_of(sector);
        let behind = self.layout.start_of(sector.saturating_add(1));
        let mut number = behind;
        // The first whole page behind the sector; the newest page is one.
        while number < last && self.page_at(number)?.is_none() {
            number = number.saturating_add(1);
        }
        while number >= start {
            match self.page_at(number)? {
                None => return Ok(false),
                Some(slot) => match slot.before {
                    None => return Ok(true),
                    Some(before) => number = before,
                },
            }
        }
        Ok(true)
    }

    /// The page of a slot; none if it is not whole or another slot's.
    fn page_at(&mut self, number: u32) -> Result<Option<Slot<'_>>, C::Error> {
        self.fetch(number)?;
        Ok(Slot::read(&self.page).filter(|slot| slot.number == number))
    }

    /// Reads what is in a slot.
    fn fetch(&mut self, number: u32) -> Result<(), C::Error> {
        self.count(PAGE);
        self.chip.read(self.layout.slot_address(number), &mut self.page)
    }

    fn read(&mut self, address: u32, buffer: &mut [u8]) -> Result<(), C::Error> {
        self.count(buffer.len());
        self.chip.read(address, buffer)
    }

    fn count(&mut self, bytes: usize) {
        let bytes = u32::try_from(bytes).unwrap_or(u32::MAX).saturating_add(COMMAND);
        self.bytes_read = self.bytes_read.saturating_add(bytes);
    }
}
