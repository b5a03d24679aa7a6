//! Thermocouples against published tables: the reference function of type K, and both chips' registers.
//!
//! The firmware works in integers; the floats here are the second opinion. Figures reached: the force is
//! within 0.008 degrees of the ITS-90 polynomial from -50 to 1,372 degrees, within 0.037 down to -200 and
//! within 0.49 down to -270.

// The readers of the tables below stand outside the test functions.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use firmware::engine::thermocouple::{ProbeFault, Temperatures, decode};
use firmware::engine::type_k::{HIGHEST, LOWEST, emf, temperature};
use firmware::input::ProbeReading;
use firmware::units::{MilliCelsius, Nanovolts};
use proptest::prelude::*;

/// ITS-90 type K, -270 to 0 degrees, mV (NIST Standard Reference Database 60, Monograph 175).
const BELOW_ZERO: [f64; 11] = [
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

/// ITS-90 type K, 0 to 1,372 degrees, mV, without the exponential term (same source).
const ABOVE_ZERO: [f64; 10] = [
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

/// The published polynomial, in millivolts.
fn polynomial(degrees: f64) -> f64 {
    let sum = |terms: &[f64]| terms.iter().rev().fold(0.0, |sum, term| sum * degrees + term);
    if degrees < 0.0 {
        return sum(&BELOW_ZERO);
    }
    sum(&ABOVE_ZERO) + 0.118_597_6 * (-1.183_432e-4 * (degrees - 126.968_6).powi(2)).exp()
}

/// The temperature at which the polynomial gives `mv`, by halving.
fn solved(mv: f64) -> f64 {
    let (mut low, mut high) = (-270.0, 1_372.0);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if polynomial(middle) < mv { low = middle } else { high = middle }
    }
    low
}

fn celsius(degrees: f64) -> MilliCelsius {
    MilliCelsius::from_milli((degrees * 1_000.0).round() as i32)
}

fn degrees(temperature: MilliCelsius) -> f64 {
    f64::from(temperature.as_milli()) / 1_000.0
}

/// The firmware's force at `hot`, in millivolts.
fn force(hot: f64) -> f64 {
    emf(celsius(hot)).unwrap().as_nv() as f64 / 1e6
}

/// The firmware's temperature at `mv`.
fn inverse(mv: f64) -> f64 {
    degrees(temperature(Nanovolts::from_nv((mv * 1e6).round() as i64)).unwrap())
}

#[track_caller]
fn close(got: f64, wanted: f64, tolerance: f64) {
    assert!((got - wanted).abs() <= tolerance, "{got} is not {wanted} within {tolerance}");
}

/// Every degree from -50 to 1,300: degrees, mV, uV per degree, and what the published inverse polynomial makes
/// of the mV (NIST Standard Reference Database 60, computed with the libraries named in the file).
fn table() -> Vec<[f64; 4]> {
    let numbers =
        |line: &str| -> Vec<f64> { line.split(',').filter_map(|field| field.parse().ok()).collect() };
    let rows = include_str!("type_k.csv").lines().filter(|line| !line.starts_with(['#', 'T'])).map(numbers);
    rows.map(|row| [row[0], row[1], row[3], row[4]]).collect()
}

#[test]
fn every_degree_of_the_published_table_has_its_force() {
    assert_eq!(table().len(), 1_351);
    for [hot, mv, uv_per_degree, _] in table() {
        close(force(hot), mv, 0.008 * uv_per_degree / 1e3);
    }
}

#[test]
fn every_force_of_the_published_table_has_its_degree() {
    for [hot, mv, ..] in table() {
        close(inverse(mv), hot, 0.008);
    }
}

#[test]
fn the_published_inverse_agrees_within_its_own_published_error() {
    // NIST Standard Reference Database 60: -0.02 to +0.04 below 0 degrees, -0.05 to +0.06 above.
    for [hot, mv, _, published] in table() {
        let error = published - inverse(mv);
        let allowed = if hot < 0.0 { -0.02..=0.04 } else { -0.05..=0.06 };
        assert!(allowed.contains(&error), "{error} at {hot}");
    }
}

#[test]
fn every_entry_of_the_firmwares_table_is_the_polynomial_to_the_nanovolt() {
    for hot in (-270..=1_370).step_by(5).chain([1_372]).map(f64::from) {
        close(force(hot), polynomial(hot), 0.51e-6);
    }
}

#[test]
fn between_entries_the_straight_lines_keep_to_the_stated_error() {
    let mut worst = [0.0_f64; 3];
    for tenth in -2_700..=13_720 {
        let hot = f64::from(tenth) / 10.0;
        let zone = if hot < -200.0 { 0 } else { usize::from(hot >= -50.0) + 1 };
        worst[zone] = worst[zone].max((solved(force(hot)) - hot).abs());
    }
    let [deep, cold, usual] = worst;
    assert!(deep < 0.49 && cold < 0.037 && usual < 0.008, "{worst:?}");
}

#[test]
fn the_check_points_of_the_reference_function_are_met() {
    // NIST coefficients as held by three public libraries, which agree to 6e-13 mV.
    let points = [
        (-50.0, -1.889383),
        (-20.0, -0.777540),
        (0.0, 0.0),
        (25.0, 1.000242),
        (100.0, 4.096230),
        (127.0, 5.206093),
        (200.0, 8.138473),
        (300.0, 12.208566),
        (400.0, 16.397142),
        (500.0, 20.644286),
        (600.0, 24.905467),
        (750.0, 31.213454),
        (800.0, 33.275380),
        (815.0, 33.889285),
        (830.0, 34.500981),
        (850.0, 35.313106),
        (900.0, 37.325915),
        (1_000.0, 41.275606),
        (1_200.0, 48.838238),
        (1_300.0, 52.410275),
        (1_372.0, 54.886364),
    ];
    for (hot, mv) in points {
        close(force(hot), mv, 0.000_15);
        close(inverse(mv), hot, 0.005);
    }
    // Range limits: -270 and -200 degrees.
    close(force(-270.0), -6.457738, 1e-6);
    close(force(-200.0), -5.891404, 1e-6);
}

#[test]
fn the_cold_junction_is_added_as_a_force_and_not_as_a_temperature() {
    // Hot, cold, V = E(hot) - E(cold), and the answer of the wrong method Einv(V) + cold.
    let cases = [
        (100.0, 25.0, 3.0960, 100.89),
        (400.0, 25.0, 15.3969, 401.28),
        (600.0, 20.0, 24.1073, 601.24),
        (750.0, 35.0, 29.8063, 751.19),
        (800.0, 40.0, 31.6636, 800.87),
        (815.0, 50.0, 31.8662, 815.77),
        (850.0, 60.0, 32.8766, 850.29),
        (1_000.0, 25.0, 40.2754, 999.43),
        (-20.0, 15.0, -1.3745, -20.86),
    ];
    for (hot, cold, measured, wrong) in cases {
        close(inverse(measured + force(cold)), hot, 0.01);
        close(inverse(measured) + cold, wrong, 0.015);
    }
}

fn max31855(frame: u32) -> Result<Temperatures, ProbeFault> {
    decode(ProbeReading::Max31855(frame))
}

/// A healthy MAX31855 frame from its two codes.
fn frame(hot: u32, cold: u32) -> u32 {
    hot << 18 | cold << 4
}

/// What a MAX31855's straight line of 41.276 uV a degree (from memory) hides, by the polynomial.
fn unlined(hot: f64, cold: f64) -> f64 {
    solved((hot - cold) * 41.276e-3 + polynomial(cold))
}

#[test]
fn the_hot_junction_table_of_the_max31855_is_read_and_its_line_undone() {
    // MAX31855 datasheet, page 10: temperature and bits 31 to 18.
    let table = [
        (1_000.00, 0b00_1111_1010_0000),
        (100.75, 0b00_0001_1001_0011),
        (25.00, 0b00_0000_0110_0100),
        (0.00, 0),
        (-0.25, 0b11_1111_1111_1111),
        (-1.00, 0b11_1111_1111_1100),
    ];
    for (hot, code) in table {
        let read = max31855(frame(code, 0x190)).unwrap();
        close(degrees(read.hot), unlined(hot, 25.0), 0.009);
        assert_eq!(read.cold, celsius(25.0));
    }
    // The table's ends are no temperatures of a type K junction: 66 mV and -10 mV.
    assert_eq!(max31855(frame(0b01_1001_0000_0000, 0x190)), Err(ProbeFault::OutOfRange));
    assert_eq!(max31855(frame(0b11_1100_0001_1000, 0xC90)), Err(ProbeFault::OutOfRange));
}

#[test]
fn the_cold_junction_table_of_the_max31855_is_read() {
    // MAX31855 datasheet, page 10: temperature and bits 15 to 4. Thousandths round half away from zero.
    let table = [
        (127_000, 0b0111_1111_0000),
        (100_563, 0b0110_0100_1001),
        (25_000, 0b0001_1001_0000),
        (0, 0b0000_0000_0000),
        (-63, 0b1111_1111_1111),
        (-1_000, 0b1111_1111_0000),
        (-20_000, 0b1110_1100_0000),
        (-55_000, 0b1100_1001_0000),
    ];
    for (milli, code) in table {
        let read = max31855(frame(400, code)).unwrap();
        assert_eq!(read.cold, MilliCelsius::from_milli(milli));
        close(degrees(read.hot), unlined(100.0, degrees(read.cold)), 0.009);
    }
    // Beyond both ends of the table, and of what the chip is made for.
    assert_eq!(max31855(frame(400, 0b0111_1111_0001)), Err(ProbeFault::ColdJunction));
    assert_eq!(max31855(frame(400, 0b1100_1000_1111)), Err(ProbeFault::ColdJunction));
}

#[test]
fn whole_frames_of_the_max31855_mean_what_their_layout_says() {
    let frames = [
        (0x3E80_1900, 1_000.0, 25.0),
        (0x064C_1900, 100.75, 25.0),
        (0x0190_1900, 25.0, 25.0),
        (0xFFFC_FFF0, -0.25, -0.0625),
        (0xFFF0_FF00, -1.0, -1.0),
        (0x32F4_3080, 815.25, 48.5),
    ];
    for (frame, hot, cold) in frames {
        let read = max31855(frame).unwrap();
        close(degrees(read.cold), cold, 0.000_51);
        close(degrees(read.hot), unlined(hot, cold), 0.009);
    }
    assert_eq!(max31855(0x6400_1900), Err(ProbeFault::OutOfRange));
    assert_eq!(max31855(0xF060_C900), Err(ProbeFault::OutOfRange));
}

#[test]
fn a_warm_board_no_longer_reads_seven_degrees_high() {
    // Frames that a MAX31855 sends at these board temperatures, and the truth by ITS-90.
    let vectors = [
        (0x3270_2800, 40.0, 799.88),
        (0x2F50_2300, 35.0, 749.88),
        (0x3360_3200, 50.0, 814.97),
        (0x3588_3C00, 60.0, 849.99),
        (0x0640_1900, 25.0, 99.99),
    ];
    for (frame, cold, truth) in vectors {
        let read = max31855(frame).unwrap();
        close(degrees(read.cold), cold, 0.0);
        close(degrees(read.hot), truth, 0.012);
    }
}

#[test]
fn the_faults_of_the_max31855_are_told_apart() {
    // MAX31855 datasheet, page 10: bit 16 with bits 2 (supply), 1 (ground), 0 (open); bits 17 and 3 read 0.
    assert_eq!(max31855(0x0001_1901), Err(ProbeFault::Open));
    assert_eq!(max31855(0x0001_1902), Err(ProbeFault::ShortToGround));
    assert_eq!(max31855(0x0001_1904), Err(ProbeFault::ShortToSupply));
    assert_eq!(max31855(0x0000_1901), Err(ProbeFault::Garbled), "a cause without its flag");
    assert_eq!(max31855(0x0001_1900), Err(ProbeFault::Garbled), "a flag without its cause");
    assert_eq!(max31855(0x3E82_1900), Err(ProbeFault::Garbled), "bit 17");
    assert_eq!(max31855(0x3E80_1908), Err(ProbeFault::Garbled), "bit 3");
    // All bits alike is a bus fault (common practice, no source).
    assert_eq!(max31855(0x0000_0000), Err(ProbeFault::Bus));
    assert_eq!(max31855(0xFFFF_FFFF), Err(ProbeFault::Bus));
    assert_eq!(decode(ProbeReading::NoAnswer), Err(ProbeFault::NoAnswer));
}

#[test]
fn a_short_to_ground_may_look_healthy_to_the_decoder() {
    // Frame from a support thread on MAX31855 short circuits, T+ tied to ground: 21.00 and 23.5625 degrees, no
    // fault bit. The engine room must catch it, for no decoder can.
    let read = max31855(0x0150_1790).unwrap();
    close(degrees(read.cold), 23.5625, 0.000_51);
    close(degrees(read.hot), 21.0, 0.1);
}

fn max31856(hot: u32, cold: u16, faults: u8) -> Result<Temperatures, ProbeFault> {
    decode(ProbeReading::Max31856 { hot, cold, faults })
}

#[test]
fn the_hot_registers_of_the_max31856_are_read() {
    // 24 bits, low 5 dropped, 1/128 degree (Linux kernel driver max31856.c), in thousandths of a degree.
    let codes = [
        (0x3E_8000, 1_000_000),
        (0x06_4F00, 100_938),
        (0x01_9000, 25_000),
        (0x00_0100, 63),
        (0x00_0000, 0),
        (0xFF_FF00, -63),
        (0xFF_FC00, -250),
        (0xFF_F000, -1_000),
        (0xF0_6000, -250_000),
        (0x32_F400, 815_250),
        (0x35_2000, 850_000),
    ];
    for (code, milli) in codes {
        assert_eq!(max31856(code, 0x1900, 0).unwrap().hot, MilliCelsius::from_milli(milli));
        assert_eq!(
            max31856(code | 0x1F, 0x1900, 0).unwrap().hot,
            MilliCelsius::from_milli(milli),
            "low bits"
        );
    }
    assert_eq!(max31856(0x64_0000, 0x1900, 0), Err(ProbeFault::OutOfRange), "1,600 degrees is no type K");
    assert_eq!(max31856(0x80_0000, 0x1900, 0), Err(ProbeFault::OutOfRange), "nor is -2,048");
    assert_eq!(max31856(0x0100_0000, 0x1900, 0), Err(ProbeFault::Garbled), "more than 24 bits");
}

#[test]
fn the_cold_registers_of_the_max31856_are_read() {
    // 16 bits, low 2 dropped, 1/64 degree (Linux kernel driver max31856.c), in thousandths of a degree.
    let codes = [
        (0x7D00, 125_000),
        (0x4000, 64_000),
        (0x1900, 25_000),
        (0x0080, 500),
        (0x0004, 16),
        (0xFFFC, -16),
        (0xFF00, -1_000),
        (0xEC00, -20_000),
        (0xC900, -55_000),
    ];
    for (code, milli) in codes {
        assert_eq!(max31856(0x32_F400, code, 0).unwrap().cold, MilliCelsius::from_milli(milli));
        assert_eq!(
            max31856(0x32_F400, code | 3, 0).unwrap().cold,
            MilliCelsius::from_milli(milli),
            "low bits"
        );
    }
    // The chip reports 125 to -55 degrees (its maker's example code); 127.984375 is beyond.
    assert_eq!(max31856(0x32_F400, 0x7FFC, 0), Err(ProbeFault::ColdJunction));
    assert_eq!(max31856(0x32_F400, 0xC8FC, 0), Err(ProbeFault::ColdJunction));
}

#[test]
fn the_faults_of_the_max31856_are_told_apart() {
    // Fault status: bit 0 open, bit 1 over- or under-voltage (Linux kernel driver max31856.c); bit 7 cold
    // junction range, 6 thermocouple range, 5 and 4 cold junction, 3 and 2 thermocouple thresholds (from memory).
    let fault = |bits| max31856(0x32_F400, 0x1900, bits).unwrap_err();
    assert_eq!(fault(0x01), ProbeFault::Open);
    assert_eq!(fault(0x02), ProbeFault::Voltage);
    assert_eq!([0x80, 0x20, 0x10].map(fault), [ProbeFault::ColdJunction; 3]);
    assert_eq!([0x40, 0x08, 0x04].map(fault), [ProbeFault::OutOfRange; 3]);
    assert_eq!(max31856(0, 0, 0), Err(ProbeFault::Bus));
    assert_eq!(max31856(0xFF_FFFF, 0xFFFF, 0xFF), Err(ProbeFault::Bus));
}

proptest! {
    #[test]
    fn any_frame_of_a_max31855_is_a_type_k_temperature_or_a_fault(frame: u32) {
        if let Ok(read) = max31855(frame) {
            prop_assert!((LOWEST..=HIGHEST).contains(&read.hot));
            prop_assert_eq!(frame & 0x0003_000F, 0, "no fault bit or reserved bit is set");
        }
    }

    #[test]
    fn any_registers_of_a_max31856_are_a_type_k_temperature_or_a_fault(
        hot in prop_oneof![9 => 0_u32..0x100_0000, 1 => any::<u32>()],
        cold: u16,
        faults in prop_oneof![3 => Just(0_u8), 1 => any::<u8>()],
    ) {
        if let Ok(read) = max31856(hot, cold, faults) {
            prop_assert!((LOWEST..=HIGHEST).contains(&read.hot));
            prop_assert_eq!(faults, 0);
        }
    }

    #[test]
    fn a_temperature_survives_the_way_to_a_force_and_back(milli in -269_000_i32..=1_372_000) {
        let hot = MilliCelsius::from_milli(milli);
        prop_assert_eq!(emf(hot).and_then(temperature), Some(hot));
    }

    #[test]
    fn more_force_is_never_colder(one in -6_457_738_i64..=54_886_364, other in -6_457_738_i64..=54_886_364) {
        let (less, more) = (one.min(other), one.max(other));
        prop_assert!(temperature(Nanovolts::from_nv(less)) <= temperature(Nanovolts::from_nv(more)));
    }

    #[test]
    fn a_max31855_is_linearised_within_two_hundredths_of_a_degree(hot in -160_i32..5_400, cold in -640_i32..1_360) {
        let frame = ((hot as u32) << 18) | ((cold as u32 & 0xFFF) << 4);
        prop_assume!(frame != 0);
        let truth = unlined(f64::from(hot) / 4.0, f64::from(cold) / 16.0);
        prop_assume!(truth > -50.0 && truth < 1_371.0);
        let read = max31855(frame).unwrap();
        prop_assert!((degrees(read.hot) - truth).abs() < 0.02, "{} is not {truth}", degrees(read.hot));
    }
}
