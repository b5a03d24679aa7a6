//! Pictures of the self-test: all as it should be at the dock, and everything wrong.

use firmware::input::ProbeReading;
use firmware::screen::{Frame, draw_self_test};
use firmware::talk::{Check, Extent, PROTOCOL, Restart, SelfTest, SettingsFrom, Standing};
use proptest::prelude::*;

use crate::art::{Canvas, assert_picture};

/// A board at the dock: the engine is off, the second probe is not fitted.
fn well() -> Standing {
    Standing {
        protocol: PROTOCOL,
        firmware: [0, 1, 0],
        program: 0x1A2B_3C4D,
        clock_runs: false,
        settings: SettingsFrom::Chip,
        self_test: SelfTest {
            receiver: Check::Good,
            pulse: Check::Good,
            probes: [Check::Good, Check::NotFitted, Check::NotFitted, Check::NotFitted],
            n1: Check::Silent,
            n2: Check::Silent,
            // W25Q128: maker EF, kind 40, 2^24 bytes (from memory).
            chip: Some(0x00EF_4018),
            overflows: 0,
            restarted: Restart::Power,
        },
        journal: Extent::default(),
    }
}

/// Nothing connected, or wrongly; and the program was restarted.
fn wrong() -> Standing {
    Standing {
        settings: SettingsFrom::DefaultsForDamage,
        self_test: SelfTest {
            receiver: Check::Fault,
            pulse: Check::Silent,
            probes: [Check::Fault; 4],
            n1: Check::Fault,
            n2: Check::Fault,
            chip: None,
            overflows: 12,
            restarted: Restart::Watchdog,
        },
        ..well()
    }
}

fn frame(standing: &Standing, readings: [Option<ProbeReading>; 2]) -> Frame {
    let mut frame = Frame::new();
    draw_self_test(&mut frame, standing, readings).unwrap();
    frame
}

#[test]
fn a_board_at_the_dock_with_all_well() {
    // MAX31855 data sheet, page 10: 25.00 degrees, chip at 25.0000.
    let readings = [Some(ProbeReading::Max31855(0x0190_1900)), None];
    assert_picture("self-test-well", &Canvas::from(&frame(&well(), readings)));
}

#[test]
fn a_board_whose_settings_are_of_another_version_says_so() {
    let standing = Standing { settings: SettingsFrom::DefaultsForVersion, ..well() };
    assert_picture("self-test-old", &Canvas::from(&frame(&standing, [None, None])));
}

#[test]
fn a_board_with_everything_wrong() {
    // The same page: an open circuit is bits 16 and 0.
    let readings = [Some(ProbeReading::Max31855(0x0001_1901)), Some(ProbeReading::NoAnswer)];
    assert_picture("self-test-wrong", &Canvas::from(&frame(&wrong(), readings)));
}

fn any_reading() -> impl Strategy<Value = Option<ProbeReading>> {
    let frames = any::<u32>().prop_map(ProbeReading::Max31855);
    let registers =
        any::<(u32, u16, u8)>().prop_map(|(hot, cold, faults)| ProbeReading::Max31856 { hot, cold, faults });
    proptest::option::of(prop_oneof![frames, registers, Just(ProbeReading::NoAnswer)])
}

proptest! {
    #[test]
    fn a_self_test_stays_on_the_target_whatever_was_found(
        first in any_reading(),
        second in any_reading(),
        program: u32,
        overflows: u32,
        firmware: [u16; 3],
        is_wrong: bool,
    ) {
        let standing = if is_wrong { wrong() } else { well() };
        let standing = Standing {
            program,
            firmware,
            self_test: SelfTest { overflows, ..standing.self_test },
            ..standing
        };
        let mut canvas = Canvas::new(128, 64);
        draw_self_test(&mut canvas, &standing, [first, second]).unwrap();
        prop_assert_eq!(canvas.outside, 0);
    }
}
