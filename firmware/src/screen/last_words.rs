//! What the program said before it stopped itself: one page, shown at the start that follows.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::OriginDimensions;
use embedded_graphics::pixelcolor::BinaryColor;

use super::cautions::heading;
use super::pen::{self, Band, LARGE, SMALL};

/// So many letters fit a line of 128 pixels.
const LETTERS: usize = 25;

/// So many letters fit the page: five lines.
pub const LAST_WORDS_MAX: usize = 5 * LETTERS;

/// The first line's capitals, and from line to line, pixels.
const TOP: i32 = 14;
const PITCH: i32 = 9;

/// Draws the page. Words are cut into lines where a line is full, wherever that is; what is no letter of ASCII is a
/// dot.
///
/// # Errors
///
/// Only the target's own.
pub fn draw_last_words<D>(target: &mut D, words: &str) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor> + OriginDimensions,
{
    let (bar, _) = Band::whole(target.size()).cut_top(LARGE.caps + 4);
    target.clear(BinaryColor::Off)?;
    heading(target, "STOPPED ITSELF", "", bar)?;
    for (place, letter) in words.bytes().take(LAST_WORDS_MAX).enumerate() {
        let shown = if matches!(letter, b' '..=b'~') { letter } else { b'.' };
        let (line, column) = (place / LETTERS, place % LETTERS);
        let x = bar.x + 1 + column as i32 * SMALL_WIDE;
        let y = bar.y + TOP + line as i32 * PITCH;
        pen::write(
            target,
            core::str::from_utf8(&[shown]).unwrap_or_default(),
            SMALL,
            (x, y),
            BinaryColor::On,
        )?;
    }
    Ok(())
}

/// From small letter to small letter, pixels.
const SMALL_WIDE: i32 = 5;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::screen::Frame;
    use std::string::String;

    fn lit_beyond(frame: &Frame, row: usize) -> usize {
        (row..Frame::HEIGHT).map(|y| (0..Frame::WIDTH).filter(|x| frame.pixel(*x, y)).count()).sum()
    }

    #[test]
    fn the_longest_words_fit_and_more_are_cut() {
        assert_eq!(pen::width("X", SMALL), SMALL_WIDE);
        assert!(LETTERS as i32 * SMALL_WIDE < 128);
        assert!(TOP + 4 * PITCH + SMALL.caps <= 64);
        let page = |letters: usize| {
            let mut frame = Frame::new();
            draw_last_words(&mut frame, &String::from_utf8(std::vec![b'W'; letters]).unwrap()).unwrap();
            frame
        };
        assert_ne!(page(LAST_WORDS_MAX - 1), page(LAST_WORDS_MAX));
        assert_eq!(page(LAST_WORDS_MAX), page(LAST_WORDS_MAX + 1));
    }

    #[test]
    fn the_second_line_begins_with_the_26th_letter() {
        let mut frame = Frame::new();
        let second = (TOP + PITCH) as usize;
        draw_last_words(&mut frame, &" ".repeat(LETTERS)).unwrap();
        assert_eq!(lit_beyond(&frame, second), 0);
        draw_last_words(&mut frame, &(" ".repeat(LETTERS) + "W")).unwrap();
        assert!(lit_beyond(&frame, second) > 0);
    }
}
