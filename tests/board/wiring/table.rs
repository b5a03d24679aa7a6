//! The one table of pins, `firmware/boards/pico/pins.toml`, read for the drawing and its checks.

use std::fs;
use std::path::Path;

use serde::Deserialize;

/// One row.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pin {
    pub gpio: u8,
    /// The Pico's header pin; 0 for what stays on the Pico.
    pub header: u8,
    pub name: String,
    pub kind: Kind,
    pub active: Option<Active>,
    pub pull: Option<Pull>,
    /// What stands at the other end of the wire: the part, a comma, the part's own terminal.
    pub to: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    Input,
    Output,
    Uart,
    Spi,
    I2c,
    Pwm,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Active {
    Low,
    High,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Pull {
    Up,
    Down,
    None,
}

impl Pin {
    /// The part at the other end.
    pub fn part(&self) -> &str {
        self.to.split_once(", ").map_or(&self.to, |(part, _)| part)
    }

    /// Which terminal of the part, or what stands in between.
    pub fn terminal(&self) -> &str {
        self.to.split_once(", ").map_or("", |(_, terminal)| terminal)
    }
}

/// All rows.
pub fn pins() -> Vec<Pin> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Table {
        pin: Vec<Pin>,
    }
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../firmware/boards/pico/pins.toml");
    let text = fs::read_to_string(path).unwrap();
    toml::from_str::<Table>(&text).unwrap().pin
}
