//! The survey's page: which mark, how well it is known, and what the button does.
//!
//! Three lines in the clock's place. It goes with the first signal: the race time is never covered.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::pixelcolor::BinaryColor;

use super::figures::{Words, words};
use super::pen::{self, Band, LARGE};
use crate::units::Millimetres;
use crate::view::{SurveyStands, SurveyView, View};

/// What there is to draw: nothing once a clock is armed.
pub(super) fn shown(view: &View) -> Option<&SurveyView> {
    view.survey.as_ref().filter(|_| view.race.is_none())
}

/// The page in the clock's place.
pub(super) fn draw_page<D>(target: &mut D, survey: &SurveyView, band: Band) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor>,
{
    let (number, figures, time) = figures(survey);
    let (says, below) = says(survey.stands);
    let step = (band.height - LARGE.caps) / 2;
    let lines = [("SURVEY  MARK ", &number, 0), (says, &figures, step), (below, &time, step * 2)];
    for (label, value, down) in lines {
        let y = band.y + down;
        pen::write(target, label, LARGE, (band.x, y), BinaryColor::On)?;
        pen::write(target, value, LARGE, (band.x + pen::width(label, LARGE), y), BinaryColor::On)?;
    }
    Ok(())
}

/// What stands before the figures: how it stands, and what to do.
const fn says(stands: SurveyStands) -> (&'static str, &'static str) {
    const LEAVE: &str = "HOLD ACK TO LEAVE";
    const STILL: &str = "LIE STILL";
    match stands {
        SurveyStands::Averaging { fixes: 0, .. } => ("WAITING FOR A FIX", STILL),
        SurveyStands::Averaging { .. } => ("", ""),
        SurveyStands::Marked { .. } => ("TAKEN, ", LEAVE),
        SurveyStands::Ready => ("PRESS ACK TO MARK", LEAVE),
        SurveyStands::Moving => ("NO: THE BOAT MOVES", STILL),
        SurveyStands::Adrift => ("NO: THE BOAT DRIFTS", STILL),
        SurveyStands::NoFix => ("NO: NO FIX", LEAVE),
        SurveyStands::TooShort => ("NO: TOO SHORT", LEAVE),
    }
}

/// The mark's number, how well it is known, and what it rests on.
fn figures(survey: &SurveyView) -> (Words, Words, Words) {
    let number = words(format_args!("{}", survey.number));
    match survey.stands {
        SurveyStands::Averaging { fixes: fixes @ 1.., time, sd } => {
            let known = words(format_args!("{} M OF {}", hundredths(sd), hundredths(survey.accuracy)));
            (number, known, words(format_args!("{}S {fixes} FIXES", time.as_micros() / 1_000_000)))
        }
        SurveyStands::Marked { sd } => (number, words(format_args!("{} M", hundredths(sd))), Words::new()),
        _ => (number, Words::new(), Words::new()),
    }
}

/// Metres to the hundredth, rounded up: never said to be better than it is.
fn hundredths(length: Millimetres) -> Words {
    match length.as_mm().max(0).saturating_add(9) / 10 {
        all @ ..10_000 => words(format_args!("{}.{:02}", all / 100, all % 100)),
        _ => words(format_args!(">99")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Span;

    #[test]
    fn the_longest_words_fit_and_no_error_is_said_to_be_less_than_it_is() {
        let mm = Millimetres::from_mm;
        let all = [
            SurveyStands::Ready,
            SurveyStands::Moving,
            SurveyStands::Adrift,
            SurveyStands::NoFix,
            SurveyStands::TooShort,
            SurveyStands::Marked { sd: mm(99_990) },
            SurveyStands::Averaging { fixes: 0, time: Span::ZERO, sd: Millimetres::MAX },
            SurveyStands::Averaging { fixes: u16::MAX, time: Span::from_secs(1_200), sd: mm(99_990) },
        ];
        for stands in all {
            let (_, figures, time) = figures(&SurveyView { number: u8::MAX, stands, accuracy: mm(99_990) });
            let (says, below) = says(stands);
            for (label, value) in [(says, figures), (below, time)] {
                assert!(pen::width(label, LARGE) + pen::width(&value, LARGE) <= 128, "{label}{value}");
                assert!(!(label.is_empty() && value.is_empty()), "{stands:?}");
            }
        }
        assert_eq!(hundredths(mm(701)), "0.71");
        assert_eq!(hundredths(mm(700)), "0.70");
        assert_eq!(hundredths(mm(12_340)), "12.34");
        assert_eq!(hundredths(Millimetres::MAX), ">99");
    }
}
