//! What is printed beside the pins of a Raspberry Pi Pico.
//!
//! Source: Raspberry Pi Pico data sheet, "Pinout and design files"; from memory.

/// The names of header pins 1 to 40, at the place of their number less one.
pub const HEADER: [&str; 40] = [
    "GP0", "GP1", "GND", "GP2", "GP3", "GP4", "GP5", "GND", "GP6", "GP7", // 1 to 10
    "GP8", "GP9", "GND", "GP10", "GP11", "GP12", "GP13", "GND", "GP14", "GP15", // 11 to 20
    "GP16", "GP17", "GND", "GP18", "GP19", "GP20", "GP21", "GND", "GP22", "RUN", // 21 to 30
    "GP26", "GP27", "GND", "GP28", "VREF", "3V3", "3V3_EN", "GND", "VSYS", "VBUS", // 31 to 40
];

/// The pins of the supply that the drawing connects, with what comes or goes there.
pub const SUPPLY: [(u8, &str); 3] =
    [(39, "VSYS: 5 V in, detail A"), (38, "GND"), (36, "3V3 out, to the parts")];

/// Which functions the RP2040 can give a GPIO: source as above, table "GPIO functions" of the RP2040 data
/// sheet.
pub mod functions {
    /// UART: every group of four is TX, RX, CTS, RTS; UART1 has groups 1, 2, 5 and 6.
    pub const fn uart0_tx_rx(gpio: u8) -> Option<bool> {
        match gpio {
            0 | 12 | 16 | 28 => Some(true),
            1 | 13 | 17 | 29 => Some(false),
            _ => None,
        }
    }

    /// SPI: every group of four is RX, CS, SCK, TX; SPI0 has GPIO 0 to 7 and 16 to 23, SPI1 the others.
    pub const fn spi(gpio: u8) -> (u8, &'static str) {
        let bus = (gpio / 8) % 2;
        let role = match gpio % 4 {
            0 => "in",
            1 => "select",
            2 => "clock",
            _ => "out",
        };
        (bus, role)
    }

    /// I2C: SDA and SCL in turn, I2C0 and I2C1 in turn by pairs.
    pub const fn i2c(gpio: u8) -> (u8, &'static str) {
        ((gpio / 2) % 2, if gpio.is_multiple_of(2) { "sda" } else { "scl" })
    }
}
