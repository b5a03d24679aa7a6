//! The alert band: one alert, its level in its shape, so that it is told apart without colour.
//!
//! A warning is a solid bar with a solid triangle, a caution an outlined bar with a hollow triangle, an
//! advisory plain words. A tick says that the driver has acknowledged it; `+2` that two more are waiting.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::pixelcolor::BinaryColor;

use super::figures::words;
use super::pen::{self, Band, LARGE, SMALL, Stamp};
use crate::output::{AlertId, Level};
use crate::view::AlertView;

/// From the bar's edge to its content, and between its parts, pixels.
const MARGIN: i32 = 3;
const TRIANGLE_WIDTH: i32 = 9;
const TICK_WIDTH: i32 = 7;

const SOLID_TRIANGLE: [u16; 7] =
    [0b000010000, 0b000111000, 0b000111000, 0b001111100, 0b011111110, 0b011111110, 0b111111111];
const HOLLOW_TRIANGLE: [u16; 7] =
    [0b000010000, 0b000101000, 0b000101000, 0b001000100, 0b010000010, 0b010000010, 0b111111111];
const TICK: [u16; 6] = [0b0000001, 0b0000011, 0b1000110, 0b1101100, 0b0111000, 0b0010000];

/// The words of an alert: at most 14 capitals, which fit the band beside everything else it may hold.
#[must_use]
pub const fn alert_text(id: AlertId) -> &'static str {
    match id {
        AlertId::EgtLimit => "EGT OVER LIMIT",
        AlertId::EgtHigh => "EGT HIGH",
        AlertId::N1Limit => "N1 OVER LIMIT",
        AlertId::N1High => "N1 HIGH",
        AlertId::N2Overspeed => "N2 OVERSPEED",
        AlertId::N2Limit => "N2 OVER LIMIT",
        AlertId::N2High => "N2 HIGH",
        AlertId::ProbeFault => "EGT PROBE BAD",
        AlertId::ProbeStale => "EGT SILENT",
        AlertId::N1Signal => "N1 SILENT",
        AlertId::N2Signal => "N2 SILENT",
        AlertId::JumpedGun => "JUMPED THE GUN",
        AlertId::FixLost => "NO GNSS FIX",
        AlertId::PpsLost => "NO GNSS PULSE",
        AlertId::SpeedFloor => "TOO SLOW",
        AlertId::LapMissed => "LAP NOT SEEN",
        AlertId::ZeroMoved => "ZERO MOVED",
        AlertId::Approach => "LINE NEAR",
        AlertId::LastLap => "LAST LAP",
        AlertId::Finished => "FINISHED",
        AlertId::NoLightOff => "NO LIGHT-OFF",
        AlertId::HotStart => "HOT START",
        AlertId::HungStart => "HUNG START",
        AlertId::FuelTooSoon => "FUEL TOO SOON",
        AlertId::StarterLong => "STARTER LONG",
        AlertId::StarterRest => "STARTER REST",
        AlertId::NotCooling => "KEEP CRANKING",
        AlertId::FlameOut => "FLAME-OUT",
        AlertId::N2Unloaded => "N2 UNLOADED",
        AlertId::ShaftMismatch => "N1 N2 UNLIKE",
        AlertId::ProbeSplit => "EGT SPLIT",
        AlertId::ProbeAged => "EGT PROBE AGED",
        AlertId::ColdJunction => "EGT CHIP TEMP",
    }
}

/// Draws the band; nothing when there is no alert.
pub(super) fn draw<D>(
    target: &mut D,
    alert: Option<AlertView>,
    waiting: u8,
    band: Band,
) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let Some(alert) = alert else { return Ok(()) };
    let (x, ink) = ground(target, alert.level, band)?;
    pen::write(target, alert_text(alert.id), LARGE, (x, band.y + 2), ink)?;
    queue(target, alert.acknowledged, waiting, band, ink)
}

/// Draws what shows the level, and says in which column and with which ink the words go on it.
fn ground<D>(target: &mut D, level: Level, band: Band) -> Result<(i32, BinaryColor), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let triangle = |rows| Stamp { rows, width: TRIANGLE_WIDTH, across: 1, down: 1 };
    let (x, y) = (band.x + MARGIN, band.y + 2);
    let beside = x + TRIANGLE_WIDTH + MARGIN;
    match level {
        Level::Warning => {
            pen::fill(target, band, BinaryColor::On)?;
            pen::stamp(target, &triangle(&SOLID_TRIANGLE), x, y, BinaryColor::Off)?;
            Ok((beside, BinaryColor::Off))
        }
        Level::Caution => {
            pen::outline(target, band, BinaryColor::On)?;
            pen::stamp(target, &triangle(&HOLLOW_TRIANGLE), x, y, BinaryColor::On)?;
            Ok((beside, BinaryColor::On))
        }
        Level::Advisory => Ok((band.x, BinaryColor::On)),
    }
}

/// At the right end: the tick of an acknowledged alert, and how many alerts wait behind it.
fn queue<D>(
    target: &mut D,
    acknowledged: bool,
    waiting: u8,
    band: Band,
    ink: BinaryColor,
) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let right = band.right() - MARGIN + 1;
    let behind = match waiting {
        0 => words(format_args!("")),
        _ => words(format_args!("+{}", waiting.min(99))),
    };
    let line = band.y + 2 + LARGE.caps - SMALL.caps;
    pen::write(target, &behind, SMALL, (right - pen::width(&behind, SMALL), line), ink)?;
    if acknowledged {
        let tick = Stamp { rows: &TICK, width: TICK_WIDTH, across: 1, down: 1 };
        pen::stamp(target, &tick, right - pen::width("+99", SMALL) - 1 - TICK_WIDTH, line, ink)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fourteen_letters_fit_beside_triangle_tick_and_count() {
        let words = MARGIN + TRIANGLE_WIDTH + MARGIN + pen::width("FOURTEEN WORDS", LARGE);
        let queue = TICK_WIDTH + 1 + pen::width("+99", SMALL) + MARGIN - 1;
        assert!(words + queue <= 128);
    }
}
