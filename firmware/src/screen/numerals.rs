//! The race time, or a temperature, in large numerals: what the clock's face reads, and where its digits stand.
//!
//! All digits are equally wide and never change size, so a running clock stands still.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::pixelcolor::BinaryColor;
use heapless::Vec;

use super::digits::{GRID_ROWS, Glyph};
use super::pen::{self, Band, Stamp};
use crate::units::Span;

/// The longest face: `-99:59.9`.
const FACE_MAX: usize = 8;
/// The width of the longest face on the grid, without gaps. It alone sets the scale: digits never change size.
const WIDEST: i32 = 6 + 9 + 9 + 2 + 9 + 9 + 2 + 9;

type Face = Vec<Glyph, FACE_MAX>;

/// Draws the race time in the middle of `band`; dashes while there is none.
pub(super) fn draw<D>(target: &mut D, race: Option<Span>, band: Band) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let face = race.and_then(reading).unwrap_or_else(dashes);
    draw_face(target, &face, band, scale(band))
}

/// Draws a whole number, or dashes, in the middle of what `beside` pixels leave of `band`, in digits as large as the clock's.
pub(super) fn draw_whole<D>(
    target: &mut D,
    number: Option<u16>,
    band: Band,
    beside: i32,
) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let mut face = Face::new();
    match number.map(u64::from) {
        Some(number) => {
            for unit in [1_000, 100, 10, 1].into_iter().filter(|unit| number >= *unit || *unit == 1) {
                digit(&mut face, number.checked_div(unit).unwrap_or(0) % 10);
            }
        }
        None => (0..3).for_each(|_| add(&mut face, Glyph::Dash)),
    }
    draw_face(target, &face, Band { width: band.width - beside, ..band }, scale(band))
}

fn draw_face<D>(target: &mut D, face: &Face, band: Band, (across, down): (i32, i32)) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let glyphs: i32 = face.iter().map(|glyph| glyph.width() * across).sum();
    let gaps = i32::try_from(face.len()).unwrap_or(1).saturating_sub(1).max(1);
    let gap = ((band.width - glyphs) / gaps).min(2 * across).max(across);
    let mut x = band.x + (band.width - glyphs - gaps * gap) / 2;
    let y = band.y + (band.height - GRID_ROWS * down) / 2;
    for glyph in face {
        let picture = Stamp { rows: glyph.rows(), width: glyph.width(), across, down };
        pen::stamp(target, &picture, x, y, BinaryColor::On)?;
        x += glyph.width() * across + gap;
    }
    Ok(())
}

/// How many pixels a dot of the grid takes, across and down: as large as the longest face allows, stretched
/// by no more than a half in either direction.
fn scale(band: Band) -> (i32, i32) {
    let across = (band.width / (WIDEST + FACE_MAX as i32 - 1)).max(1);
    let down = (band.height / GRID_ROWS).max(1);
    let even = across.min(down);
    (across.min(even * 3 / 2), down.min(even * 3 / 2))
}

/// The face for a race time: `-4:59.7`, from 100 minutes on `-1h40`. `None` from 100 hours on.
fn reading(race: Span) -> Option<Face> {
    minutes_face(race).or_else(|| hours_face(race))
}

fn minutes_face(race: Span) -> Option<Face> {
    let tenths = race.as_micros().div_euclid(100_000);
    let size = tenths.unsigned_abs();
    let mut face = signed(tenths);
    two_figures(&mut face, size / 600, false)?;
    add(&mut face, Glyph::Colon);
    two_figures(&mut face, size / 10 % 60, true)?;
    add(&mut face, Glyph::Point);
    digit(&mut face, size % 10);
    Some(face)
}

fn hours_face(race: Span) -> Option<Face> {
    let minutes = race.as_micros().div_euclid(60_000_000);
    let size = minutes.unsigned_abs();
    let mut face = signed(minutes);
    two_figures(&mut face, size / 60, false)?;
    add(&mut face, Glyph::Hours);
    two_figures(&mut face, size % 60, true)?;
    Some(face)
}

fn dashes() -> Face {
    let mut face = Face::new();
    for glyph in [Glyph::Dash, Glyph::Dash, Glyph::Colon, Glyph::Dash, Glyph::Dash] {
        add(&mut face, glyph);
    }
    face
}

fn signed(number: i64) -> Face {
    let mut face = Face::new();
    add(&mut face, if number < 0 { Glyph::Minus } else { Glyph::Plus });
    face
}

/// Adds a number below 100, with or without its leading zero; `None` when it is larger.
fn two_figures(face: &mut Face, number: u64, padded: bool) -> Option<()> {
    if number > 99 {
        return None;
    }
    if padded || number > 9 {
        digit(face, number / 10);
    }
    digit(face, number % 10);
    Some(())
}

fn digit(face: &mut Face, value: u64) {
    add(face, Glyph::Digit(u8::try_from(value).unwrap_or(0)));
}

/// No face is longer than `FACE_MAX`; were one so, its end would be missing.
fn add(face: &mut Face, glyph: Glyph) {
    let _ = face.push(glyph);
}

#[cfg(test)]
mod tests {
    use std::string::String;

    use proptest::prelude::*;

    use super::*;

    fn read(us: i64) -> String {
        let letter = |glyph: &Glyph| match glyph {
            Glyph::Digit(value) => char::from(b'0' + value),
            Glyph::Minus => '-',
            Glyph::Plus => '+',
            Glyph::Colon => ':',
            Glyph::Point => '.',
            Glyph::Hours => 'h',
            Glyph::Dash => '_',
        };
        reading(Span::from_micros(us)).unwrap_or_else(dashes).iter().map(letter).collect()
    }

    #[test]
    fn zero_is_shown_when_it_has_come_and_not_a_microsecond_sooner() {
        assert_eq!(read(-1), "-0:00.1");
        assert_eq!(read(0), "+0:00.0");
        assert_eq!(read(99_999), "+0:00.0");
        assert_eq!(read(100_000), "+0:00.1");
    }

    #[test]
    fn the_face_counts_down_and_up_through_minutes() {
        assert_eq!(read(-300_000_000), "-5:00.0");
        assert_eq!(read(-299_700_000), "-4:59.7");
        assert_eq!(read(-60_000_001), "-1:00.1");
        assert_eq!(read(-60_000_000), "-1:00.0");
        assert_eq!(read(12_300_000), "+0:12.3");
        assert_eq!(read(754_900_000), "+12:34.9");
    }

    #[test]
    fn from_100_minutes_on_hours_and_minutes_from_100_hours_on_dashes() {
        assert_eq!(read(-5_999_900_000), "-99:59.9");
        assert_eq!(read(-5_999_900_001), "-1h40");
        assert_eq!(read(5_999_999_999), "+99:59.9");
        assert_eq!(read(6_000_000_000), "+1h40");
        assert_eq!(read(359_999_999_999), "+99h59");
        assert_eq!(read(360_000_000_000), "__:__");
        assert_eq!(read(i64::MIN), "__:__");
        assert_eq!(read(i64::MAX), "__:__");
    }

    #[test]
    fn the_longest_face_is_as_wide_as_the_scale_takes_it_to_be() {
        let face = reading(Span::from_micros(-5_999_900_000)).unwrap();
        assert_eq!(face.len(), FACE_MAX);
        assert_eq!(face.iter().map(|glyph| glyph.width()).sum::<i32>(), WIDEST);
    }

    proptest! {
        /// Read back from the face: never less than what is left, and less than a tenth more.
        #[test]
        fn the_time_left_is_never_shown_too_short(left in 1_i64..=5_999_900_000) {
            let shown: String = read(-left).chars().filter(char::is_ascii_digit).collect();
            let number: i64 = shown.parse().unwrap();
            let tenths = number / 1_000 * 600 + number % 1_000;
            let excess = tenths * 100_000 - left;
            prop_assert!((0..100_000).contains(&excess), "{left} us left: {shown}");
        }
    }
}
