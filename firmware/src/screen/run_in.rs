//! The run-in, from the first gun to the start: the margin as a large signed number behind a shape, and one word.
//!
//! A square holds, an arrow goes, two arrows are late; with the sign and the word that is told three times over,
//! and never by colour. Where no number may be believed, there is none, but the reason in words. While no alert
//! needs the band below, a scale stands in it: zero as an upright line, the margin to hold as a notch, the
//! margin with two sigma on either side as a bar.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::pixelcolor::BinaryColor;

use super::Units;
use super::figures::{self, Words, words};
use super::pen::{self, BOLD, Band, LARGE, SMALL, Stamp};
use crate::run_in::risk::Advice;
use crate::units::{MmPerSecond, Span, mul_div};
use crate::view::{Phase, RunInView, View};

/// From the shape to the number, and between words, pixels.
const GAP: i32 = 2;

/// Width of a shape.
const SHAPE: i32 = 9;

/// One second on the scale, pixels: 128 of them show 2.6 s on either side of zero.
const SECOND: i64 = 24;

const SQUARE: [u16; 9] = [0b111111111; 9];
const ARROW: [u16; 9] = [
    0b110000000,
    0b111100000,
    0b111111000,
    0b111111110,
    0b111111111,
    0b111111110,
    0b111111000,
    0b111100000,
    0b110000000,
];
const ARROWS: [u16; 9] = [
    0b100001000,
    0b110001100,
    0b111001110,
    0b111101111,
    0b111101111,
    0b111101111,
    0b111001110,
    0b110001100,
    0b100001000,
];

/// What there is to draw of it: something from the first gun to the start.
pub(super) fn shown(view: &View) -> Option<&RunInView> {
    let before =
        cfg!(feature = "run-in") && matches!(view.phase, Phase::Milling | Phase::Window | Phase::Late);
    view.run_in.as_ref().filter(|run_in| before && run_in.advice != Advice::NoClock)
}

/// The band under the clock.
pub(super) fn draw<D>(
    target: &mut D,
    run_in: &RunInView,
    view: &View,
    units: Units,
    band: Band,
) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let ink = BinaryColor::On;
    let line = band.y + band.height - 1;
    if let (Some(margin), Some(rows)) = (run_in.margin, shape(run_in.advice)) {
        pen::stamp(target, &Stamp { rows, width: SHAPE, across: 1, down: 1 }, band.x, band.y, ink)?;
        pen::write(target, &figures::margin(margin), BOLD, (band.x + SHAPE + GAP, band.y), ink)?;
    }
    let mut x = band.right();
    for (text, letters) in right_side(run_in, view, units).iter().rev().filter(|piece| !piece.0.is_empty()) {
        x -= pen::width(text, letters);
        pen::write(target, text, letters, (x, line - letters.caps), ink)?;
        x -= GAP;
    }
    if run_in.margin.is_none() {
        pen::write(target, word(run_in.advice), LARGE, (band.x, line - LARGE.caps), ink)?;
    }
    Ok(())
}

/// The scale, in the band of the alert.
pub(super) fn draw_scale<D>(target: &mut D, run_in: &RunInView, band: Band) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let (Some(margin), Some(sigma)) = (run_in.margin, run_in.sigma) else { return Ok(()) };
    let ink = BinaryColor::On;
    let middle = band.y + band.height / 2;
    let column = |x: i32, y: i32, height: i32| Band { x, y, width: 1, height };
    pen::fill(target, Band { y: middle, height: 1, ..band }, ink)?;
    pen::fill(target, column(place(Span::ZERO, band), band.y, band.height), ink)?;
    let notch = place(run_in.hold, band);
    pen::fill(target, column(notch, band.y, 3), ink)?;
    pen::fill(target, column(notch, band.y + band.height - 3, 3), ink)?;
    let two = sigma + sigma;
    let (from, to) = (place(margin - two, band), place(margin + two, band));
    pen::fill(target, Band { x: from, y: middle - 1, width: to - from + 1, height: 3 }, ink)?;
    let at = place(margin, band).min(band.right() - 2).max(band.x + 1);
    pen::fill(target, Band { x: at - 1, y: middle - 3, width: 3, height: 7 }, ink)
}

/// The column of a margin; what is beyond the scale stands at its end.
fn place(margin: Span, band: Band) -> i32 {
    let off = mul_div(margin.as_micros(), SECOND, 1_000_000).clamp(-4_096, 4_096);
    (band.x + band.width / 2 + i32::try_from(off).unwrap_or(0)).min(band.right() - 1).max(band.x)
}

/// Word and speed; in the word's place, for as long as that is news, by how much zero moved.
fn right_side(run_in: &RunInView, view: &View, units: Units) -> [(Words, &'static pen::Letters); 4] {
    let none = || (Words::new(), SMALL);
    if let Some(moved) = view.zero_moved {
        return [(words(format_args!("ZERO")), SMALL), (figures::margin(moved), LARGE), none(), none()];
    }
    let word = match run_in.margin {
        Some(_) => (words(format_args!("{}", word(run_in.advice))), LARGE),
        None => none(),
    };
    [
        word,
        none(),
        (speed(view.speed, units), LARGE),
        (words(format_args!("{}", figures::speed_unit(units))), SMALL),
    ]
}

fn speed(speed: Option<MmPerSecond>, units: Units) -> Words {
    speed.map_or(words(format_args!("{}", figures::ABSENT)), |speed| figures::speed_whole(speed, units))
}

const fn word(advice: Advice) -> &'static str {
    match advice {
        Advice::NoClock => "",
        Advice::NoFix => "NO FIX",
        Advice::OffCourse => "OFF COURSE",
        Advice::TooUncertain => "UNSURE",
        Advice::Hold => "HOLD",
        Advice::Go => "GO",
        Advice::Late => "LATE",
    }
}

const fn shape(advice: Advice) -> Option<&'static [u16]> {
    match advice {
        Advice::Hold => Some(&SQUARE),
        Advice::Go => Some(&ARROW),
        Advice::Late => Some(&ARROWS),
        Advice::NoClock | Advice::NoFix | Advice::OffCourse | Advice::TooUncertain => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_longest_number_word_and_speed_fit_128_pixels() {
        let number = SHAPE + GAP + pen::width("-99.99", BOLD);
        for units in [Units::Mph, Units::KmPerHour] {
            let unit = pen::width(figures::speed_unit(units), SMALL);
            let right = pen::width("HOLD", LARGE) + GAP + pen::width("999", LARGE) + GAP + unit;
            assert!(number + GAP + right <= 128);
            assert!(pen::width("OFF COURSE", LARGE) + GAP + pen::width("999", LARGE) + GAP + unit <= 128);
        }
        assert!(number + GAP + pen::width("ZERO", SMALL) + GAP + pen::width("-99.99", LARGE) <= 128);
    }
}
