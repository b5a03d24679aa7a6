//! The settings on the chip: two places, of which one is whole at any moment.
//!
//! Each place is a sector of its own. New settings go to the one that does not hold the newest: it is erased,
//! looked through, programmed page by page and read back. Until its last byte is there its check sum is
//! wrong, and the other place is loaded. So a power cut at any moment leaves the old settings or the new
//! ones, whole.
//!
//! What the bytes mean is not known here. Bytes in, bytes out; knows the chip and its first two sectors.

mod image;

use self::image::Image;
use crate::journal::ring::{Chip, Geometry, PAGE, SHELF_SECTORS};
use crate::settings::Settings;

/// The most bytes that can be stored.
pub const BYTES_MAX: usize = Settings::ENCODED_MAX;

/// The two places, and what is being written.
///
/// It does not own the chip, which it shares with the journal's ring: whoever owns all three polls them in
/// turn.
#[derive(Debug)]
pub struct Shelf {
    geometry: Geometry,
    /// The newest whole set.
    newest: Option<Place>,
    /// Where the image goes.
    target: Place,
    image: Image,
    step: Step,
}

/// A set in its place: which sector, and the how-manieth writing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Place {
    sector: u32,
    number: u32,
}

/// How far a writing is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Step {
    Rest,
    /// Bytes were taken.
    Taken,
    /// The place is being erased, or this page of it is to be programmed.
    Ready(u32),
    /// This page is being programmed, or was and is to be read back.
    Programming(u32),
}

/// Why bytes were not taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Refused {
    /// None, more than [`BYTES_MAX`], or more than a sector holds.
    Length,
    /// The writing before is not finished.
    Busy,
}

/// What one [`Shelf::poll`] did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Progress {
    /// Nothing is being written.
    Idle,
    /// The chip is at work, or must not be erased now.
    Waiting,
    /// Something was done: come back as soon as there is time.
    Worked,
    /// The new bytes are on the chip, read back as they were written, and will be loaded from now on. Said
    /// once.
    Stored,
    /// The chip did not take the new bytes; the old ones stay. Said once.
    Failed,
}

impl Shelf {
    /// Reads the newest whole set into `buffer` and says how long it is; none on a chip that has none. The
    /// chip must not be busy.
    ///
    /// # Errors The chip's.
    pub fn load<C: Chip>(
        chip: &mut C,
        buffer: &mut [u8; BYTES_MAX],
    ) -> Result<(Self, Option<usize>), C::Error> {
        let geometry = chip.geometry();
        let mut shelf = Self {
            geometry,
            newest: None,
            target: Place { sector: 0, number: 1 },
            image: Image::new(),
            step: Step::Rest,
        };
        let mut len = None;
        for sector in 0..SHELF_SECTORS {
            shelf.image.fetch(chip, geometry.address(sector, 0), geometry.sector_bytes())?;
            let Some((number, bytes)) = shelf.image.content() else { continue };
            if shelf.newest.is_none_or(|newest| newest.number < number)
                && let Some(place) = buffer.get_mut(..bytes.len())
            {
                place.copy_from_slice(bytes);
                len = Some(bytes.len());
                shelf.newest = Some(Place { sector, number });
            }
        }
        Ok((shelf, len))
    }

    /// Takes bytes to be written. The old ones stay until the new ones are whole.
    ///
    /// # Errors
    /// [`Refused`].
    pub fn store(&mut self, bytes: &[u8]) -> Result<(), Refused> {
        if self.step != Step::Rest {
            return Err(Refused::Busy);
        }
        self.target = match self.newest {
            None => Place { sector: 0, number: 1 },
            Some(newest) => Place {
                sector: if newest.sector == 0 { 1 } else { 0 },
                number: newest.number.saturating_add(1),
            },
        };
        if !self.image.write(self.target.number, bytes, self.geometry.sector_bytes()) {
            return Err(Refused::Length);
        }
        self.step = Step::Taken;
        Ok(())
    }

    /// Does at most one short bus operation and never waits for the chip. Begins to erase only if it may.
    ///
    /// # Errors
    /// The chip's. The next call goes on, and reading back decides what the chip took.
    pub fn poll<C: Chip>(&mut self, chip: &mut C, may_erase: bool) -> Result<Progress, C::Error> {
        match self.step {
            Step::Rest => return Ok(Progress::Idle),
            Step::Taken if !may_erase => return Ok(Progress::Waiting),
            _ => {}
        }
        if chip.is_busy()? {
            return Ok(Progress::Waiting);
        }
        match self.step {
            Step::Rest => Ok(Progress::Idle),
            Step::Taken => {
                self.step = Step::Ready(0);
                chip.begin_erase(self.address(0))?;
                Ok(Progress::Worked)
            }
            Step::Ready(page) => {
                self.step = Step::Programming(page);
                chip.begin_program(self.address(page), &self.image.page(page))?;
                Ok(Progress::Worked)
            }
            Step::Programming(page) => self.read_back(chip, page),
        }
    }

    /// Whether bytes were taken that are neither stored nor failed.
    #[must_use]
    pub fn has_work(&self) -> bool {
        self.step != Step::Rest
    }

    /// Whether the chip holds what it was given; this also shows whether the erase left anything in its way.
    fn read_back<C: Chip>(&mut self, chip: &mut C, page: u32) -> Result<Progress, C::Error> {
        let mut bytes = [0; PAGE];
        chip.read(self.address(page), &mut bytes)?;
        let following = page.saturating_add(1);
        if !bytes.starts_with(self.image.bytes(page)) {
            self.step = Step::Rest;
            return Ok(Progress::Failed);
        }
        if following < self.image.pages() {
            self.step = Step::Ready(following);
            return Ok(Progress::Worked);
        }
        self.step = Step::Rest;
        self.newest = Some(self.target);
        Ok(Progress::Stored)
    }

    const fn address(&self, page: u32) -> u32 {
        self.geometry.address(self.target.sector, page)
    }
}

#[cfg(test)]
mod tests;
