//! What the board shows before anything else: a dash is advice, and eyes belong outside.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::OriginDimensions;
use embedded_graphics::pixelcolor::BinaryColor;

use super::figures::words;
use super::pen::{self, Band, LARGE};

/// How many pages of cautions there are.
pub const CAUTION_PAGES: u8 = 3;

/// From line to line, pixels.
const PITCH: i32 = 12;

/// From the left edge, pixels.
const MARGIN: i32 = 3;

/// A page: its title, and four lines of at most 20 letters, which fit 128 pixels.
const PAGES: [(&str, [&str; 4]); CAUTION_PAGES as usize] = [
    (
        "ADVICE ONLY",
        ["Officials decide on", "starts, laps and", "penalties. What you", "read here is advice."],
    ),
    ("ENGINE LIMITS", ["Demonstration data", "until you set yours", "from the engine", "maker's manual."]),
    (
        "EYES OUTSIDE",
        ["Look up, not here.", "Readings may be late", "or wrong. Boats and", "water come first."],
    ),
];

/// Draws a page of cautions, counted from 0; past the last page, the last.
///
/// # Errors
///
/// Only the target's own.
pub fn draw_cautions<D>(target: &mut D, page: u8) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor> + OriginDimensions,
{
    let page = page.min(CAUTION_PAGES - 1);
    let Some((title, lines)) = PAGES.get(usize::from(page)) else { return Ok(()) };
    let (bar, text) = Band::whole(target.size()).cut_top(LARGE.caps + 4);
    target.clear(BinaryColor::Off)?;
    heading(target, title, &words(format_args!("{}/{CAUTION_PAGES}", page + 1)), bar)?;
    for (number, line) in (0..).zip(lines) {
        pen::write(target, line, LARGE, (text.x + MARGIN, text.y + 3 + number * PITCH), BinaryColor::On)?;
    }
    Ok(())
}

/// The title in a solid bar, and at its right end which page this is, or of what version.
pub(super) fn heading<D>(target: &mut D, title: &str, which: &str, bar: Band) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let right = bar.right() - MARGIN - pen::width(which, LARGE);
    pen::fill(target, bar, BinaryColor::On)?;
    pen::write(target, title, LARGE, (bar.x + MARGIN, bar.y + 2), BinaryColor::Off)?;
    pen::write(target, which, LARGE, (right, bar.y + 2), BinaryColor::Off)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_fits_128_pixels_and_the_last_one_64_rows() {
        for (title, lines) in PAGES {
            assert!(lines.iter().all(|line| MARGIN + pen::width(line, LARGE) <= 128), "{title}");
        }
        let descender = 2;
        assert!(LARGE.caps + 4 + 1 + 3 + 3 * PITCH + LARGE.caps + descender <= 64);
    }
}
