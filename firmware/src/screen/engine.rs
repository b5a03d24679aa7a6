//! The lowest band: EGT in degrees Celsius, N1 and N2 in percent, each beside its label in a place of its own.
//! A broken sensor reads `FAULT`, a silent one `---`; an EGT that one of its probes speaks against has a `?`.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::pixelcolor::BinaryColor;

use super::figures::{Words, percent, temperature, words};
use super::pen::{self, Band, SMALL};
use crate::output::{Quantity, Reading};
use crate::view::{Ahead, Trust, View};

/// Between a label and its value, pixels.
const GAP: i32 = 3;
/// The longest value: five letters, like `101.2`.
const LONGEST: &str = "FAULT";

/// Draws the band: EGT flush left, N2 flush right, N1 halfway between them.
///
/// The label of the gauge whose limit is at hand makes way for the seconds left, inverted; its place stays.
pub(super) fn draw<D>(target: &mut D, view: &View, band: Band) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let gauges = &view.gauges;
    let n2 = band.right() - cell_width("N2");
    let n1 = (band.x + cell_width("EGT") + n2 - cell_width("N1")) / 2;
    let left = |quantity| view.ahead.filter(|ahead| ahead.quantity == quantity).and_then(seconds);
    let mut egt = temperature(gauges.egt);
    if view.trust.contains(&Trust::Doubtful) && matches!(gauges.egt, Reading::Good(_)) {
        egt = words(format_args!("{egt}?"));
    }
    cell(target, ("EGT", left(Quantity::Egt)), &egt, (band.x, band.y))?;
    cell(target, ("N1", left(Quantity::N1)), &percent(gauges.n1), (n1, band.y))?;
    cell(target, ("N2", left(Quantity::N2)), &percent(gauges.n2), (n2, band.y))
}

/// Whole seconds left, rounded down: never more than there are. Beyond 99 it is not at hand.
fn seconds(ahead: Ahead) -> Option<Words> {
    let seconds = ahead.left.as_micros() / 1_000_000;
    (0..100).contains(&seconds).then(|| words(format_args!("{seconds:>2}")))
}

fn cell_width(label: &str) -> i32 {
    pen::width(label, SMALL) + GAP + pen::width(LONGEST, SMALL)
}

fn cell<D>(
    target: &mut D,
    (label, left): (&str, Option<Words>),
    value: &str,
    (x, y): (i32, i32),
) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let width = pen::width(label, SMALL);
    match left {
        None => pen::write(target, label, SMALL, (x, y), BinaryColor::On)?,
        Some(left) => {
            let box_ = Band { x, y: y - 1, width: width + 1, height: SMALL.caps + 1 };
            pen::fill(target, box_, BinaryColor::On)?;
            let start = x + 1 + width - pen::width(&left, SMALL);
            pen::write(target, &left, SMALL, (start, y), BinaryColor::Off)?;
        }
    }
    pen::write(target, value, SMALL, (x + width + GAP, y), BinaryColor::On)
}
