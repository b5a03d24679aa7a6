//! What a thermocouple chip's registers mean: two temperatures, or the reason why there are none.
//!
//! A MAX31855 measures the voltage between hot and cold junction but treats type K as a straight line of
//! 41.276 uV a degree, which reads about 7 degrees high near 800 with a warm board. Its line is undone here
//! with its own cold-junction temperature, and the reference function put in its place. A MAX31856 does that
//! itself: its registers are only read.
//!
//! A frame is data from a wire: any bits may come, and each is a temperature or a fault, never a panic.
//! One fault cannot be seen here: a MAX31855 whose thermocouple is shorted to ground may report its own
//! temperature as if all were well. [`super::Engine`] disbelieves a cold probe while the engine runs.
//!
//! This file knows the units, the readings and the reference function.

use core::ops::RangeInclusive;

use super::type_k;
use crate::input::ProbeReading;
use crate::units::{MilliCelsius, Nanovolts, mul_div};

/// The cold-junction temperatures that the MAX31855's own table covers (datasheet, page 10).
const MAX31855_COLD: RangeInclusive<MilliCelsius> = degrees(-55, 127);
/// The cold-junction temperatures that a MAX31856 reports (its maker's example code).
const MAX31856_COLD: RangeInclusive<MilliCelsius> = degrees(-55, 125);

/// The straight line by which a MAX31855 turns type K voltage into degrees (MAX31855 datasheet; from memory).
const MAX31855_NV_PER_DEGREE: i64 = 41_276;

/// What a healthy probe says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Temperatures {
    /// The junction in the exhaust.
    pub hot: MilliCelsius,
    /// The chip itself, where the thermocouple's wires end.
    pub cold: MilliCelsius,
}

/// Why a reading is not a temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ProbeFault {
    /// The chip did not answer.
    NoAnswer,
    /// Every bit is equal: the bus is stuck or the chip has no supply (common practice, no source).
    Bus,
    /// Bits that no working chip sends together.
    Garbled,
    /// The thermocouple is broken or unplugged.
    Open,
    /// The thermocouple touches ground.
    ShortToGround,
    /// The thermocouple touches the supply.
    ShortToSupply,
    /// The thermocouple's wires are below ground or above the supply.
    Voltage,
    /// The chip is colder or hotter than it is made for, so its cold junction is not to be believed.
    ColdJunction,
    /// The temperature is outside the reference function of type K.
    OutOfRange,
    /// The engine runs and the probe does not feel it.
    ColdWhileRunning,
}

/// What a chip's answer means.
///
/// # Errors
/// The fault, when the answer is not a pair of temperatures that may be believed.
pub fn decode(reading: ProbeReading) -> Result<Temperatures, ProbeFault> {
    match reading {
        ProbeReading::Max31855(frame) => max31855(frame),
        ProbeReading::Max31856 { hot, cold, faults } => max31856(hot, cold, faults),
        ProbeReading::NoAnswer => Err(ProbeFault::NoAnswer),
    }
}

/// MAX31855 datasheet, page 10: hot junction in bits 31 to 18 (0.25 degrees), cold junction in bits 15 to 4
/// (0.0625 degrees), fault in bit 16 and its cause in bits 2 to 0, bits 17 and 3 always zero.
fn max31855(frame: u32) -> Result<Temperatures, ProbeFault> {
    if frame == 0 || frame == u32::MAX {
        return Err(ProbeFault::Bus);
    }
    let reserved = frame & 0x0002_0008 != 0;
    let flagged = frame & 0x0001_0000 != 0;
    let causes = frame & 0b111;
    if reserved || flagged != (causes != 0) {
        return Err(ProbeFault::Garbled);
    }
    match causes {
        0 => {}
        _ if causes & 0b001 != 0 => return Err(ProbeFault::Open),
        _ if causes & 0b010 != 0 => return Err(ProbeFault::ShortToGround),
        _ => return Err(ProbeFault::ShortToSupply),
    }
    let hot = scaled(signed(frame >> 18, 14), 250, 1);
    let cold = within(scaled(signed((frame >> 4) & 0xFFF, 12), 125, 2), &MAX31855_COLD)?;
    Ok(Temperatures { hot: linearised(hot, cold)?, cold })
}

/// Undoes the straight line of a MAX31855 and puts the reference function in its place:
/// V = (hot - cold) * 41.276 uV, true = Einv(V + E(cold)).
fn linearised(hot: MilliCelsius, cold: MilliCelsius) -> Result<MilliCelsius, ProbeFault> {
    let difference = i64::from((hot - cold).as_milli());
    let measured = Nanovolts::from_nv(mul_div(difference, MAX31855_NV_PER_DEGREE, 1_000));
    let reference = type_k::emf(cold).ok_or(ProbeFault::ColdJunction)?;
    type_k::temperature(measured + reference).ok_or(ProbeFault::OutOfRange)
}

/// MAX31856 registers: hot junction in the upper 19 of 24 bits (1/128 degree), cold junction in the upper 14 of
/// 16 (1/64 degree), as in the Linux kernel's max31856 driver.
fn max31856(hot: u32, cold: u16, faults: u8) -> Result<Temperatures, ProbeFault> {
    let zeros = hot == 0 && cold == 0 && faults == 0;
    let ones = hot == 0xFF_FFFF && cold == 0xFFFF && faults == 0xFF;
    if zeros || ones {
        return Err(ProbeFault::Bus);
    }
    if hot > 0xFF_FFFF {
        return Err(ProbeFault::Garbled);
    }
    fault_status(faults)?;
    let hot = scaled(signed(hot >> 5, 19), 125, 16);
    let cold = within(scaled(signed(u32::from(cold) >> 2, 14), 125, 8), &MAX31856_COLD)?;
    if hot < type_k::LOWEST || hot > type_k::HIGHEST {
        return Err(ProbeFault::OutOfRange);
    }
    Ok(Temperatures { hot, cold })
}

/// The MAX31856's fault status. Bits 1 and 0 as in the Linux kernel's max31856 driver; bits 7 to 2 (ranges and
/// thresholds, which stay at the chip's widest) from memory.
fn fault_status(bits: u8) -> Result<(), ProbeFault> {
    const OPEN: u8 = 0b0000_0001;
    const VOLTAGE: u8 = 0b0000_0010;
    const COLD_JUNCTION: u8 = 0b1011_0000;
    match bits {
        0 => Ok(()),
        _ if bits & OPEN != 0 => Err(ProbeFault::Open),
        _ if bits & VOLTAGE != 0 => Err(ProbeFault::Voltage),
        _ if bits & COLD_JUNCTION != 0 => Err(ProbeFault::ColdJunction),
        _ => Err(ProbeFault::OutOfRange),
    }
}

fn within(cold: MilliCelsius, range: &RangeInclusive<MilliCelsius>) -> Result<MilliCelsius, ProbeFault> {
    if range.contains(&cold) { Ok(cold) } else { Err(ProbeFault::ColdJunction) }
}

const fn degrees(from: i32, to: i32) -> RangeInclusive<MilliCelsius> {
    MilliCelsius::from_milli(from * 1_000)..=MilliCelsius::from_milli(to * 1_000)
}

/// The low `width` bits as a two's complement number.
const fn signed(bits: u32, width: u32) -> i32 {
    let unused = 32 - width;
    ((bits << unused) as i32) >> unused
}

/// A register's steps of `milli / over` thousandths of a degree.
fn scaled(steps: i32, milli: i64, over: i64) -> MilliCelsius {
    let milli = mul_div(i64::from(steps), milli, over);
    MilliCelsius::from_milli(i32::try_from(milli).unwrap_or(i32::MAX))
}
