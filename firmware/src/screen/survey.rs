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
    for (place, text) in (0_i32..).zip(lines(survey)) {
        let y = band.y + place * (band.height - LARGE.caps) / 2;
        pen::write(target, &text, LARGE, (band.x, y), BinaryColor::On)?;
    }
    Ok(())
}

fn lines(survey: &SurveyView) -> [Words; 3] {
    let (says, below) = match survey.stands {
        SurveyStands::Averaging { fixes: 0, .. } => (words(format_args!("WAITING FOR A FIX")), keep_still()),
        SurveyStands::Averaging { fixes, time, sd } => (
            words(format_args!("{} M OF {}", hundredths(sd), hundredths(survey.accuracy))),
            words(format_args!("{}S {fixes} FIXES", time.as_micros() / 1_000_000)),
        ),
        SurveyStands::Marked { sd } => (words(format_args!("TAKEN, {} M", hundredths(sd))), leave()),
        SurveyStands::Ready => (words(format_args!("PRESS ACK TO MARK")), leave()),
        SurveyStands::Moving => (words(format_args!("NO: THE BOAT MOVES")), keep_still()),
        SurveyStands::Adrift => (words(format_args!("NO: THE BOAT DRIFTS")), keep_still()),
        SurveyStands::NoFix => (words(format_args!("NO: NO FIX")), leave()),
        SurveyStands::TooShort => (words(format_args!("NO: TOO SHORT")), leave()),
    };
    [words(format_args!("SURVEY  MARK {}", survey.number)), says, below]
}

fn leave() -> Words {
    words(format_args!("HOLD ACK TO LEAVE"))
}

fn keep_still() -> Words {
    words(format_args!("LIE STILL"))
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
            for line in lines(&SurveyView { number: u8::MAX, stands, accuracy: mm(99_990) }) {
                assert!(pen::width(&line, LARGE) <= 128 && !line.is_empty(), "{line}");
            }
        }
        assert_eq!(hundredths(mm(701)), "0.71");
        assert_eq!(hundredths(mm(700)), "0.70");
        assert_eq!(hundredths(mm(12_340)), "12.34");
        assert_eq!(hundredths(Millimetres::MAX), ">99");
    }
}
