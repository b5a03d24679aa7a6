//! The course as a settings file has it.
//!
//! A file of these two tables alone is a whole settings file; or they are pasted into one.
//!
//! Knows the survey. A survey in, TOML out; read again by the scenario's own parser before anybody sees it.

use std::fmt::Write as _;

use firmware::gnss::Position;

use super::checks::Hand;
use super::{Asked, Survey};

/// The tables; nothing while there is no course.
#[must_use]
pub fn settings(survey: &Survey, asked: &Asked) -> Option<String> {
    let (left, right) = survey.draft.line?;
    let (line, hand, laid) = (survey.line?, survey.hand?, survey.laid.as_ref()?);
    let (lap, whence) = match asked.lap_m {
        Some(lap) => (lap, "the sanctioned figure, as given"),
        None if asked.lap_along_buoys => {
            (laid.buoys.length_m, "as surveyed along the buoys: not a sanctioned figure")
        }
        None => (laid.lane.length_m, "as surveyed along the lane's middle: not a sanctioned figure"),
    };
    let sd = if line.assumed { "assumed: nothing says it" } else { "of the worse end" };
    // The order of a boat with left-hand turns, whichever way this race turns.
    let mut bends: Vec<_> = survey.draft.turns.iter().collect();
    if hand == Hand::Right {
        bends.reverse();
    }
    let mut text = String::new();
    let mut say = |line: String| text.write_fmt(format_args!("{line}\n")).unwrap_or_default();
    say("# A course by `gunline survey`. Not a sanctioned survey: the officials' rules for courses hold."
        .to_owned());
    say("\n[course]".to_owned());
    say(format!("line_left  = {}", place(left.position)));
    say(format!("line_right = {}", place(right.position)));
    say(format!("lap_length_m = {lap:.3}   # {whence}"));
    say(format!("line_sd_m = {:.3}   # across the line, {sd}", line.sd_m));
    say("\n[run_in]".to_owned());
    say(format!("turns = \"{}\"", hand.word()));
    say("bends = [".to_owned());
    for turn in bends {
        let centre = place(survey.draft.ground.position(turn.centre));
        let inside = centre.trim_matches(['[', ']']);
        say(format!("    [{inside}, {:.3}],   # turn {}", turn.radius_m, turn.number));
    }
    say("]".to_owned());
    say(format!("lane = {}", asked.lane));
    say(format!("lane_width_m = {:.3}", asked.lane_width_m));
    if let Some(entrance) = survey.draft.entrance {
        say(format!("entrance = {}", place(survey.draft.ground.position(entrance))));
    }
    Some(text)
}

/// A position as a settings file has it, to the core's own unit.
#[must_use]
pub fn place(position: Position) -> String {
    let degrees = |nano: i64| {
        let size = nano.unsigned_abs();
        format!("{}{}.{:09}", if nano < 0 { "-" } else { "" }, size / 1_000_000_000, size % 1_000_000_000)
    };
    format!("[{}, {}]", degrees(position.lat.as_nano()), degrees(position.lon.as_nano()))
}
