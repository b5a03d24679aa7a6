//! The few strokes everything is made of: a filled box, a line of text, a band to put them in.
//!
//! A text's place is the place of its capitals: the blank rows that a font leaves above them are taken off here.

use embedded_graphics::Pixel;
use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::{OriginDimensions, Point, Size};
use embedded_graphics::image::GetPixel;
use embedded_graphics::mono_font::MonoFont;
use embedded_graphics::mono_font::iso_8859_1::{FONT_5X7, FONT_6X9, FONT_6X12, FONT_8X13_BOLD};
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::primitives::Rectangle;

/// One of the built-in fonts, with what is known of its capitals.
pub(super) struct Letters {
    font: &'static MonoFont<'static>,
    /// Height of a capital, pixels.
    pub caps: i32,
    /// Blank rows above a capital, pixels.
    above: i32,
}

/// Labels, and the engine. In these three fonts no figure and no point reaches below the capitals.
pub(super) const SMALL: &Letters = &Letters { font: &FONT_5X7, caps: 6, above: 0 };
/// Where in the heat: as low as the small letters, but an `M` is an `M`.
pub(super) const WIDE: &Letters = &Letters { font: &FONT_6X9, caps: 6, above: 1 };
/// Values and alerts.
pub(super) const LARGE: &Letters = &Letters { font: &FONT_6X12, caps: 7, above: 3 };
/// The run-in's number: as high as its band.
pub(super) const BOLD: &Letters = &Letters { font: &FONT_8X13_BOLD, caps: 9, above: 2 };

/// A part of the screen, pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Band {
    pub x: i32,
    pub y: i32,
    pub width: i32,
    pub height: i32,
}

impl Band {
    /// The whole target. No display of this kind is larger than the bound, which keeps all sums small.
    pub fn whole(size: Size) -> Self {
        let bounded = |length: u32| i32::try_from(length.min(4096)).unwrap_or(0);
        Self { x: 0, y: 0, width: bounded(size.width), height: bounded(size.height) }
    }

    /// The uppermost `rows`, and what is left below one blank row.
    pub fn cut_top(self, rows: i32) -> (Self, Self) {
        let top = Self { height: rows, ..self };
        (top, Self { y: self.y + rows + 1, height: self.height - rows - 1, ..self })
    }

    /// What is left above one blank row, and the lowest `rows`.
    pub fn cut_bottom(self, rows: i32) -> (Self, Self) {
        let bottom = Self { y: self.y + self.height - rows, height: rows, ..self };
        (Self { height: self.height - rows - 1, ..self }, bottom)
    }

    /// The first column to the right of the band.
    pub fn right(self) -> i32 {
        self.x + self.width
    }
}

/// Fills a band with one ink. A band without area draws nothing.
pub(super) fn fill<D>(target: &mut D, band: Band, ink: BinaryColor) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let (Ok(width), Ok(height)) = (u32::try_from(band.width), u32::try_from(band.height)) else {
        return Ok(());
    };
    target.fill_solid(&Rectangle::new(Point::new(band.x, band.y), Size::new(width, height)), ink)
}

/// The edge of a band, one pixel wide.
pub(super) fn outline<D>(target: &mut D, band: Band, ink: BinaryColor) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    fill(target, Band { height: 1, ..band }, ink)?;
    fill(target, Band { y: band.y + band.height - 1, height: 1, ..band }, ink)?;
    fill(target, Band { width: 1, ..band }, ink)?;
    fill(target, Band { x: band.right() - 1, width: 1, ..band }, ink)
}

/// A picture of up to 16 columns, a row a number, its leftmost column the highest of `width` bits. Each dot
/// becomes a box of `across` by `down` pixels.
pub(super) struct Stamp<'a> {
    pub rows: &'a [u16],
    pub width: i32,
    pub across: i32,
    pub down: i32,
}

/// Draws a stamp with its upper left corner at `(x, y)`.
pub(super) fn stamp<D>(target: &mut D, it: &Stamp, x: i32, y: i32, ink: BinaryColor) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    for (row, bits) in (0_i32..).zip(it.rows) {
        for column in (0..it.width).filter(|column| bits >> (it.width - 1 - column) & 1 == 1) {
            let (x, y) = (x + column * it.across, y + row * it.down);
            fill(target, Band { x, y, width: it.across, height: it.down }, ink)?;
        }
    }
    Ok(())
}

/// Writes `words` with the upper left corner of their capitals at `(x, y)`. Dark dots of a letter are left as they
/// were.
///
/// Not by the library's own text: that passes each dot through five iterators, which took most of the board's time.
pub(super) fn write<D>(
    target: &mut D,
    words: &str,
    letters: &Letters,
    (x, y): (i32, i32),
    ink: BinaryColor,
) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let (wide, tall) = cell(letters.font);
    let mut to = Point::new(x, y - letters.above);
    for letter in words.chars() {
        let from = place_of(letter, letters.font);
        for (column, row) in (0..tall).flat_map(|row| (0..wide).map(move |column| (column, row))) {
            let dot = Point::new(column, row);
            if letters.font.image.pixel(from + dot) == Some(BinaryColor::On) {
                target.draw_iter([Pixel(to + dot, ink)])?;
            }
        }
        to.x += wide;
    }
    Ok(())
}

/// How wide and how tall a letter is, pixels.
fn cell(font: &MonoFont<'_>) -> (i32, i32) {
    let Size { width, height } = font.character_size;
    (i32::try_from(width).unwrap_or(0), i32::try_from(height).unwrap_or(0))
}

/// Where a letter stands in its font's picture, which holds all of them in rows.
fn place_of(letter: char, font: &MonoFont<'_>) -> Point {
    let (wide, tall) = cell(font);
    let index = i32::try_from(font.glyph_mapping.index(letter)).unwrap_or(0);
    let in_a_row = i32::try_from(font.image.size().width).unwrap_or(0).checked_div(wide).unwrap_or(0);
    let row = index.checked_div(in_a_row).unwrap_or(0);
    Point::new((index - row * in_a_row) * wide, row * tall)
}

/// How wide `words` are, pixels, the blank column after the last letter included.
pub(super) fn width(words: &str, letters: &Letters) -> i32 {
    let count = i32::try_from(words.chars().count()).unwrap_or(0);
    count.saturating_mul(cell(letters.font).0)
}
