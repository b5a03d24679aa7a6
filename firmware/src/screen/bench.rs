//! On the bench the uppermost band says so, and nothing else: lit from edge to edge, so that nobody takes what is below
//! for a start (rule B6). Where in the heat and how well zero is known stand there otherwise; the clock is never touched.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::OriginDimensions;
use embedded_graphics::pixelcolor::BinaryColor;

use super::Bands;
use super::pen::{self, Band, WIDE};

/// What it says, three times over.
const WORD: &str = "BENCH";
const TIMES: i32 = 3;

/// Draws it over what [`super::draw_on`] has drawn.
///
/// # Errors
///
/// Only the target's own.
pub fn draw_bench<D>(target: &mut D) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor> + OriginDimensions,
{
    let band = Bands::of(Band::whole(target.size())).standing;
    pen::fill(target, band, BinaryColor::On)?;
    let share = band.width / TIMES;
    let into = (share - pen::width(WORD, WIDE)) / 2;
    for nth in 0..TIMES {
        pen::write(target, WORD, WIDE, (band.x + nth * share + into, band.y), BinaryColor::Off)?;
    }
    Ok(())
}
