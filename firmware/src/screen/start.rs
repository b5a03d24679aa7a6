//! The engine's start: at the dock, before a first gun, a page of its own; with the clock armed, one line below it.
//!
//! The page stands where the race time would: EGT as large as the clock's digits, beside it how long until its
//! limit, N1, and what may still be asked of the starter. The line says the step and how long it has lasted; when
//! something is wrong, what to do about it instead, inverted. The race time is never covered.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::pixelcolor::BinaryColor;

use super::figures::{Words, percent, words};
use super::numerals;
use super::pen::{self, Band, LARGE, SMALL};
use crate::output::{Reading, StartStep};
use crate::units::{MilliCelsius, Span, mul_div};
use crate::view::{StartAct, StartView, StarterView, View};

/// From a label to its value, pixels.
const GAP: i32 = 3;
/// Width of the figures beside EGT: four digits of the clock's kind and their gaps leave so much of 128 pixels.
const BESIDE: i32 = 50;
/// A limit as far off as this is not shown.
const FAR: Span = Span::from_secs(10);

/// The start that there is to draw.
pub(super) fn shown(view: &View) -> Option<&StartView> {
    view.start.as_ref()
}

/// The page in the clock's place.
pub(super) fn draw_page<D>(target: &mut D, start: &StartView, view: &View, band: Band) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let degrees = match view.gauges.egt {
        Reading::Good(egt) => whole(egt),
        Reading::Absent | Reading::Fault => None,
    };
    numerals::draw_whole(target, degrees, band, BESIDE + GAP)?;
    let x = band.right() - BESIDE;
    let row = |place: i32| band.y + place * (band.height - LARGE.caps) / 2;
    let limit = start.to_limit.filter(|left| *left < FAR).map_or(Words::new(), tenths);
    pair(target, if limit.is_empty() { "EGT C" } else { "LIMIT" }, &limit, (x, row(0)))?;
    pair(target, "N1", &percent(view.gauges.n1), (x, row(1)))?;
    let (label, left) = starter(start.starter);
    pair(target, label, &left, (x, row(2)))
}

/// The line below the clock.
pub(super) fn draw_line<D>(target: &mut D, start: &StartView, band: Band) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    if let Some(act) = start.act {
        pen::fill(target, band, BinaryColor::On)?;
        return pen::write(target, to_do(act), SMALL, (band.x + 2, band.y + 1), BinaryColor::Off);
    }
    pen::write(target, step_text(start.step), LARGE, (band.x, band.y + 1), BinaryColor::On)?;
    let lasted = seconds(start.in_step);
    pen::write(
        target,
        &lasted,
        LARGE,
        (band.right() - pen::width(&lasted, LARGE), band.y + 1),
        BinaryColor::On,
    )
}

fn pair<D>(target: &mut D, label: &str, value: &str, (x, y): (i32, i32)) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    pen::write(target, label, SMALL, (x, y + LARGE.caps - SMALL.caps), BinaryColor::On)?;
    pen::write(target, value, LARGE, (x + pen::width(label, SMALL) + GAP, y), BinaryColor::On)
}

/// The starter's time, and whether it runs or rests.
fn starter(starter: StarterView) -> (&'static str, Words) {
    match starter {
        StarterView::Free => ("", Words::new()),
        StarterView::On { left } => ("LEFT", seconds(left)),
        StarterView::Rests { left } => ("REST", seconds(left)),
    }
}

/// Whole degrees; nothing from 2,000 on, for which the page is too narrow: type K ends at 1,372.
fn whole(egt: MilliCelsius) -> Option<u16> {
    let degrees = mul_div(i64::from(egt.as_milli()), 1, 1_000).max(0);
    u16::try_from(degrees).ok().filter(|degrees| *degrees < 2_000)
}

/// Seconds and tenths, rounded down: a limit is never said to be farther than it is.
fn tenths(span: Span) -> Words {
    let tenths = span.as_micros().max(0) / 100_000;
    words(format_args!("{}.{}", tenths / 10, tenths % 10))
}

/// Whole seconds, from 1,000 on whole minutes.
fn seconds(span: Span) -> Words {
    match span.as_micros().max(0) / 1_000_000 {
        seconds @ ..1_000 => words(format_args!("{seconds}s")),
        seconds @ ..60_000 => words(format_args!("{}m", seconds / 60)),
        _ => words(format_args!(">999")),
    }
}

/// A step in words: at most 12 capitals.
#[must_use]
pub const fn step_text(step: StartStep) -> &'static str {
    match step {
        StartStep::AtRest => "AT REST",
        StartStep::Igniters => "IGNITERS ON",
        StartStep::Cranking => "CRANKING",
        StartStep::FuelOn => "FUEL ON",
        StartStep::Lit => "LIT",
        StartStep::StarterHigh => "STARTER HIGH",
        StartStep::Accelerating => "SPEEDING UP",
        StartStep::StarterOff => "STARTER OFF",
        StartStep::PowerAway => "POWER AWAY",
        StartStep::Ready => "READY",
        StartStep::Running => "RUNNING",
        StartStep::Cooling => "FIRE IS OUT",
    }
}

/// What to do, in words; general practice, and the engine maker's manual rules.
const fn to_do(act: StartAct) -> &'static str {
    match act {
        StartAct::FuelOffKeepCranking => "FUEL OFF, KEEP CRANKING",
        StartAct::FuelOff => "FUEL OFF",
        StartAct::KeepCranking => "NO FUEL, KEEP CRANKING",
        StartAct::StarterOff => "STARTER OFF",
        StartAct::LetStarterRest => "LET THE STARTER REST",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_longest_words_fit_their_places() {
        assert!(2 + pen::width(to_do(StartAct::FuelOffKeepCranking), SMALL) <= 128);
        assert!(pen::width("STARTER HIGH", LARGE) + GAP + pen::width(">999", LARGE) <= 128);
        assert!(pen::width("LEFT", SMALL) + GAP + pen::width(">999", LARGE) <= BESIDE);
        assert!(pen::width("LIMIT", SMALL) + GAP + pen::width("9.9", LARGE) <= BESIDE);
        assert!(pen::width("REST", SMALL) + GAP + pen::width(">999", LARGE) <= BESIDE);
        assert!(pen::width("N1", SMALL) + GAP + pen::width("100.0", LARGE) <= BESIDE);
    }

    #[test]
    fn a_limit_is_never_said_to_be_farther_than_it_is() {
        assert_eq!(tenths(Span::from_micros(2_399_999)), "2.3");
        assert_eq!(seconds(Span::from_micros(39_999_999)), "39s");
        assert_eq!(seconds(Span::from_secs(1_790)), "29m");
        assert_eq!(seconds(Span::MAX), ">999");
    }
}
