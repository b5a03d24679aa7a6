//! A survey in words for a person, and in JSON lines for other programs.
//!
//! Knows the survey. A survey in, text out.

use std::io::{self, Write};

use serde_json::json;

use super::finding::Standing;
use super::ground::degrees;
use super::{Asked, Survey};

/// Writes the text.
///
/// # Errors
/// The machine's own.
pub fn text(survey: &Survey, asked: &Asked, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "Not a sanctioned survey: the officials' rules for courses hold. See docs/survey.md.\n")?;
    writeln!(out, "marks")?;
    for mark in &survey.draft.marks {
        let (lat, lon) = degrees(mark.at);
        let sd = match mark.spread {
            Some(spread) => format!("known to {:.2} m", spread.ellipse().0),
            None => format!("taken to be known to {:.1} m", asked.sd_m),
        };
        let called = if mark.name == mark.role.to_string() {
            String::new()
        } else {
            format!(", called `{}`", mark.name)
        };
        writeln!(out, "  {:<15} {lat:>13.8} {lon:>14.8}  {sd}{called}", mark.role.to_string())?;
    }
    if !survey.draft.turns.is_empty() {
        writeln!(out, "turns")?;
    }
    for turn in &survey.draft.turns {
        let (lat, lon) = degrees(survey.draft.ground.position(turn.centre));
        write!(out, "  turn {:<10} {lat:>13.8} {lon:>14.8}  radius {:.2} m", turn.number, turn.radius_m)?;
        if let Some(fitted) = &turn.fitted {
            write!(out, ", buoys {:.2} m off it (RMS)", fitted.residual_m)?;
        }
        writeln!(out, ", middle known to {:.2} m", turn.centre_sd_m)?;
    }
    writeln!(out, "checks")?;
    for finding in &survey.findings {
        let word = match finding.standing {
            Standing::Good => "good ",
            Standing::Note => "note ",
            Standing::Wrong => "WRONG",
        };
        let mark = finding.mark.as_ref().map_or(String::new(), |mark| format!("{mark}: "));
        writeln!(out, "  {word}  {mark}{}", finding.what)?;
        if !finding.right.is_empty() {
            writeln!(out, "         {}", finding.right)?;
        }
    }
    match &survey.settings {
        Some(settings) => writeln!(out, "\n{settings}"),
        None => writeln!(out, "\nNo course comes of these marks: put right what is WRONG, and ask again."),
    }
}

/// Writes JSON objects, one a line: `mark`, `turn`, `line`, `lap`, `check`, and `course` at the end.
///
/// # Errors
/// The machine's own.
pub fn lines(survey: &Survey, asked: &Asked, out: &mut impl Write) -> io::Result<()> {
    for mark in &survey.draft.marks {
        let (lat, lon) = degrees(mark.at);
        let (role, sd) = (mark.role.to_string(), mark.spread.map(|spread| spread.ellipse().0));
        writeln!(
            out,
            "{}",
            json!({"kind": "mark", "role": role, "name": mark.name, "file": mark.file, "lat": lat, "lon": lon, "sd_m": sd})
        )?;
    }
    for turn in &survey.draft.turns {
        let (lat, lon) = degrees(survey.draft.ground.position(turn.centre));
        let residual = turn.fitted.map(|fitted| fitted.residual_m);
        writeln!(
            out,
            "{}",
            json!({"kind": "turn", "turn": turn.number, "lat": lat, "lon": lon, "radius_m": turn.radius_m, "residual_m": residual, "centre_sd_m": turn.centre_sd_m})
        )?;
    }
    if let Some(line) = &survey.line {
        let square = survey.skew_deg.map(f64::abs);
        writeln!(
            out,
            "{}",
            json!({"kind": "line", "length_m": line.length_m, "sd_m": line.sd_m, "sd_assumed": line.assumed, "off_square_deg": square})
        )?;
    }
    if let Some(laid) = &survey.laid {
        writeln!(
            out,
            "{}",
            json!({"kind": "lap", "lane_m": laid.lane.length_m, "buoys_m": laid.buoys.length_m, "sanctioned_m": asked.lap_m})
        )?;
    }
    for finding in &survey.findings {
        writeln!(
            out,
            "{}",
            json!({"kind": "check", "standing": finding.standing, "mark": finding.mark, "what": finding.what, "right": finding.right})
        )?;
    }
    let turns = survey.hand.map(super::checks::Hand::word);
    writeln!(
        out,
        "{}",
        json!({"kind": "course", "stands": survey.stands(), "turns": turns, "settings": survey.settings})
    )
}
