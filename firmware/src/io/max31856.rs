//! The MAX31856: a thermocouple chip with registers, that does the linearisation itself.
//!
//! It must be told what to do, and forgets it when its supply dips. So every read fetches all sixteen
//! registers in one go, 17 bytes: the settings among them are compared with what was written, and a chip
//! that has forgotten is told again, in three short writes, before it is believed. SPI mode 1 (or 3), at
//! most 5 MHz: not the mode of a MAX31855.
//!
//! Bus in, [`ProbeReading`] out. This file knows inputs; what the registers mean stands in
//! [`crate::engine::thermocouple`].

use embedded_hal::spi::{Operation, SpiDevice};

use crate::input::ProbeReading;

/// Registers of the chip, 0x00 to 0x0F.
const REGISTERS: usize = 16;
/// The first of them hold settings: what is written must read back.
const SETTINGS: usize = 10;

/// Reading begins at a register's address; writing at the same with this bit.
const WRITE: u8 = 0x80;
/// CR0: convert without being asked.
const CONTINUOUS: u8 = 0b1000_0000;
/// CR0: look for an open circuit once every 16 conversions, for wires of less than 5 kilohms.
const OPEN_CIRCUIT_TEST: u8 = 0b0001_0000;

/// The hum that the chip's filter takes out: that of the mains at the dock or in the shed. On the water
/// either will do.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Mains {
    /// 60 Hz, and its multiples.
    #[default]
    Hz60,
    /// 50 Hz, and its multiples.
    Hz50,
}

/// Why there is no reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Max31856Error<E> {
    /// The bus itself failed. To the dash: [`ProbeReading::NoAnswer`].
    Bus(E),
    /// A setting does not read back as written, also after it was written again: no such chip, or a bad
    /// wire. To the dash: [`ProbeReading::NoAnswer`].
    NotAsWritten {
        /// The register's address.
        register: u8,
        /// What was written.
        wrote: u8,
        /// What it holds.
        read: u8,
    },
    /// The chip has just been told its settings and has not measured yet. There is nothing to tell the dash.
    NotMeasuredYet,
}

/// One chip, by itself on its select line.
#[derive(Debug)]
pub struct Max31856<SPI> {
    device: SPI,
    mains: Mains,
}

impl<SPI: SpiDevice> Max31856<SPI> {
    /// The chip behind a select line, in SPI mode 1.
    pub const fn new(device: SPI, mains: Mains) -> Self {
        Self { device, mains }
    }

    /// Reads the chip. All bits alike mean that no chip drives the wire: [`ProbeReading::NoAnswer`].
    ///
    /// # Errors
    /// [`Max31856Error`] says which, and what the dash is to be told.
    pub fn read(&mut self) -> Result<ProbeReading, Max31856Error<SPI::Error>> {
        let registers = self.registers()?;
        if self.first_difference(&registers).is_none() {
            return reading(&registers);
        }
        self.configure()?;
        let registers = self.registers()?;
        if registers == [0; REGISTERS] || registers == [u8::MAX; REGISTERS] {
            return Ok(ProbeReading::NoAnswer);
        }
        Err(self.first_difference(&registers).unwrap_or(Max31856Error::NotMeasuredYet))
    }

    /// Gives the bus back.
    #[must_use]
    pub fn release(self) -> SPI {
        self.device
    }

    /// Registers 0x00 to 0x09 as they shall be.
    ///
    /// Every threshold is as wide as it can be, so that no fault bit but the sensor's own is ever set: the
    /// limits are the dash's business. Names and addresses as in the maker's header and the Linux kernel's
    /// max31856 driver.
    const fn settings(&self) -> [u8; SETTINGS] {
        let filter = match self.mains {
            Mains::Hz60 => 0,
            Mains::Hz50 => 1,
        };
        [
            CONTINUOUS | OPEN_CIRCUIT_TEST | filter, // CR0
            0x03,                                    // CR1: no averaging, type K
            0xFF,                                    // MASK: the fault pin is not used
            0x7F,
            0x80, // CJHF, CJLF: +127 and -128 degrees
            0x7F,
            0xFF, // LTHFT: the highest code
            0x80,
            0x00, // LTLFT: the lowest code
            0x00, // CJTO: no offset
        ]
    }

    /// Writes all settings. The filter may only change while the chip does not convert (data sheet, from
    /// memory), so conversion is stopped first and begun last.
    fn configure(&mut self) -> Result<(), Max31856Error<SPI::Error>> {
        let settings = self.settings();
        let mut message = [0; 1 + SETTINGS];
        for (to, from) in message.iter_mut().zip([WRITE].iter().chain(&settings)) {
            *to = *from;
        }
        let [cr0, ..] = settings;
        self.write(&[WRITE, 0])?;
        self.write(&[WRITE, cr0 & !CONTINUOUS])?;
        self.write(&message)
    }

    fn write(&mut self, message: &[u8]) -> Result<(), Max31856Error<SPI::Error>> {
        self.device.write(message).map_err(Max31856Error::Bus)
    }

    fn registers(&mut self) -> Result<[u8; REGISTERS], Max31856Error<SPI::Error>> {
        let mut registers = [0; REGISTERS];
        let from_the_first = [0x00];
        let mut operations = [Operation::Write(&from_the_first), Operation::Read(&mut registers)];
        self.device.transaction(&mut operations).map_err(Max31856Error::Bus)?;
        Ok(registers)
    }

    fn first_difference(&self, registers: &[u8; REGISTERS]) -> Option<Max31856Error<SPI::Error>> {
        let mut pairs = (0..).zip(self.settings()).zip(registers);
        pairs
            .find(|((_, wrote), read)| wrote != *read)
            .map(|((register, wrote), read)| Max31856Error::NotAsWritten { register, wrote, read: *read })
    }
}

/// CJTH, CJTL, LTCBH, LTCBM, LTCBL, SR: registers 0x0A to 0x0F. All zeros before the first conversion is
/// done.
fn reading<E>(registers: &[u8; REGISTERS]) -> Result<ProbeReading, Max31856Error<E>> {
    let [.., cold_high, cold_low, high, middle, low, faults] = *registers;
    let hot = u32::from_be_bytes([0, high, middle, low]);
    let cold = u16::from_be_bytes([cold_high, cold_low]);
    if hot == 0 && cold == 0 && faults == 0 {
        return Err(Max31856Error::NotMeasuredYet);
    }
    Ok(ProbeReading::Max31856 { hot, cold, faults })
}

#[cfg(test)]
mod tests {
    use std::vec;
    use std::vec::Vec;

    use embedded_hal::spi::{ErrorKind, ErrorType};
    use embedded_hal_mock::eh1::spi::{Mock, Transaction};

    use super::*;
    use crate::engine::thermocouple::{ProbeFault, Temperatures, decode};
    use crate::units::MilliCelsius;

    /// Settings for 60 Hz, register by register: CR0 continuous with open-circuit test, CR1 type K, MASK,
    /// CJHF, CJLF, LTHFT, LTLFT, CJTO. Bits as in the Linux kernel's max31856 driver and a published Ruby
    /// class.
    const SETTINGS_60: [u8; 10] = [0x90, 0x03, 0xFF, 0x7F, 0x80, 0x7F, 0xFF, 0x80, 0x00, 0x00];
    /// What a chip holds after power-on (the maker's header; LTLFTL from memory).
    const DEFAULTS: [u8; 10] = [0x00, 0x03, 0xFF, 0x7F, 0xC0, 0x7F, 0xFF, 0x80, 0x00, 0x00];

    fn selected(inner: Vec<Transaction<u8>>) -> Vec<Transaction<u8>> {
        let start = [Transaction::transaction_start()];
        start.into_iter().chain(inner).chain([Transaction::transaction_end()]).collect()
    }

    fn fetch(settings: [u8; 10], values: [u8; 6]) -> Vec<Transaction<u8>> {
        let registers = settings.into_iter().chain(values).collect();
        selected(vec![Transaction::write_vec(vec![0x00]), Transaction::read_vec(registers)])
    }

    fn told(settings: [u8; 10]) -> Vec<Transaction<u8>> {
        let all = [0x80].into_iter().chain(settings).collect();
        let writes = [vec![0x80, 0x00], vec![0x80, settings[0] & 0x7F], all];
        writes.into_iter().flat_map(|bytes| selected(vec![Transaction::write_vec(bytes)])).collect()
    }

    fn read(mains: Mains, bus: &[Vec<Transaction<u8>>]) -> Result<ProbeReading, Max31856Error<ErrorKind>> {
        let mut chip = Max31856::new(Mock::new(&bus.concat()), mains);
        let reading = chip.read();
        chip.release().done();
        reading
    }

    #[test]
    fn registers_go_to_the_dash_as_the_decoder_expects_them() {
        // 850 degrees is 0x352000 in 24 bits, 25 degrees 0x1900 in 16 (steps of 1/128 and 1/64 degree in the
        // upper 19 and 14 bits, as in the Linux kernel's max31856 driver).
        let reading = read(Mains::Hz60, &[fetch(SETTINGS_60, [0x19, 0x00, 0x35, 0x20, 0x00, 0x00])]);
        assert_eq!(reading, Ok(ProbeReading::Max31856 { hot: 0x35_2000, cold: 0x1900, faults: 0 }));
        let expected =
            Temperatures { hot: MilliCelsius::from_milli(850_000), cold: MilliCelsius::from_milli(25_000) };
        assert_eq!(decode(reading.unwrap()), Ok(expected));
    }

    #[test]
    fn a_broken_thermocouple_is_handed_on_as_the_chip_says_it() {
        let reading = read(Mains::Hz60, &[fetch(SETTINGS_60, [0x19, 0x00, 0x7F, 0xFF, 0xFF, 0x01])]);
        assert_eq!(decode(reading.unwrap()), Err(ProbeFault::Open));
    }

    #[test]
    fn a_chip_fresh_from_power_on_is_told_its_settings_and_not_believed_yet() {
        let bus = [fetch(DEFAULTS, [0; 6]), told(SETTINGS_60), fetch(SETTINGS_60, [0; 6])];
        assert_eq!(read(Mains::Hz60, &bus), Err(Max31856Error::NotMeasuredYet));
        assert_eq!(read(Mains::Hz60, &[fetch(SETTINGS_60, [0; 6])]), Err(Max31856Error::NotMeasuredYet));
    }

    #[test]
    fn the_filter_is_set_while_the_chip_does_not_convert() {
        let settings = [0x91, 0x03, 0xFF, 0x7F, 0x80, 0x7F, 0xFF, 0x80, 0x00, 0x00];
        // `told` expects: stop; filter and open-circuit test while stopped; then everything, converting.
        let bus = [fetch(DEFAULTS, [0; 6]), told(settings), fetch(settings, [0; 6])];
        assert_eq!(read(Mains::Hz50, &bus), Err(Max31856Error::NotMeasuredYet));
    }

    #[test]
    fn an_old_value_of_a_chip_that_forgot_its_settings_is_not_taken() {
        let old = [0x19, 0x00, 0x35, 0x20, 0x00, 0x00];
        let bus = [fetch(DEFAULTS, old), told(SETTINGS_60), fetch(SETTINGS_60, old)];
        assert_eq!(read(Mains::Hz60, &bus), Err(Max31856Error::NotMeasuredYet));
    }

    #[test]
    fn a_setting_that_does_not_stick_is_named() {
        let mut stuck = SETTINGS_60;
        stuck[1] = 0x07;
        let bus = [fetch(stuck, [0x19, 0, 0x35, 0x20, 0, 0]), told(SETTINGS_60), fetch(stuck, [0; 6])];
        let expected = Max31856Error::NotAsWritten { register: 1, wrote: 0x03, read: 0x07 };
        assert_eq!(read(Mains::Hz60, &bus), Err(expected));
    }

    #[test]
    fn a_wire_that_nobody_drives_is_no_answer() {
        for stuck in [0x00, 0xFF] {
            let nothing = || fetch([stuck; 10], [stuck; 6]);
            assert_eq!(
                read(Mains::Hz60, &[nothing(), told(SETTINGS_60), nothing()]),
                Ok(ProbeReading::NoAnswer)
            );
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
        let failed = Max31856Error::Bus(ErrorKind::ModeFault);
        assert_eq!(Max31856::new(Broken, Mains::Hz60).read(), Err(failed));
    }
}
