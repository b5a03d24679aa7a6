//! The thermocouple and its chip: true temperatures to the 32 bits that a MAX31855 answers.
//!
//! The thermocouple is type K and follows the ITS-90 reference function; the chip takes it for a straight
//! line, as the real one does, so near 800 degrees its answer is about 7 degrees too high. Turning that back
//! is the dash's business, not the world's.
//!
//! This room knows the truth, chance and faults.

use firmware::input::ProbeReading;
use firmware::units::Span;
use serde::Deserialize;

use super::draw::{Draw, Purpose};
use super::faults::{FaultKind, Faults};
use super::maths::{exp, polynomial, round, seconds};
use super::truth::Truth;

/// The probe's figures.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ProbeSettings {
    /// From one reading of the chip to the next.
    pub interval_ms: u32,
    /// Noise on the junction's temperature: one standard deviation.
    pub noise_sd_c: f64,
    /// Temperature of the board that carries the chip.
    pub board_c: f64,
}

impl Default for ProbeSettings {
    fn default() -> Self {
        Self { interval_ms: 100, noise_sd_c: 0.5, board_c: 35.0 }
    }
}

/// A thermocouple on its chip, read on a schedule.
#[derive(Clone, Debug)]
pub struct Probe {
    chip: ThermocoupleChip,
    noise_sd_c: f64,
    draw: Draw,
    due: Span,
    interval: Span,
}

impl Probe {
    /// The probe of a heat, first read at `begins`.
    #[must_use]
    pub fn new(settings: &ProbeSettings, begins: Span, seed: u64) -> Self {
        Self {
            chip: ThermocoupleChip::on_board_at(settings.board_c),
            noise_sd_c: settings.noise_sd_c,
            draw: Draw::new(seed, Purpose::Probe),
            due: begins,
            interval: Span::from_millis(i64::from(settings.interval_ms.max(1))),
        }
    }

    /// When it is read next.
    #[must_use]
    pub const fn due(&self) -> Span {
        self.due
    }

    /// What the chip answers at that moment.
    pub fn read(&mut self, truth: &Truth, faults: &Faults) -> ProbeReading {
        let at = self.due;
        self.due = at + self.interval;
        let junction_c = truth.engine(seconds(at)).egt_c + self.draw.normal(0.0, self.noise_sd_c);
        if faults.active(FaultKind::ThermocoupleSilent, at) {
            ProbeReading::NoAnswer
        } else if faults.active(FaultKind::ThermocoupleOpen, at) {
            ProbeReading::Max31855(self.chip.open_circuit())
        } else {
            ProbeReading::Max31855(self.chip.frame(junction_c))
        }
    }
}

/// A MAX31855 for type K on a board of a certain temperature.
#[derive(Clone, Copy, Debug)]
pub struct ThermocoupleChip {
    board_c: f64,
    board_mv: f64,
}

/// The straight line by which the chip turns millivolts into degrees, for type K (from memory).
const CHIP_MV_PER_C: f64 = 0.041_276;

impl ThermocoupleChip {
    /// A chip whose cold junction has the board's temperature.
    #[must_use]
    pub fn on_board_at(board_c: f64) -> Self {
        Self { board_c, board_mv: type_k_mv(board_c) }
    }

    /// The frame for a junction's true temperature. Layout: MAX31855 datasheet, page 10.
    #[must_use]
    pub fn frame(&self, junction_c: f64) -> u32 {
        let linear = (type_k_mv(junction_c) - self.board_mv) / CHIP_MV_PER_C + self.board_c;
        let hot = round(linear * 4.0).clamp(-8_192, 8_191) as u32;
        (hot & 0x3FFF) << 18 | self.cold() << 4
    }

    /// The frame while the thermocouple is broken: no temperature, the fault bit, and bit 0 for why.
    #[must_use]
    pub fn open_circuit(&self) -> u32 {
        self.cold() << 4 | 1 << 16 | 1
    }

    fn cold(&self) -> u32 {
        round(self.board_c * 16.0).clamp(-2_048, 2_047) as u32 & 0x0FFF
    }
}

/// Electromotive force of a type K thermocouple, in millivolts, with its reference junction at 0 degrees.
///
/// ITS-90 reference function of NIST Monograph 175 (Standard Reference Database 60), -270 to 1372 degrees
/// Celsius.
#[must_use]
pub fn type_k_mv(c: f64) -> f64 {
    if c < 0.0 {
        return polynomial(&TYPE_K_BELOW, c);
    }
    let hump = c - 126.968_6;
    polynomial(&TYPE_K_ABOVE, c) + 0.118_597_6 * exp(-1.183_432e-4 * hump * hump)
}

const TYPE_K_BELOW: [f64; 11] = [
    0.0,
    3.945_012_802_5e-2,
    2.362_237_359_8e-5,
    -3.285_890_678_4e-7,
    -4.990_482_877_7e-9,
    -6.750_905_917_3e-11,
    -5.741_032_742_8e-13,
    -3.108_887_289_4e-15,
    -1.045_160_936_5e-17,
    -1.988_926_687_8e-20,
    -1.632_269_748_6e-23,
];

const TYPE_K_ABOVE: [f64; 10] = [
    -1.760_041_368_6e-2,
    3.892_120_497_5e-2,
    1.855_877_003_2e-5,
    -9.945_759_287_4e-8,
    3.184_094_571_9e-10,
    -5.607_284_488_9e-13,
    5.607_505_905_9e-16,
    -3.202_072_000_3e-19,
    9.715_114_715_2e-23,
    -1.210_472_127_5e-26,
];

#[cfg(test)]
mod tests {
    use super::*;

    /// Millivolts from the Python package thermocouple-its90 1.0.2, which carries the NIST coefficients.
    #[test]
    fn type_k_is_the_its_90_reference_function() {
        for (c, mv) in [
            (-50.0, -1.889_383),
            (-20.0, -0.777_540),
            (0.0, 0.0),
            (25.0, 1.000_242),
            (127.0, 5.206_093),
            (500.0, 20.644_286),
            (750.0, 31.213_454),
            (815.0, 33.889_285),
            (1_000.0, 41.275_606),
            (1_372.0, 54.886_364),
        ] {
            assert!((type_k_mv(c) - mv).abs() < 1e-6, "{c}: {}", type_k_mv(c));
        }
    }

    /// Worked from the reference function, the chip's straight line and the datasheet's frame layout: board
    /// temperature, true temperature, frame.
    #[test]
    fn frames_are_those_of_a_chip_that_takes_type_k_for_a_straight_line() {
        for (board, junction, frame) in [
            (40.0, 799.88, 0x3270_2800),
            (35.0, 749.88, 0x2F50_2300),
            (50.0, 814.97, 0x3360_3200),
            (60.0, 849.99, 0x3588_3C00),
            (25.0, 99.99, 0x0640_1900),
        ] {
            assert_eq!(ThermocoupleChip::on_board_at(board).frame(junction), frame, "{junction}");
        }
    }

    /// Fault frame by the layout of the MAX31855 datasheet, page 10: 25 degrees inside, circuit open.
    #[test]
    fn an_open_circuit_sets_its_bits_and_gives_no_temperature() {
        assert_eq!(ThermocoupleChip::on_board_at(25.0).open_circuit(), 0x0001_1901);
    }

    /// Codes of the MAX31855 datasheet, page 10: -1 degree inside is 1111 1111 0000.
    #[test]
    fn a_board_below_freezing_reads_negative() {
        assert_eq!(ThermocoupleChip::on_board_at(-1.0).frame(-1.0), 0xFFF0_FF00);
    }
}
