//! A JEDEC SPI NOR flash chip: settings and journal live on it.
//!
//! The commands are those that W25Q chips have in common with their kind. Addresses have three bytes, so 16
//! MiB can be reached; a larger chip is used up to there. Nothing here waits for the chip but [`Nor::new`],
//! which runs once, at power-up: afterwards an operation is begun, and [`Chip::is_busy`] tells when it is
//! over.
//!
//! Source of the commands and the status bit: Linux kernel, `include/linux/mtd/spi-nor.h`. From memory, of
//! the W25Q128JV data sheet: programming takes 0.7 ms (at most 3), erasing a sector 45 ms (at most 400).
//!
//! Knows the bus and what ring and shelf need of a chip.

use embedded_hal::delay::DelayNs;
use embedded_hal::spi::{Operation, SpiDevice};

use crate::journal::ring::{Chip, Geometry, PAGE};

const ENABLE_RESET: u8 = 0x66;
const RESET: u8 = 0x99;
const READ_ID: u8 = 0x9F;
const READ_STATUS: u8 = 0x05;
const READ: u8 = 0x03;
const WRITE_ENABLE: u8 = 0x06;
const PROGRAM_PAGE: u8 = 0x02;
const ERASE_SECTOR: u8 = 0x20;

/// Of the status register: an operation is under way.
const BUSY: u8 = 0x01;

/// Longer than a reset takes: 30 us on a W25Q (from memory), more on others. The Linux driver waits 200 to
/// 400 us.
const RESET_US: u32 = 400;

/// So long the chip may finish what it was at before it is reset: longer than a program ever takes, and an
/// erase as a rule.
const PATIENCE_MS: u32 = 60;

/// Longer than an erase ever takes, in case the chip knows no reset.
const READY_WITHIN_MS: u32 = 500;

/// What [`ERASE_SECTOR`] erases, on every chip of the kind.
const SECTOR_BYTES: u32 = 4096;

/// Capacity codes are powers of two: from 64 KiB, the least on which settings and a journal are of use, ...
const CAPACITY_MIN: u8 = 16;
/// ... over 16 MiB, which three bytes of address reach, ...
const CAPACITY_REACHED: u8 = 24;
/// ... to 64 MiB, which makers write as 20h.
const CAPACITY_MAX: u8 = 32;

/// Why the chip did not do what it was asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum NorFault<E> {
    /// The bus failed.
    Bus(E),
    /// Nobody answers.
    Absent,
    /// The chip stayed busy for longer than any erase takes.
    Stuck,
    /// It answers, but names no size that is known here: maker, type, capacity code.
    Unknown([u8; 3]),
    /// No page or sector begins at this address, or the place is not on the chip.
    Place(u32),
}

/// A NOR flash chip on an SPI bus, mode 0 or 3.
#[derive(Debug)]
pub struct Nor<SPI> {
    spi: SPI,
    id: [u8; 3],
    bytes: u32,
}

impl<SPI: SpiDevice> Nor<SPI> {
    /// Resets the chip and asks for its size. At rest that takes half a millisecond.
    ///
    /// The processor may have been reset in the middle of a program or an erase. The chip may finish that,
    /// but not take all the 0.4 s of a slow erase: its own reset cuts it short and leaves a torn sector,
    /// which ring and shelf are made to find.
    ///
    /// # Errors [`NorFault`].
    pub fn new(spi: SPI, delay: &mut impl DelayNs) -> Result<Self, NorFault<SPI::Error>> {
        let mut nor = Self { spi, id: [0; 3], bytes: 0 };
        nor.is_ready_within(PATIENCE_MS, delay)?;
        nor.spi.write(&[ENABLE_RESET]).map_err(NorFault::Bus)?;
        nor.spi.write(&[RESET]).map_err(NorFault::Bus)?;
        delay.delay_us(RESET_US);
        if !nor.is_ready_within(READY_WITHIN_MS, delay)? {
            return Err(NorFault::Stuck);
        }
        nor.identify()?;
        Ok(nor)
    }

    /// What the chip answered: maker, type, capacity code.
    #[must_use]
    pub const fn id(&self) -> [u8; 3] {
        self.id
    }

    /// A bus without a chip may read as all ones; that counts as ready, and the answer to who it is decides.
    fn is_ready_within(&mut self, ms: u32, delay: &mut impl DelayNs) -> Result<bool, NorFault<SPI::Error>> {
        for _ in 0..ms {
            let status = self.status()?;
            if status & BUSY == 0 || status == 0xFF {
                return Ok(true);
            }
            delay.delay_ms(1);
        }
        Ok(false)
    }

    /// A bus without a chip reads as all ones or all noughts.
    fn identify(&mut self) -> Result<(), NorFault<SPI::Error>> {
        let id = &mut self.id;
        self.spi
            .transaction(&mut [Operation::Write(&[READ_ID]), Operation::Read(id)])
            .map_err(NorFault::Bus)?;
        match self.id {
            [0xFF, 0xFF, 0xFF] | [0, 0, 0] => Err(NorFault::Absent),
            [_, _, capacity @ CAPACITY_MIN..=CAPACITY_MAX] => {
                self.bytes = 1 << capacity.min(CAPACITY_REACHED);
                Ok(())
            }
            id => Err(NorFault::Unknown(id)),
        }
    }

    fn status(&mut self) -> Result<u8, NorFault<SPI::Error>> {
        let mut status = [0];
        self.spi
            .transaction(&mut [Operation::Write(&[READ_STATUS]), Operation::Read(&mut status)])
            .map_err(NorFault::Bus)?;
        let [status] = status;
        Ok(status)
    }

    /// The command with its address, if `len` bytes from there are on the chip and a multiple of `unit` is
    /// there.
    fn command(
        &self,
        command: u8,
        address: u32,
        len: usize,
        unit: u32,
    ) -> Result<[u8; 4], NorFault<SPI::Error>> {
        let end = u32::try_from(len).ok().and_then(|len| address.checked_add(len));
        if end.is_none_or(|end| end > self.bytes) || !address.is_multiple_of(unit) {
            return Err(NorFault::Place(address));
        }
        let [_, high, middle, low] = address.to_be_bytes();
        Ok([command, high, middle, low])
    }
}

impl<SPI: SpiDevice> Chip for Nor<SPI> {
    type Error = NorFault<SPI::Error>;

    fn geometry(&self) -> Geometry {
        Geometry { sectors: self.bytes / SECTOR_BYTES, pages_per_sector: SECTOR_BYTES / PAGE as u32 }
    }

    fn is_busy(&mut self) -> Result<bool, Self::Error> {
        Ok(self.status()? & BUSY != 0)
    }

    fn read(&mut self, address: u32, buffer: &mut [u8]) -> Result<(), Self::Error> {
        let command = self.command(READ, address, buffer.len(), 1)?;
        self.spi
            .transaction(&mut [Operation::Write(&command), Operation::Read(buffer)])
            .map_err(NorFault::Bus)
    }

    fn begin_program(&mut self, address: u32, page: &[u8; PAGE]) -> Result<(), Self::Error> {
        let command = self.command(PROGRAM_PAGE, address, PAGE, PAGE as u32)?;
        self.spi.write(&[WRITE_ENABLE]).map_err(NorFault::Bus)?;
        self.spi.transaction(&mut [Operation::Write(&command), Operation::Write(page)]).map_err(NorFault::Bus)
    }

    fn begin_erase(&mut self, address: u32) -> Result<(), Self::Error> {
        let command = self.command(ERASE_SECTOR, address, SECTOR_BYTES as usize, SECTOR_BYTES)?;
        self.spi.write(&[WRITE_ENABLE]).map_err(NorFault::Bus)?;
        self.spi.write(&command).map_err(NorFault::Bus)
    }
}

#[cfg(test)]
mod tests;
