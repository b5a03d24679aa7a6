//! The board's pins, as `pins.toml` lays them out: the one table that harness and drawing use too.
//!
//! The struct [`Pins`] is made from it when the program is built. A pin in the wrong function, or on a GPIO that
//! cannot do it, does not compile.

use embedded_hal::digital::PinState;
use rp2040_hal::gpio::{self, Pin, bank0};

/// An input whose edges a handler sees, by number.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Watched {
    /// The GPIO.
    pub gpio: u8,
    /// True when it means something by being low.
    pub active_low: bool,
}

include!(concat!(env!("OUT_DIR"), "/pins.rs"));
