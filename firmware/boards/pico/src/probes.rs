//! The thermocouple chips on their common bus, of either kind, one to each select line.
//!
//! A line is first read as a MAX31855. What makes no frame of one is asked as a MAX31856, which is known by its
//! settings reading back as they were written. A line where nobody answers is asked anew each time, so a chip that is
//! plugged in later is found.
//!
//! Knows the bus, the two drivers and their SPI modes. Readings out.

use embedded_hal::digital::OutputPin;
use embedded_hal::spi::{MODE_0, MODE_1};
use embedded_hal_bus::spi::ExclusiveDevice;
use firmware::input::ProbeReading;
use firmware::io::max31855::Max31855;
use firmware::io::max31856::{Mains, Max31856, Max31856Error};
use firmware::screen::PROBES_SHOWN;
use rp2040_hal::Timer;
use rp2040_hal::gpio::{FunctionSioOutput, FunctionSpi, Pin, PullNone, bank0};
use rp2040_hal::pac;
use rp2040_hal::spi::{Enabled, Spi};

type Wire<Gpio> = Pin<Gpio, FunctionSpi, PullNone>;
type Select<Gpio> = Pin<Gpio, FunctionSioOutput, PullNone>;

/// The chips' bus: out, in and clock.
pub type Bus = Spi<Enabled, pac::SPI1, (Wire<bank0::Gpio11>, Wire<bank0::Gpio12>, Wire<bank0::Gpio10>)>;

/// So many chips can be wired. Settings may ask for more; those stay silent.
pub const PROBES: usize = PROBES_SHOWN;

/// Bits 17 and 3 of a MAX31855's frame are always zero (data sheet). A MAX31856 asked in this way answers with its
/// first registers, which after power-on have ones there.
const ALWAYS_ZERO: u32 = 0x0002_0008;

/// Which chip answers on a line.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Max31855,
    Max31856,
}

/// Bus and select lines.
pub struct Probes {
    bus: Bus,
    timer: Timer,
    first: (Select<bank0::Gpio9>, Option<Kind>),
    second: (Select<bank0::Gpio13>, Option<Kind>),
}

impl Probes {
    /// Two lines of which nothing is known.
    pub const fn new(
        bus: Bus,
        timer: Timer,
        first: Select<bank0::Gpio9>,
        second: Select<bank0::Gpio13>,
    ) -> Self {
        Self { bus, timer, first: (first, None), second: (second, None) }
    }

    /// Reads a chip, 0 or 1. `None` when there is nothing to tell: no such line, or a chip that has not measured yet.
    pub fn read(&mut self, index: u8) -> Option<ProbeReading> {
        let Self { bus, timer, first, second } = self;
        match index {
            0 => read(&mut Line { bus, timer: *timer, select: &mut first.0 }, &mut first.1),
            1 => read(&mut Line { bus, timer: *timer, select: &mut second.0 }, &mut second.1),
            _ => None,
        }
    }
}

/// The bus as one chip sees it.
struct Line<'a, Select> {
    bus: &'a mut Bus,
    timer: Timer,
    select: &'a mut Select,
}

fn read(line: &mut Line<'_, impl OutputPin>, kind: &mut Option<Kind>) -> Option<ProbeReading> {
    if *kind != Some(Kind::Max31856) {
        let reading = max31855(line);
        let is_one = matches!(reading, ProbeReading::Max31855(frame) if frame & ALWAYS_ZERO == 0);
        *kind = is_one.then_some(Kind::Max31855).or(*kind);
        if kind.is_some() {
            return Some(reading);
        }
    }
    let reading = max31856(line);
    *kind = reading.is_ok().then_some(Kind::Max31856);
    reading.unwrap_or(Some(ProbeReading::NoAnswer))
}

/// Nobody on the line keeps settings.
struct NoSuchChip;

fn max31856(line: &mut Line<'_, impl OutputPin>) -> Result<Option<ProbeReading>, NoSuchChip> {
    line.bus.set_format((&MODE_1).into());
    let device =
        ExclusiveDevice::new(&mut *line.bus, &mut *line.select, line.timer).map_err(|_| NoSuchChip)?;
    match Max31856::new(device, Mains::default()).read() {
        Ok(ProbeReading::NoAnswer) => Err(NoSuchChip),
        Ok(reading) => Ok(Some(reading)),
        Err(Max31856Error::NotMeasuredYet) => Ok(None),
        Err(_) => Err(NoSuchChip),
    }
}

fn max31855(line: &mut Line<'_, impl OutputPin>) -> ProbeReading {
    line.bus.set_format((&MODE_0).into());
    let device = ExclusiveDevice::new(&mut *line.bus, &mut *line.select, line.timer);
    let reading = device.ok().and_then(|device| Max31855::new(device).read().ok());
    reading.unwrap_or(ProbeReading::NoAnswer)
}
