//! Where a numbered slot lies on the chip.
//!
//! Slots are numbered from the ring's first lap on and never again from nought: slot `n` of a ring of `N`
//! lies at place `n mod N`. A page carries its slot's number, so what an earlier lap, another use of the chip
//! or a torn erase left behind is told from what belongs there. Sectors are numbered in the same way.
//!
//! The number has 32 bits and cannot wrap. A chip of 16 MiB has 65,504 slots: 2^32 of them are 65,500 laps,
//! each of which erases every sector once; at ten pages a second they take 13 years of racing without a
//! break. A smaller chip wears out first (100,000 erases a sector: W25Q128JV data sheet, from memory). A ring
//! that gets there all the same stops and counts what it loses.
//!
//! Knows the chip's geometry. Numbers in, addresses out; nothing here can overflow.

use super::chip::{Geometry, SHELF_SECTORS};

/// The least sectors of a ring: the newest, one being erased, one doubtful, one of history.
const SECTORS_MIN: u32 = 4;

/// No more slots than this, so that their numbers last for 16 laps whatever the chip.
const SLOTS_MAX: u32 = u32::MAX / 16;

/// The ring's own geometry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Layout {
    chip: Geometry,
    /// Sectors of the ring.
    pub(super) sectors: u32,
    /// Slots in a sector.
    pub(super) pages: u32,
    /// Slots of the ring.
    pub(super) slots: u32,
}

impl Layout {
    /// The ring on a chip; none when the chip is too small, or so large that numbers would not last.
    pub(super) fn new(chip: Geometry) -> Option<Self> {
        let sectors = chip.sectors.checked_sub(SHELF_SECTORS).filter(|sectors| *sectors >= SECTORS_MIN)?;
        let pages = chip.pages_per_sector;
        let slots = sectors.checked_mul(pages).filter(|slots| (1..=SLOTS_MAX).contains(slots))?;
        Some(Self { chip, sectors, pages, slots })
    }

    /// The sector that a slot is in.
    pub(super) fn sector_of(&self, number: u32) -> u32 {
        number.checked_div(self.pages).unwrap_or(0)
    }

    /// The first slot of a sector.
    pub(super) const fn start_of(&self, sector: u32) -> u32 {
        sector.saturating_mul(self.pages)
    }

    /// The slot's place within its sector.
    pub(super) fn page_of(&self, number: u32) -> u32 {
        number.checked_rem(self.pages).unwrap_or(0)
    }

    /// Where a slot begins on the chip.
    pub(super) fn slot_address(&self, number: u32) -> u32 {
        self.chip.address(self.place_of(self.sector_of(number)), self.page_of(number))
    }

    /// Where a sector begins on the chip.
    pub(super) fn sector_address(&self, sector: u32) -> u32 {
        self.chip.address(self.place_of(sector), 0)
    }

    /// Whether the slot of this number lies where a slot of the first lap does.
    pub(super) fn is_place_of(&self, number: u32, of_first_lap: u32) -> bool {
        number.checked_rem(self.slots) == Some(of_first_lap)
    }

    /// Whether numbers last for another lap behind this sector.
    pub(super) const fn lasts(&self, sector: u32) -> bool {
        self.start_of(sector) < u32::MAX - SLOTS_MAX * 2
    }

    fn place_of(&self, sector: u32) -> u32 {
        sector.checked_rem(self.sectors).unwrap_or(0).saturating_add(SHELF_SECTORS)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slots_follow_each_other_round_the_chip_behind_the_shelf() {
        let layout = Layout::new(Geometry { sectors: 4096, pages_per_sector: 16 }).unwrap();
        assert_eq!(layout.slot_address(0), 0x2000);
        assert_eq!(layout.slot_address(1), 0x2100);
        assert_eq!(layout.slot_address(16), 0x3000);
        assert_eq!(layout.slot_address(65_503), 0xFF_FF00);
        assert_eq!(layout.slot_address(65_504), 0x2000);
        assert_eq!(layout.sector_address(4_094 + 1), 0x3000);
    }

    #[test]
    fn a_chip_too_small_or_too_large_has_no_ring() {
        let ring = |sectors, pages_per_sector| Layout::new(Geometry { sectors, pages_per_sector });
        assert!(ring(6, 4).is_some() && ring(6, 1).is_some());
        assert!(ring(5, 16).is_none() && ring(0, 16).is_none() && ring(6, 0).is_none());
        assert!(ring(u32::MAX, 16).is_none());
    }

    #[test]
    fn the_numbers_last_for_fifty_thousand_laps_of_the_largest_chip() {
        let layout = Layout::new(Geometry { sectors: 4096, pages_per_sector: 16 }).unwrap();
        assert!(layout.lasts(50_000 * layout.sectors));
        assert!(!layout.lasts(60_000 * layout.sectors));
    }
}
