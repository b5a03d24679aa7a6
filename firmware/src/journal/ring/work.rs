//! One short step at a time: look, program, read back; erase, look through.
//!
//! Each call asks whether the chip is busy and then does at most one operation: a page on the bus, some 0.3
//! ms at 8 MHz, or a command of four bytes. After an error of the bus nobody knows whether the chip took the
//! command; the step goes on as if it had, and reading back decides.
//!
//! Knows the ring's fields, pages and the chip.

use super::Ring;
use super::chip::{Chip, PAGE, is_blank};
use super::page::Draft;

/// So many slots in a row that did not take their page, and the chip is held for broken or write-protected.
/// Sixteen is a sector: one worn sector must not end the record.
const REFUSED_MAX: u8 = 16;

/// So many erases in a row that left something behind, and no more are tried.
const ERASES_REFUSED_MAX: u8 = 4;

/// What was begun.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Step {
    /// Nothing.
    Rest,
    /// The next slot was looked at and is blank.
    SlotIsBlank,
    /// The next slot is being programmed with the marker of this run.
    Marking,
    /// The next slot is being programmed, or was and is to be read back.
    Programming,
    /// The sector behind the erased ones is being erased, or was.
    Erasing,
    /// It was erased, and so many of its pages read as blank.
    Looking(u32),
}

/// What one [`Ring::poll`] did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Activity {
    /// Nothing to do, or nothing that may be done now: sleep.
    Idle,
    /// The chip is at work: come back in half a millisecond or later.
    Busy,
    /// Something was done: come back as soon as there is time.
    Worked,
    /// The same, and more of the stream is acknowledged.
    Acknowledged,
}

impl<const PAGES: usize> Ring<PAGES> {
    /// Does at most one short bus operation and never waits for the chip. Begins to erase only if it may.
    ///
    /// # Errors
    /// The chip's. No frame is lost by it; the next call goes on.
    pub fn poll<C: Chip>(&mut self, chip: &mut C, may_erase: bool) -> Result<Activity, C::Error> {
        if !self.has_work(may_erase) {
            return Ok(Activity::Idle);
        }
        if chip.is_busy()? {
            return Ok(Activity::Busy);
        }
        match self.step {
            Step::Rest if self.can_program() => self.look_at_slot(chip),
            Step::Rest => self.begin_erase(chip),
            Step::SlotIsBlank if !self.is_marked => self.begin_marker(chip),
            Step::SlotIsBlank => self.begin_program(chip),
            Step::Marking => Ok(self.pass_marker()),
            Step::Programming => self.read_back_slot(chip),
            Step::Erasing => self.look_through_sector(chip, 0),
            Step::Looking(page) => self.look_through_sector(chip, page),
        }
    }

    /// Whether [`Ring::poll`] has something to do. While it has, come back.
    #[must_use]
    pub fn has_work(&self, may_erase: bool) -> bool {
        self.step != Step::Rest || self.can_program() || (may_erase && self.wants_erase())
    }

    pub(super) const fn is_refused(&self) -> bool {
        self.pages_refused >= REFUSED_MAX
    }

    pub(super) const fn erases_are_refused(&self) -> bool {
        self.erases_refused >= ERASES_REFUSED_MAX
    }

    fn can_program(&self) -> bool {
        self.queue.is_due() && self.slots_free() > 0 && !self.is_refused()
    }

    /// Whether too little is erased ahead, and the sector behind may go: not the one with the newest page.
    fn wants_erase(&self) -> bool {
        let sector = self.layout.sector_of(self.erased_to);
        let newest = self.layout.sector_of(self.last.unwrap_or(self.next));
        self.slots_free() < self.ahead
            && sector < newest.saturating_add(self.layout.sectors)
            && self.layout.lasts(sector)
            && !self.has_failed()
    }

    /// Before a slot is programmed: a page that is not blank is passed over.
    fn look_at_slot<C: Chip>(&mut self, chip: &mut C) -> Result<Activity, C::Error> {
        let mut page = [0; PAGE];
        chip.read(self.layout.slot_address(self.next), &mut page)?;
        if is_blank(&page) {
            self.step = Step::SlotIsBlank;
        } else {
            self.pass_over();
        }
        Ok(Activity::Worked)
    }

    fn begin_marker<C: Chip>(&mut self, chip: &mut C) -> Result<Activity, C::Error> {
        self.step = Step::Marking;
        let back = self.back();
        let mut marker = Draft::new();
        chip.begin_program(self.layout.slot_address(self.next), marker.seal(self.next, back, false))?;
        Ok(Activity::Worked)
    }

    /// It holds nothing, so nobody asks how it reads.
    const fn pass_marker(&mut self) -> Activity {
        self.is_marked = true;
        self.next = self.next.saturating_add(1);
        self.step = Step::Rest;
        Activity::Worked
    }

    fn begin_program<C: Chip>(&mut self, chip: &mut C) -> Result<Activity, C::Error> {
        self.step = Step::Rest;
        let back = self.back();
        if let Some(page) = self.queue.seal(self.next, back) {
            self.step = Step::Programming;
            chip.begin_program(self.layout.slot_address(self.next), page)?;
        }
        Ok(Activity::Worked)
    }

    /// What is on the chip is acknowledged only if it reads back as it was written.
    fn read_back_slot<C: Chip>(&mut self, chip: &mut C) -> Result<Activity, C::Error> {
        let mut page = [0; PAGE];
        chip.read(self.layout.slot_address(self.next), &mut page)?;
        self.step = Step::Rest;
        if self.queue.sealed() != Some(&page) {
            self.queue.retry();
            self.pages_refused = self.pages_refused.saturating_add(1);
            self.pass_over();
            return Ok(Activity::Worked);
        }
        self.pages_refused = 0;
        self.last = Some(self.next);
        self.next = self.next.saturating_add(1);
        self.acknowledged = self.acknowledged.saturating_add(self.queue.done() as u64);
        Ok(Activity::Acknowledged)
    }

    /// From the next slot back to the newest page.
    fn back(&self) -> Option<u32> {
        self.last.map(|last| self.next.saturating_sub(last))
    }

    const fn pass_over(&mut self) {
        self.counters.bad_pages = self.counters.bad_pages.saturating_add(1);
        self.next = self.next.saturating_add(1);
    }

    fn begin_erase<C: Chip>(&mut self, chip: &mut C) -> Result<Activity, C::Error> {
        let sector = self.layout.sector_of(self.erased_to);
        // What the sector held in the lap before is given up now: the erase may begin even if an error is
        // told.
        let given_up = self.layout.start_of(sector.saturating_add(1)).saturating_sub(self.layout.slots);
        self.oldest = self.oldest.max(given_up);
        self.step = Step::Erasing;
        chip.begin_erase(self.layout.sector_address(sector))?;
        Ok(Activity::Worked)
    }

    /// After an erase: one page a call. A sector that is not blank counts as erased all the same, because its
    /// slots are looked at again, one by one, before they are used.
    fn look_through_sector<C: Chip>(&mut self, chip: &mut C, page: u32) -> Result<Activity, C::Error> {
        let mut bytes = [0; PAGE];
        chip.read(self.layout.slot_address(self.erased_to.saturating_add(page)), &mut bytes)?;
        let following = page.saturating_add(1);
        if !is_blank(&bytes) {
            self.counters.bad_sectors = self.counters.bad_sectors.saturating_add(1);
            self.erases_refused = self.erases_refused.saturating_add(1);
        } else if following < self.layout.pages {
            self.step = Step::Looking(following);
            return Ok(Activity::Worked);
        } else {
            self.erases_refused = 0;
        }
        self.step = Step::Rest;
        self.erased_to = self.erased_to.saturating_add(self.layout.pages);
        Ok(Activity::Worked)
    }
}
