//! The band under the clock: the one thing to know next. The speed while milling, where there is no run-in to
//! show, and beside it what happened to zero; the call after the start, the last lap from then on; the call again
//! when the heat is run.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::pixelcolor::BinaryColor;

use super::Units;
use super::figures::{self, Words, words};
use super::pen::{self, Band, LARGE, Letters, SMALL};
use crate::output::Call;
use crate::units::{MmPerSecond, Span};
use crate::view::{CallView, LapView, Phase, View};

/// Between two pieces of one side, pixels.
const PIECE_GAP: i32 = 2;

/// What the band says: pieces from the left edge, and pieces up to the right edge.
struct Facts {
    left: [Piece; 2],
    right: [Piece; 2],
    /// The left side is shown inverted.
    inverted: bool,
}

/// A text in one size. An empty one takes no room.
struct Piece {
    words: Words,
    letters: &'static Letters,
}

/// Draws the band.
pub(super) fn draw<D>(target: &mut D, view: &View, units: Units, band: Band) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let facts = facts(view, units);
    let (mut start, mut ink) = (band.x, BinaryColor::On);
    if facts.inverted {
        pen::fill(target, Band { width: width(&facts.left) + 3, ..band }, ink)?;
        (start, ink) = (start + 2, BinaryColor::Off);
    }
    write(target, &facts.left, start, band, ink)?;
    write(target, &facts.right, band.right() - width(&facts.right), band, BinaryColor::On)
}

fn facts(view: &View, units: Units) -> Facts {
    match (view.phase, view.call, view.last_lap) {
        (Phase::Waiting, ..) => waiting(view.finding_zero, view.no_course),
        (Phase::Finished, Some(call), _) | (Phase::Racing, Some(call), None) => verdict(call),
        (Phase::Racing | Phase::Finished, _, Some(last)) => lap(last, units),
        _ => speed(view.speed, beside_speed(view.zero_moved, view.resumed), units),
    }
}

/// For a first signal; or, after a cut, for UTC to tell where zero was.
/// Without a course the dash is a clock and an engine watch, and says so.
fn waiting(finding_zero: bool, no_course: bool) -> Facts {
    let (what, right) = match (finding_zero, no_course) {
        (true, _) => ("ZERO WAITS FOR UTC", none()),
        (false, true) => ("NO COURSE", small("CLOCK ONLY")),
        (false, false) => ("WAITS FOR FIRST GUN", none()),
    };
    Facts { left: [large(what), none()], right: [right, none()], inverted: no_course && !finding_zero }
}

/// When zero has just moved, by how much; else whether it came through a restart.
fn beside_speed(zero_moved: Option<Span>, resumed: bool) -> [Piece; 2] {
    match zero_moved {
        Some(moved) => [small("ZERO"), large(&figures::margin(moved))],
        None if resumed => [small("RESUMED"), none()],
        None => [none(), none()],
    }
}

fn speed(speed: Option<MmPerSecond>, right: [Piece; 2], units: Units) -> Facts {
    let figure = speed.map_or(words(format_args!("---")), |speed| figures::speed_whole(speed, units));
    Facts { left: [large(&figure), unit(units)], right, inverted: false }
}

/// Two words of equal length must not differ by their letters alone: an early start is inverted.
fn verdict(call: CallView) -> Facts {
    let answer = match call.call {
        Call::Early => "EARLY",
        Call::Legal => "LEGAL",
        Call::TooClose => "TOO CLOSE",
    };
    Facts {
        left: [large(answer), none()],
        right: [large(&figures::margin(call.margin)), small(&figures::plus_minus(call.sigma))],
        inverted: call.call == Call::Early,
    }
}

fn lap(last: LapView, units: Units) -> Facts {
    Facts {
        left: [small("LAP"), large(&figures::lap_time(last.time))],
        right: [large(&figures::speed_tenths(last.speed, units)), unit(units)],
        inverted: false,
    }
}

fn large(text: &str) -> Piece {
    Piece { words: words(format_args!("{text}")), letters: LARGE }
}

fn small(text: &str) -> Piece {
    Piece { words: words(format_args!("{text}")), letters: SMALL }
}

fn unit(units: Units) -> Piece {
    small(figures::speed_unit(units))
}

fn none() -> Piece {
    small("")
}

fn width(pieces: &[Piece; 2]) -> i32 {
    pieces
        .iter()
        .filter(|piece| !piece.words.is_empty())
        .map(|piece| pen::width(&piece.words, piece.letters) + PIECE_GAP)
        .sum::<i32>()
        .saturating_sub(PIECE_GAP)
        .max(0)
}

/// Writes pieces side by side, standing on one line.
fn write<D>(
    target: &mut D,
    pieces: &[Piece; 2],
    mut x: i32,
    band: Band,
    ink: BinaryColor,
) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    for piece in pieces.iter().filter(|piece| !piece.words.is_empty()) {
        let y = band.y + 1 + LARGE.caps - piece.letters.caps;
        pen::write(target, &piece.words, piece.letters, (x, y), ink)?;
        x += pen::width(&piece.words, piece.letters) + PIECE_GAP;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fits(facts: &Facts) -> bool {
        let left = width(&facts.left) + if facts.inverted { 3 } else { 0 };
        left + PIECE_GAP + width(&facts.right) <= 128
    }

    #[test]
    fn the_longest_facts_fit_128_pixels() {
        for finding_zero in [true, false] {
            assert!([true, false].into_iter().all(|no_course| fits(&waiting(finding_zero, no_course))));
        }
        let (margin, sigma) = (Span::from_millis(-99_990), Span::MAX);
        for call in [Call::Early, Call::Legal, Call::TooClose] {
            assert!(fits(&verdict(CallView { call, margin, sigma })), "{call:?}");
        }
        let last = LapView { time: Span::from_millis(5_999_990), speed: MmPerSecond::from_mm_s(277_000) };
        for units in [Units::Mph, Units::KmPerHour] {
            assert!(fits(&lap(last, units)));
            assert!(fits(&speed(Some(last.speed), beside_speed(Some(margin), true), units)));
            assert!(fits(&speed(Some(last.speed), beside_speed(None, true), units)));
        }
    }
}
