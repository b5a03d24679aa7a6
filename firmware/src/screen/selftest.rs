//! What the board found when it tested itself: the last page before the clock.
//!
//! It shows the same facts that the board tells over its serial line, and each probe's own words. What is
//! well reads plainly, what has not been heard yet `---`, and what is wrong stands on a lit ground. At the
//! dock much is silent: a shaft at rest has no pulses. So this page judges nothing as a whole.
//!
//! This file knows the talk's plain facts and what a chip's words decode to.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::OriginDimensions;
use embedded_graphics::pixelcolor::BinaryColor;

use super::cautions::heading;
use super::figures::{self, ABSENT, Words, words};
use super::pen::{self, Band, LARGE, SMALL};
use crate::engine::thermocouple::{ProbeFault, decode};
use crate::input::ProbeReading;
use crate::output::Reading;
use crate::talk::{Check, Restart, SettingsFrom, Standing};

/// How many probes the page has room for; the board has as many select lines.
pub const PROBES_SHOWN: usize = 2;

/// From line to line, pixels: small capitals, and a lit ground of one pixel above and below.
const PITCH: i32 = 9;
/// The heading's height: a row less than a page of cautions has, so that six lines fit below it.
const HEADING: i32 = LARGE.caps + 3;
/// The lines' first capital, below the heading and the lit ground's first row.
const TOP: i32 = HEADING + 2;
/// Where the right half begins: 13 small letters fit behind it, 12 before it.
const RIGHT: i32 = 63;

/// A label, its value, and whether the value is something to look into.
struct Item {
    label: &'static str,
    value: Words,
    is_wrong: bool,
}

/// Draws the page. `readings` are the last words of each thermocouple chip, if there were any.
///
/// # Errors
///
/// Only the target's own.
pub fn draw_self_test<D>(
    target: &mut D,
    standing: &Standing,
    readings: [Option<ProbeReading>; PROBES_SHOWN],
) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor> + OriginDimensions,
{
    let (bar, _) = Band::whole(target.size()).cut_top(HEADING);
    let [major, minor, patch] = standing.firmware;
    target.clear(BinaryColor::Off)?;
    heading(target, "SELF-TEST", &words(format_args!("{major}.{minor}.{patch}")), bar)?;
    for (line, (left, right)) in (0..).zip(lines(standing, readings)) {
        let y = bar.y + TOP + line * PITCH;
        item(target, &left, (bar.x, y))?;
        let column = if line == PROGRAM_LINE { bar.right() - width(&right) } else { bar.x + RIGHT };
        item(target, &right, (column, y))?;
    }
    Ok(())
}

/// The line with the program's digest: the left half is longer there, so the right one stands flush right.
const PROGRAM_LINE: i32 = 4;

fn lines(standing: &Standing, readings: [Option<ProbeReading>; PROBES_SHOWN]) -> [(Item, Item); 6] {
    let found = &standing.self_test;
    let [first, second, ..] = found.probes;
    let [first_reading, second_reading] = readings;
    [
        (check("GNSS", found.receiver), check("PULSE", found.pulse)),
        (probe("EGT1", first, first_reading), probe("EGT2", second, second_reading)),
        (check("N1", found.n1), check("N2", found.n2)),
        (flash(found.chip), settings(standing.settings)),
        (program(standing.program), lost(found.overflows)),
        (restarted(found.restarted), Item { label: "", value: Words::new(), is_wrong: false }),
    ]
}

fn check(label: &'static str, check: Check) -> Item {
    let value = match check {
        Check::NotFitted => "NONE",
        Check::Silent => ABSENT,
        Check::Fault => "FAULT",
        Check::Good => "OK",
    };
    Item { label, value: words(format_args!("{value}")), is_wrong: check == Check::Fault }
}

/// What the probe says is worth more than that it is well: a temperature to compare with a thermometer, or
/// what is wrong with the wires.
fn probe(label: &'static str, found: Check, reading: Option<ProbeReading>) -> Item {
    let Some(reading) = reading.filter(|_| found != Check::NotFitted) else { return check(label, found) };
    match decode(reading) {
        Ok(temperatures) => {
            let degrees = figures::temperature(Reading::Good(temperatures.hot));
            Item { label, value: words(format_args!("{degrees}°C")), is_wrong: false }
        }
        Err(fault) => Item { label, value: words(format_args!("{}", fault_word(fault))), is_wrong: true },
    }
}

/// At most seven letters.
const fn fault_word(fault: ProbeFault) -> &'static str {
    match fault {
        ProbeFault::NoAnswer | ProbeFault::Bus => "NO CHIP",
        ProbeFault::Garbled => "GARBLED",
        ProbeFault::Open => "OPEN",
        ProbeFault::ShortToGround => "TO GND",
        ProbeFault::ShortToSupply => "TO VCC",
        ProbeFault::Voltage => "VOLTAGE",
        ProbeFault::ColdJunction => "CHIP °C",
        ProbeFault::OutOfRange => "RANGE",
        ProbeFault::ColdWhileRunning => "COLD",
    }
}

fn flash(id: Option<u32>) -> Item {
    let value = match id {
        Some(id) => words(format_args!("{:06X}", id & 0xFF_FFFF)),
        None => words(format_args!("NONE")),
    };
    Item { label: "FLASH", value, is_wrong: id.is_none() }
}

fn settings(from: SettingsFrom) -> Item {
    let (value, is_wrong) = match from {
        SettingsFrom::Chip => ("OK", false),
        SettingsFrom::Defaults => ("NONE", true),
        SettingsFrom::DefaultsForDamage => ("BAD", true),
        SettingsFrom::DefaultsForVersion => ("OLD", true),
    };
    Item { label: "SETTINGS", value: words(format_args!("{value}")), is_wrong }
}

fn program(digest: u32) -> Item {
    Item { label: "PROGRAM", value: words(format_args!("{digest:08X}")), is_wrong: false }
}

/// Inputs that found no room: should be none, ever.
fn lost(inputs: u32) -> Item {
    let value = match inputs {
        ..1_000 => words(format_args!("{inputs}")),
        _ => words(format_args!(">999")),
    };
    Item { label: "LOST", value, is_wrong: inputs > 0 }
}

fn restarted(by: Restart) -> Item {
    let (value, is_wrong) = match by {
        Restart::Power => ("POWER", false),
        Restart::Watchdog => ("WATCHDOG", true),
        Restart::Panic => ("PANIC", true),
    };
    Item { label: "STARTED BY", value: words(format_args!("{value}")), is_wrong }
}

/// One letter's width between label and value.
fn width(item: &Item) -> i32 {
    pen::width(item.label, SMALL) + pen::width(" ", SMALL) + pen::width(&item.value, SMALL)
}

fn item<D>(target: &mut D, item: &Item, (x, y): (i32, i32)) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let value = x + width(item) - pen::width(&item.value, SMALL);
    let (ground, ink) =
        if item.is_wrong { (BinaryColor::On, BinaryColor::Off) } else { (BinaryColor::Off, BinaryColor::On) };
    let lit =
        Band { x: value - 1, y: y - 1, width: pen::width(&item.value, SMALL) + 1, height: SMALL.caps + 2 };
    pen::write(target, item.label, SMALL, (x, y), BinaryColor::On)?;
    pen::fill(target, lit, ground)?;
    pen::write(target, &item.value, SMALL, (value, y), ink)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_longest_items_fit_beside_each_other_and_six_lines_below_the_heading() {
        let longest = Item { label: "EGT1", value: words(format_args!("NO CHIP")), is_wrong: true };
        assert!(width(&longest) < RIGHT && width(&flash(None)) < RIGHT && width(&flash(Some(0))) < RIGHT);
        assert!(RIGHT + width(&settings(SettingsFrom::Defaults)) <= 128);
        assert!(RIGHT + width(&longest) <= 128);
        assert!(width(&program(0)) + width(&lost(u32::MAX)) < 128);
        assert_eq!(TOP + 5 * PITCH + SMALL.caps + 1, 64);
    }
}
