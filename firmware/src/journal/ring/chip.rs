//! What ring and shelf need of a flash chip, and no more.
//!
//! A chip begins an operation and is busy for a while; nothing here waits for it. Programming only clears
//! bits, erasing sets all bits of a sector. Addresses are in bytes from the chip's beginning.
//!
//! Knows nobody. [`crate::io::nor`] has the real one; the tests have a stricter one.

use core::fmt::Debug;

/// Bytes in a page: what JEDEC SPI NOR chips program at once.
pub const PAGE: usize = 256;

/// The same, as an address counts.
const PAGE_BYTES: u32 = PAGE as u32;

/// The sectors at the chip's beginning that belong to the settings; the ring begins behind them.
pub const SHELF_SECTORS: u32 = 2;

/// How large a chip is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Geometry {
    /// Sectors of the chip: what is erased at once.
    pub sectors: u32,
    /// Pages of [`PAGE`] bytes in each: 16 in a sector of 4 KiB.
    pub pages_per_sector: u32,
}

impl Geometry {
    /// Bytes in a sector.
    #[must_use]
    pub const fn sector_bytes(self) -> u32 {
        self.pages_per_sector.saturating_mul(PAGE_BYTES)
    }

    /// Where a page of a sector begins; saturates beyond the chip.
    #[must_use]
    pub const fn address(self, sector: u32, page: u32) -> u32 {
        sector.saturating_mul(self.sector_bytes()).saturating_add(page.saturating_mul(PAGE_BYTES))
    }
}

/// A NOR flash chip, seen from above its bus.
pub trait Chip {
    /// What can go wrong on the way to the chip.
    type Error: Debug;

    /// How large it is.
    fn geometry(&self) -> Geometry;

    /// Whether it still programs or erases.
    ///
    /// # Errors
    /// The bus failed.
    fn is_busy(&mut self) -> Result<bool, Self::Error>;

    /// Reads from `address` on. The chip must not be busy.
    ///
    /// # Errors
    /// The bus failed, or the place is not on the chip.
    fn read(&mut self, address: u32, buffer: &mut [u8]) -> Result<(), Self::Error>;

    /// Begins to program a whole page. The chip must not be busy.
    ///
    /// # Errors
    /// The bus failed, or no page begins at `address`.
    fn begin_program(&mut self, address: u32, page: &[u8; PAGE]) -> Result<(), Self::Error>;

    /// Begins to erase the sector that begins at `address`. The chip must not be busy.
    ///
    /// # Errors
    /// The bus failed, or no sector begins at `address`.
    fn begin_erase(&mut self, address: u32) -> Result<(), Self::Error>;
}

/// Whether the bytes read as erased.
pub(super) fn is_blank(bytes: &[u8]) -> bool {
    bytes.iter().all(|byte| *byte == 0xFF)
}
