//! A picture of 128x64 in memory, packed as the displays of that size want it.
//!
//! The SSD1306 and its relatives keep their picture in eight pages of eight rows: byte `page * 128 + x` holds
//! the rows `page * 8 ..= page * 8 + 7` of column `x`, the uppermost in bit 0 (graphic display data RAM of the
//! SSD1306, horizontal addressing; from memory). So a frame goes out as it stands.

use core::convert::Infallible;

use embedded_graphics::Pixel;
use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::{Dimensions, OriginDimensions, Size};
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::primitives::Rectangle;

/// A picture of 128x64, one bit a pixel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Frame([u8; Frame::BYTES]);

impl Frame {
    /// Columns.
    pub const WIDTH: usize = 128;
    /// Rows.
    pub const HEIGHT: usize = 64;
    /// Bytes of a picture.
    pub const BYTES: usize = Self::WIDTH * Self::HEIGHT / 8;

    /// A dark picture.
    #[must_use]
    pub const fn new() -> Self {
        Self([0; Self::BYTES])
    }

    /// True when the pixel is lit. Outside the picture all is dark.
    #[must_use]
    pub fn pixel(&self, x: usize, y: usize) -> bool {
        place(x, y).and_then(|(byte, bit)| self.0.get(byte).map(|cell| cell & bit != 0)).unwrap_or(false)
    }

    /// The picture in page order.
    #[must_use]
    pub const fn bytes(&self) -> &[u8; Self::BYTES] {
        &self.0
    }

    fn set(&mut self, x: usize, y: usize, lit: bool) {
        let Some((byte, bit)) = place(x, y) else { return };
        let Some(cell) = self.0.get_mut(byte) else { return };
        if lit { *cell |= bit } else { *cell &= !bit }
    }
}

/// The byte and the bit of a pixel; `None` outside the picture.
fn place(x: usize, y: usize) -> Option<(usize, u8)> {
    (x < Frame::WIDTH && y < Frame::HEIGHT).then(|| (y / 8 * Frame::WIDTH + x, 1 << (y % 8)))
}

impl Default for Frame {
    fn default() -> Self {
        Self::new()
    }
}

impl OriginDimensions for Frame {
    fn size(&self) -> Size {
        Size::new(Self::WIDTH as u32, Self::HEIGHT as u32)
    }
}

impl DrawTarget for Frame {
    type Color = BinaryColor;
    type Error = Infallible;

    fn draw_iter<I>(&mut self, pixels: I) -> Result<(), Infallible>
    where
        I: IntoIterator<Item = Pixel<BinaryColor>>,
    {
        for Pixel(at, ink) in pixels {
            if let (Ok(x), Ok(y)) = (usize::try_from(at.x), usize::try_from(at.y)) {
                self.set(x, y, ink.is_on());
            }
        }
        Ok(())
    }

    fn fill_solid(&mut self, area: &Rectangle, ink: BinaryColor) -> Result<(), Infallible> {
        let inside = area.intersection(&self.bounding_box());
        for (x, y) in inside.columns().flat_map(|x| inside.rows().map(move |y| (x, y))) {
            if let (Ok(x), Ok(y)) = (usize::try_from(x), usize::try_from(y)) {
                self.set(x, y, ink.is_on());
            }
        }
        Ok(())
    }

    fn clear(&mut self, ink: BinaryColor) -> Result<(), Infallible> {
        self.0.fill(if ink.is_on() { 0xFF } else { 0 });
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use embedded_graphics::geometry::Point;

    use super::*;

    fn lit(x: i32, y: i32) -> Frame {
        let mut frame = Frame::new();
        frame.draw_iter([Pixel(Point::new(x, y), BinaryColor::On)]).unwrap();
        frame
    }

    // Page order of the SSD1306's display RAM, from memory.
    #[test]
    fn a_page_is_eight_rows_and_its_top_row_is_bit_0() {
        assert_eq!(lit(0, 0).bytes()[0], 0b0000_0001);
        assert_eq!(lit(0, 7).bytes()[0], 0b1000_0000);
        assert_eq!(lit(5, 8).bytes()[128 + 5], 0b0000_0001);
        assert_eq!(lit(127, 63).bytes()[1023], 0b1000_0000);
    }

    #[test]
    fn every_pixel_is_its_own_and_reads_back() {
        for (x, y) in [(0, 0), (127, 0), (0, 63), (127, 63), (64, 31)] {
            let frame = lit(x, y);
            let count: u32 = frame.bytes().iter().map(|byte| byte.count_ones()).sum();
            assert_eq!(count, 1);
            assert!(frame.pixel(x as usize, y as usize));
        }
    }

    #[test]
    fn outside_is_dark_and_takes_nothing() {
        for (x, y) in [(-1, 0), (0, -1), (128, 0), (0, 64), (i32::MIN, i32::MAX)] {
            assert_eq!(lit(x, y), Frame::new());
        }
        assert!(!Frame::new().pixel(usize::MAX, usize::MAX));
    }
}
