//! How the numerals of the clock look: our own, drawn on a grid of 14 rows, digits 9 columns wide.
//!
//! Strokes are two dots wide: square and sturdy, 6 and 9 wide open, 1 with a foot, the zero plain.

/// The height of the grid.
pub(super) const GRID_ROWS: i32 = 14;

/// One sign of the clock's face.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Glyph {
    Digit(u8),
    Minus,
    Plus,
    Colon,
    Point,
    Hours,
    Dash,
}

impl Glyph {
    /// Width on the grid.
    pub fn width(self) -> i32 {
        match self {
            Glyph::Digit(_) | Glyph::Dash => 9,
            Glyph::Minus | Glyph::Plus | Glyph::Hours => 6,
            Glyph::Colon | Glyph::Point => 2,
        }
    }

    /// The picture, a number a row; rows left out at the end are blank.
    pub fn rows(self) -> &'static [u16] {
        match self {
            Glyph::Digit(value) => DIGITS.get(usize::from(value)).map_or(&[], |rows| rows.as_slice()),
            Glyph::Minus => &[0, 0, 0, 0, 0, 0, 0b111111, 0b111111],
            Glyph::Plus => &[0, 0, 0, 0, 0b001100, 0b001100, 0b111111, 0b111111, 0b001100, 0b001100],
            Glyph::Colon => &[0, 0, 0, 0b11, 0b11, 0, 0, 0, 0, 0b11, 0b11],
            Glyph::Point => &[0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0b11, 0b11],
            Glyph::Hours => &HOURS,
            Glyph::Dash => &[0, 0, 0, 0, 0, 0, 0b011111110, 0b011111110],
        }
    }
}

const HOURS: [u16; 14] = [
    0b110000, 0b110000, 0b110000, 0b110000, 0b110000, 0b111110, 0b111111, 0b110011, 0b110011, 0b110011,
    0b110011, 0b110011, 0b110011, 0b110011,
];

#[rustfmt::skip]
const DIGITS: [[u16; 14]; 10] = [
    [
        0b011111110,
        0b111111111,
        0b110000011,
        0b110000011,
        0b110000011,
        0b110000011,
        0b110000011,
        0b110000011,
        0b110000011,
        0b110000011,
        0b110000011,
        0b110000011,
        0b111111111,
        0b011111110,
    ],
    [
        0b000011000,
        0b000111000,
        0b001111000,
        0b011011000,
        0b000011000,
        0b000011000,
        0b000011000,
        0b000011000,
        0b000011000,
        0b000011000,
        0b000011000,
        0b000011000,
        0b011111111,
        0b011111111,
    ],
    [
        0b011111110,
        0b111111111,
        0b110000011,
        0b000000011,
        0b000000011,
        0b000000111,
        0b000001110,
        0b000011100,
        0b000111000,
        0b001110000,
        0b011100000,
        0b111000000,
        0b111111111,
        0b111111111,
    ],
    [
        0b011111110,
        0b111111111,
        0b110000011,
        0b000000011,
        0b000000011,
        0b000000011,
        0b000111110,
        0b000111110,
        0b000000011,
        0b000000011,
        0b000000011,
        0b110000011,
        0b111111111,
        0b011111110,
    ],
    [
        0b000001110,
        0b000011110,
        0b000011110,
        0b000110110,
        0b000110110,
        0b001100110,
        0b001100110,
        0b011000110,
        0b110000110,
        0b111111111,
        0b111111111,
        0b000000110,
        0b000000110,
        0b000000110,
    ],
    [
        0b111111111,
        0b111111111,
        0b110000000,
        0b110000000,
        0b110000000,
        0b111111110,
        0b111111111,
        0b000000011,
        0b000000011,
        0b000000011,
        0b000000011,
        0b110000011,
        0b111111111,
        0b011111110,
    ],
    [
        0b011111110,
        0b111111111,
        0b110000011,
        0b110000000,
        0b110000000,
        0b111111110,
        0b111111111,
        0b110000011,
        0b110000011,
        0b110000011,
        0b110000011,
        0b110000011,
        0b111111111,
        0b011111110,
    ],
    [
        0b111111111,
        0b111111111,
        0b000000011,
        0b000000111,
        0b000000110,
        0b000001110,
        0b000001100,
        0b000011100,
        0b000011000,
        0b000111000,
        0b000110000,
        0b000110000,
        0b000110000,
        0b000110000,
    ],
    [
        0b011111110,
        0b111111111,
        0b110000011,
        0b110000011,
        0b110000011,
        0b110000011,
        0b011111110,
        0b011111110,
        0b110000011,
        0b110000011,
        0b110000011,
        0b110000011,
        0b111111111,
        0b011111110,
    ],
    [
        0b011111110,
        0b111111111,
        0b110000011,
        0b110000011,
        0b110000011,
        0b110000011,
        0b110000011,
        0b111111111,
        0b011111111,
        0b000000011,
        0b000000011,
        0b110000011,
        0b111111111,
        0b011111110,
    ],
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_digits_differ_by_less_than_a_whole_stroke() {
        let differing =
            |a: &[u16], b: &[u16]| a.iter().zip(b).map(|(a, b)| (a ^ b).count_ones()).sum::<u32>();
        for (i, a) in DIGITS.iter().enumerate() {
            for b in &DIGITS[..i] {
                assert!(differing(a, b) >= 8, "{i}: {}", differing(a, b));
            }
        }
    }
}
