//! The uppermost band: where in the heat we stand, how well zero is known, whether engine limits or boat are a
//! demonstration, how the clock is tied to UTC.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::pixelcolor::BinaryColor;

use super::figures::{Words, laps, plus_minus, words};
use super::pen::{self, Band, SMALL, Stamp, WIDE};
use crate::output::Tie;
use crate::view::{Phase, View};

/// The engine limits, the start's or the boat's figures are the demonstration set.
const DEMO: &str = "DEMO";
/// Width of the mark of the tie, pixels.
const MARK_WIDTH: i32 = 7;
/// Between two notes, pixels; their last letters bring a blank column of their own.
const GAP: i32 = 3;

/// Draws the band: the place from the left, the notes from the right.
pub(super) fn draw<D>(target: &mut D, view: &View, band: Band) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let ink = BinaryColor::On;
    pen::write(target, &place(view), WIDE, (band.x, band.y), ink)?;
    let mark = band.right() - MARK_WIDTH;
    pen::stamp(target, &tie_mark(view.tie), mark, band.y, ink)?;
    let demo = mark - GAP - pen::width(DEMO, WIDE);
    let start_demo = view.start.is_some_and(|start| start.demonstration);
    if view.demo_limits || start_demo || view.run_in.is_some_and(|run_in| run_in.demonstration) {
        pen::write(target, DEMO, WIDE, (demo, band.y), ink)?;
    }
    let sigma = sigma(view);
    pen::write(target, &sigma, SMALL, (demo - GAP - pen::width(&sigma, SMALL), band.y), ink)
}

/// Where in the heat, in words.
fn place(view: &View) -> Words {
    let laps = laps(view.laps_done, view.laps_owed);
    match view.phase {
        Phase::Waiting => words(format_args!("ADVICE ONLY")),
        Phase::Milling => words(format_args!("MILLING")),
        Phase::Window => words(format_args!("WINDOW")),
        Phase::Late => words(format_args!("ZERO PAST")),
        Phase::Racing => words(format_args!("LAPS DONE {laps}")),
        Phase::Finished => words(format_args!("FINISHED {laps}")),
    }
}

/// How well zero is known, while the start is ahead: the call has its own deviation afterwards.
fn sigma(view: &View) -> Words {
    let ahead = matches!(view.phase, Phase::Milling | Phase::Window | Phase::Late);
    view.zero_sigma.filter(|_| ahead).map(plus_minus).unwrap_or_default()
}

/// The fuller the box, the better the tie; a cross for none.
fn tie_mark(tie: Tie) -> Stamp<'static> {
    let rows: &[u16] = match tie {
        Tie::None => &[0b1100011, 0b0110110, 0b0011100, 0b0011100, 0b0110110, 0b1100011],
        Tie::Told => &[0b1110111, 0b1000001, 0b0000000, 0b0000000, 0b1000001, 0b1110111],
        Tie::Arrivals => &[0b1111111, 0b1000001, 0b1000001, 0b1000001, 0b1000001, 0b1111111],
        Tie::Holdover => &[0b1111111, 0b1000001, 0b1000001, 0b1111111, 0b1111111, 0b1111111],
        Tie::Pps => &[0b1111111, 0b1111111, 0b1111111, 0b1111111, 0b1111111, 0b1111111],
    };
    Stamp { rows, width: MARK_WIDTH, across: 1, down: 1 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::{Gauges, Reading};
    use crate::units::Span;

    fn at(phase: Phase, laps: u16) -> View {
        View {
            phase,
            race: None,
            zero_sigma: Some(Span::MAX),
            zero_moved: None,
            call: None,
            laps_done: laps,
            laps_owed: laps,
            last_lap: None,
            speed: None,
            tie: Tie::None,
            gauges: Gauges { egt: Reading::Absent, n1: Reading::Absent, n2: Reading::Absent },
            alert: None,
            alerts_waiting: 0,
            demo_limits: true,
            run_in: None,
            resumed: false,
            finding_zero: false,
            no_course: false,
            offer: None,
            start: None,
            caution: None,
            ahead: None,
            trust: Default::default(),
            survey: None,
        }
    }

    #[test]
    fn the_longest_standing_fits_128_pixels() {
        let phases =
            [Phase::Waiting, Phase::Milling, Phase::Window, Phase::Late, Phase::Racing, Phase::Finished];
        for (phase, laps) in phases.iter().flat_map(|phase| [1, 99, u16::MAX].map(|laps| (*phase, laps))) {
            let view = at(phase, laps);
            let parts = [
                pen::width(&place(&view), WIDE),
                pen::width(&sigma(&view), SMALL),
                pen::width(DEMO, WIDE),
                MARK_WIDTH,
            ];
            let gaps = parts.iter().filter(|part| **part > 0).count() as i32 - 1;
            assert!(parts.iter().sum::<i32>() + gaps * GAP <= 128, "{phase:?}, {laps} laps");
        }
    }
}
