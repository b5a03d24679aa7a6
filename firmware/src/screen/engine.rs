//! The lowest band: EGT in degrees Celsius, N1 and N2 in percent, each beside its label in a place of its own.
//! A broken sensor reads `FAULT`, a silent one `---`.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::pixelcolor::BinaryColor;

use super::figures::{percent, temperature};
use super::pen::{self, Band, SMALL};
use crate::output::Gauges;

/// Between a label and its value, pixels.
const GAP: i32 = 3;
/// The longest value: five letters, like `101.2`.
const LONGEST: &str = "FAULT";

/// Draws the band: EGT flush left, N2 flush right, N1 halfway between them.
pub(super) fn draw<D>(target: &mut D, gauges: &Gauges, band: Band) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let n2 = band.right() - cell_width("N2");
    let n1 = (band.x + cell_width("EGT") + n2 - cell_width("N1")) / 2;
    cell(target, "EGT", &temperature(gauges.egt), (band.x, band.y))?;
    cell(target, "N1", &percent(gauges.n1), (n1, band.y))?;
    cell(target, "N2", &percent(gauges.n2), (n2, band.y))
}

fn cell_width(label: &str) -> i32 {
    pen::width(label, SMALL) + GAP + pen::width(LONGEST, SMALL)
}

fn cell<D>(target: &mut D, label: &str, value: &str, (x, y): (i32, i32)) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    pen::write(target, label, SMALL, (x, y), BinaryColor::On)?;
    pen::write(target, value, SMALL, (x + pen::width(label, SMALL) + GAP, y), BinaryColor::On)
}
