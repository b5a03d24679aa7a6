//! What hot laps have taught, for the driver to accept: three small lines in the bands of facts and alert.
//!
//! Each figure stands as it is in force and as it was measured. There is no offer beside an alert.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::pixelcolor::BinaryColor;

use super::Units;
use super::figures::{self, Words, words};
use super::pen::{self, Band, SMALL};
use crate::run_in::learn::Offer;
use crate::units::{Span, mul_div};
use crate::view::View;

/// From line to line, pixels.
const PITCH: i32 = SMALL.caps + 1;

/// What there is to offer: an alert comes first.
pub(super) fn shown(view: &View) -> Option<&Offer> {
    view.offer.as_ref().filter(|_| view.alert.is_none())
}

/// Draws the lines from the top of a band.
pub(super) fn draw<D>(target: &mut D, offer: &Offer, units: Units, band: Band) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    for (line, text) in (0_i32..).zip(lines(offer, units)) {
        pen::write(target, &text, SMALL, (band.x, band.y + line * PITCH), BinaryColor::On)?;
    }
    Ok(())
}

fn lines(offer: &Offer, units: Units) -> [Words; 3] {
    let (now, learned) = (pull(offer.pull_now_mm_s2), pull(offer.pull_learned_mm_s2));
    let bend = |speed| figures::speed_whole(speed, units);
    let (bend_now, bend_learned) = (bend(offer.bend_now), bend(offer.bend_learned));
    let ms = |ms: i64| Span::from_millis(ms);
    let record = match offer.forecasts {
        0 => words(format_args!("NO FORECAST TRIED YET")),
        count => {
            let (bias, spread) = (ms(i64::from(offer.bias_ms)), ms(i64::from(offer.spread_ms)));
            words(format_args!("{count} FORECASTS {} {}", figures::margin(bias), figures::plus_minus(spread)))
        }
    };
    [
        words(format_args!("PULL {now}>{learned} BEND {bend_now}>{bend_learned}")),
        record,
        words(format_args!("HOLD ACK: TAKE THIS BOAT")),
    ]
}

/// An acceleration to the nearest tenth of a m/s2; from 10 on without it.
fn pull(mm_s2: u16) -> Words {
    match mul_div(i64::from(mm_s2), 1, 100) {
        tenths @ ..100 => words(format_args!("{}.{}", tenths / 10, tenths % 10)),
        tenths => words(format_args!("{}", mul_div(tenths, 1, 10))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::MmPerSecond;

    #[test]
    fn the_longest_offer_fits_128_pixels() {
        // Pulls end at 20 m/s2 and bends at the fastest boat's 131 m/s.
        let fastest = MmPerSecond::from_mm_s(131_000);
        let offer = Offer {
            pull_now_mm_s2: 9_999,
            pull_learned_mm_s2: 20_000,
            bend_now: fastest,
            bend_learned: fastest,
            forecasts: 8,
            bias_ms: i16::MIN,
            spread_ms: u16::MAX,
        };
        for units in [Units::Mph, Units::KmPerHour] {
            for text in lines(&offer, units) {
                assert!(pen::width(&text, SMALL) <= 128, "{text}");
            }
        }
    }
}
