//! Pairs from files: a table of moments, frames of a film, or the pulses in a journal.
//!
//! A text or a journal in, pairs out.

use firmware::input::Input;

use super::Pair;
use crate::judge::record::lives;

/// One standard deviation of a reading that falls anywhere within one unit, of that unit: 1 / root of 12.
const UNIFORM: f64 = 0.288_675_134_594_812_9;

/// A pulse's stamp: a microsecond counter and the way into an interrupt (rule T6).
pub const STAMP_S: f64 = 2e-6;

/// What is wrong with a table.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BadTable {
    /// The first line.
    #[error(
        "line 1 must read `reference_s,board_s`, or `reference_frame,board_frame` with --frames-per-second"
    )]
    Heading,
    /// Frames without their rate, or a rate without frames.
    #[error("a table of frames needs --frames-per-second, and only such a table takes it")]
    Rate,
    /// A row.
    #[error("line {0}: two numbers are wanted, with a comma between them")]
    Row(usize),
    /// A journal without pulses.
    #[error("there are no twenty pulses in a row in this journal")]
    NoPulses,
}

/// Pairs of a table, and how good a single reading is stated to be, in seconds.
///
/// # Errors
/// [`BadTable`].
pub fn table(text: &str, frames_per_second: Option<f64>) -> Result<(Vec<Pair>, f64), BadTable> {
    let mut lines = text.lines().enumerate().filter(|(_, line)| {
        let line = line.trim();
        !line.is_empty() && !line.starts_with('#')
    });
    let heading = lines.next().map(|(_, line)| line.trim()).ok_or(BadTable::Heading)?;
    let (unit_s, sd_s) = match (heading, frames_per_second) {
        ("reference_s,board_s", None) => (1.0, 0.0),
        // Both lamps are read off frames: each may have changed anywhere within one.
        ("reference_frame,board_frame", Some(rate)) if rate > 0.0 && rate.is_finite() => {
            (1.0 / rate, UNIFORM * 2_f64.sqrt() / rate)
        }
        ("reference_s,board_s", Some(_)) | ("reference_frame,board_frame", _) => return Err(BadTable::Rate),
        _ => return Err(BadTable::Heading),
    };
    let mut pairs = Vec::new();
    for (number, line) in lines {
        let row = || {
            let (reference, board) = line.split_once(',')?;
            let number = |text: &str| text.trim().parse::<f64>().ok().filter(|number| number.is_finite());
            Some(Pair { reference_s: number(reference)? * unit_s, board_s: number(board)? * unit_s })
        };
        pairs.push(row().ok_or(BadTable::Row(number + 1))?);
    }
    Ok((pairs, sd_s))
}

/// Pulses of the longest life in a journal: the reference counts whole seconds from the first, and the board starts with
/// it, so the offset at zero is nothing and what is seen is the drift.
///
/// # Errors
/// [`BadTable::NoPulses`].
pub fn pulses(journal: &[u8]) -> Result<Vec<Pair>, BadTable> {
    let stamps = |life: &crate::judge::record::Life| -> Vec<f64> {
        let pulses = life.steps.iter().filter(|step| matches!(step.input, Input::Pps));
        pulses.map(|step| step.at.as_micros() as f64 / 1e6).collect()
    };
    let longest = lives(journal).iter().map(stamps).max_by_key(Vec::len).unwrap_or_default();
    let Some(first) = longest.first().copied().filter(|_| longest.len() >= 20) else {
        return Err(BadTable::NoPulses);
    };
    let seconds = longest.iter().map(|at| at - first);
    // A stray pulse lies nowhere near a whole second of the others.
    let pair = |at: f64| Pair { reference_s: at.round(), board_s: at };
    Ok(seconds.map(pair).filter(|pair| (pair.board_s - pair.reference_s).abs() < 0.2).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_of_seconds_and_one_of_frames_are_read() {
        let (pairs, sd) = table("reference_s,board_s\n0,0.010\n60, 60.011\n", None).unwrap();
        assert_eq!(pairs[1], Pair { reference_s: 60.0, board_s: 60.011 });
        assert_eq!(sd, 0.0);
        let (pairs, sd) = table("# filmed\nreference_frame,board_frame\n240,243\n", Some(240.0)).unwrap();
        assert_eq!(pairs[0], Pair { reference_s: 1.0, board_s: 1.0125 });
        // A uniform distribution one frame wide has a deviation of 1 / root of 12, and there are two readings.
        assert!((sd - (2.0_f64 / 12.0).sqrt() / 240.0).abs() < 1e-12);
    }

    #[test]
    fn what_is_wrong_with_a_table_is_named() {
        assert_eq!(table("", None), Err(BadTable::Heading));
        assert_eq!(table("a,b\n1,2", None), Err(BadTable::Heading));
        assert_eq!(table("reference_frame,board_frame\n1,2", None), Err(BadTable::Rate));
        assert_eq!(table("reference_s,board_s\n1,2", Some(60.0)), Err(BadTable::Rate));
        assert_eq!(table("reference_s,board_s\n1,2\n3", None), Err(BadTable::Row(3)));
        assert_eq!(table("reference_s,board_s\n1,nan", None), Err(BadTable::Row(2)));
    }
}
