//! The wiring: the one table of pins is right, and the drawing that people wire by is made from it.
//!
//! `docs/wiring.svg` is drawn by this test from `firmware/boards/pico/pins.toml`, from which the board's
//! program takes its pins. After a change that is meant, run it once with `GUNLINE_REDRAW=1` and look at the
//! drawing.

#[path = "wiring/details.rs"]
mod details;
#[path = "wiring/pen.rs"]
mod pen;
#[path = "wiring/pico.rs"]
mod pico;
#[path = "wiring/sheet.rs"]
mod sheet;
#[path = "wiring/symbols.rs"]
mod symbols;
#[path = "wiring/table.rs"]
mod table;

use std::collections::BTreeSet;
use std::path::Path;
use std::{env, fs};

use pico::{HEADER, SUPPLY, functions};
use table::{Kind, Pin, Pull, pins};

fn page(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs").join(name);
    fs::read_to_string(path).unwrap_or_default()
}

fn named(name: &str) -> Pin {
    pins().into_iter().find(|pin| pin.name == name).unwrap_or_else(|| panic!("no pin {name}"))
}

#[test]
fn the_drawing_is_the_one_that_the_table_of_pins_makes() {
    let drawn = sheet::draw(&pins());
    if env::var_os("GUNLINE_REDRAW").is_some() {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/wiring.svg");
        fs::write(path, &drawn).unwrap();
    }
    assert!(page("wiring.svg") == drawn, "docs/wiring.svg is another drawing: redraw it and look at it");
}

#[test]
fn every_gpio_stands_at_the_header_pin_that_the_pico_gives_it() {
    // Raspberry Pi Pico data sheet, "Pinout and design files"; from memory. GPIO 25 is the Pico's own LED.
    for pin in pins() {
        let expected = if pin.gpio == 25 { 0 } else { place(&format!("GP{}", pin.gpio)) };
        assert_eq!(pin.header, expected, "{}", pin.name);
    }
    for (header, words) in SUPPLY {
        let printed = HEADER[usize::from(header) - 1];
        assert!(words.starts_with(printed), "{header} is {printed}, not {words}");
    }
}

/// The header pin beside which a name is printed.
fn place(printed: &str) -> u8 {
    let place = HEADER.iter().position(|name| *name == printed);
    place.map_or(0, |place| u8::try_from(place + 1).unwrap())
}

#[test]
fn no_gpio_no_header_pin_and_no_name_is_used_twice() {
    let pins = pins();
    let gpios: BTreeSet<_> = pins.iter().map(|pin| pin.gpio).collect();
    let names: BTreeSet<_> = pins.iter().map(|pin| &pin.name).collect();
    let headers: Vec<_> = pins.iter().map(|pin| pin.header).filter(|header| *header != 0).collect();
    let supply = SUPPLY.map(|(header, _)| header);
    let distinct: BTreeSet<_> = headers.iter().copied().chain(supply).collect();
    assert_eq!((gpios.len(), names.len()), (pins.len(), pins.len()));
    assert_eq!(distinct.len(), headers.len() + SUPPLY.len());
}

#[test]
fn every_bus_pin_can_have_the_function_that_its_name_says() {
    // RP2040 data sheet, table of GPIO functions; from memory.
    assert_eq!(functions::uart0_tx_rx(named("receiver_rx").gpio), Some(false));
    for (name, role) in [("panel_sda", "sda"), ("panel_scl", "scl")] {
        assert_eq!(functions::i2c(named(name).gpio), (0, role), "{name}");
    }
    for (bus, wire) in [(0, "store"), (1, "probe")] {
        for role in ["in", "clock", "out"] {
            let name = format!("{wire}_{role}");
            assert_eq!(functions::spi(named(&name).gpio), (bus, role), "{name}");
        }
    }
}

#[test]
fn levels_and_pulls_are_said_where_they_mean_something_and_rest_is_never_active() {
    for pin in pins() {
        let means_a_level = matches!(pin.kind, Kind::Input | Kind::Output | Kind::Pwm);
        assert_eq!(pin.active.is_some(), means_a_level, "{}", pin.name);
        assert_eq!(pin.pull.is_some(), pin.kind == Kind::Input, "{}", pin.name);
        let rests_active = matches!(
            (pin.active, pin.pull),
            (Some(table::Active::Low), Some(Pull::Down)) | (Some(table::Active::High), Some(Pull::Up))
        );
        assert!(!rests_active, "{} reads active with its wire cut", pin.name);
    }
}

#[test]
fn the_page_names_every_pin_that_leaves_the_pico() {
    let page = page("wiring.md");
    for pin in pins().iter().filter(|pin| pin.header != 0) {
        let row = format!("| {} | GP{} | `{}` |", pin.header, pin.gpio, pin.name);
        assert!(page.contains(&row), "docs/wiring.md has no row {row}");
    }
}
