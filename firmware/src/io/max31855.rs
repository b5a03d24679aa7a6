//! The MAX31855: 32 bits, read only, one thermocouple.
//!
//! The chip has no registers and takes no commands: selected, it sends its frame, most significant bit
//! first, SPI mode 0, at most 5 MHz. Selecting it stops the conversion that runs, and the next one begins
//! when it is let go; so it must be read no more often than every [`CONVERSION`], or it never finishes one.
//! (Data sheet; times from memory.)
//!
//! Bus in, [`ProbeReading`] out. This file knows units and inputs; what a frame means stands in
//! [`crate::engine::thermocouple`].

use embedded_hal::spi::SpiDevice;

use crate::input::ProbeReading;
use crate::units::Span;

/// One conversion takes at most so long (from memory: 70 ms typical, 100 ms at most).
pub const CONVERSION: Span = Span::from_millis(100);

/// One chip, by itself on its select line.
#[derive(Debug)]
pub struct Max31855<SPI> {
    device: SPI,
}

impl<SPI: SpiDevice> Max31855<SPI> {
    /// The chip behind a select line, in SPI mode 0.
    pub const fn new(device: SPI) -> Self {
        Self { device }
    }

    /// Reads the frame. All bits alike mean that no chip drives the wire: [`ProbeReading::NoAnswer`].
    ///
    /// # Errors
    /// When the bus itself fails; to the dash that is [`ProbeReading::NoAnswer`] too.
    pub fn read(&mut self) -> Result<ProbeReading, SPI::Error> {
        let mut frame = [0; 4];
        self.device.read(&mut frame)?;
        Ok(match u32::from_be_bytes(frame) {
            0 | u32::MAX => ProbeReading::NoAnswer,
            frame => ProbeReading::Max31855(frame),
        })
    }

    /// Gives the bus back.
    #[must_use]
    pub fn release(self) -> SPI {
        self.device
    }
}

#[cfg(test)]
mod tests {
    use embedded_hal::spi::{ErrorKind, ErrorType, Operation};
    use embedded_hal_mock::eh1::spi::{Mock, Transaction};

    use super::*;
    use crate::engine::thermocouple::{ProbeFault, Temperatures, decode};
    use crate::units::MilliCelsius;

    fn read(frame: [u8; 4]) -> ProbeReading {
        let mut chip = Max31855::new(Mock::new(&[
            Transaction::transaction_start(),
            Transaction::read_vec(frame.to_vec()),
            Transaction::transaction_end(),
        ]));
        let reading = chip.read().unwrap();
        chip.release().done();
        reading
    }

    fn celsius(milli: i32) -> MilliCelsius {
        MilliCelsius::from_milli(milli)
    }

    #[test]
    fn the_data_sheets_frames_read_as_its_temperatures() {
        // MAX31855 data sheet, page 10: +25.00 degrees is 0000 0001 1001 00, inside 0001 1001 0000.
        let reading = read([0x01, 0x90, 0x19, 0x00]);
        assert_eq!(reading, ProbeReading::Max31855(0x0190_1900));
        assert_eq!(decode(reading), Ok(Temperatures { hot: celsius(25_000), cold: celsius(25_000) }));
    }

    #[test]
    fn a_broken_thermocouple_is_handed_on_as_the_chip_says_it() {
        // The same page: bit 16 is a fault, bit 0 an open circuit.
        assert_eq!(decode(read([0x00, 0x01, 0x19, 0x01])), Err(ProbeFault::Open));
    }

    #[test]
    fn a_wire_that_nobody_drives_is_no_answer() {
        // Common practice, no source: a stuck wire reads all ones or all zeros.
        for stuck in [0x00, 0xFF] {
            assert_eq!(read([stuck; 4]), ProbeReading::NoAnswer);
        }
    }

    /// A bus that fails; the mock knows no such bus.
    struct Broken;

    impl ErrorType for Broken {
        type Error = ErrorKind;
    }

    impl SpiDevice for Broken {
        fn transaction(&mut self, _: &mut [Operation<'_, u8>]) -> Result<(), ErrorKind> {
            Err(ErrorKind::ModeFault)
        }
    }

    #[test]
    fn a_failing_bus_says_so() {
        assert_eq!(Max31855::new(Broken).read(), Err(ErrorKind::ModeFault));
    }
}
