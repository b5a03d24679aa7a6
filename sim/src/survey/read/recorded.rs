//! Marks that a board took, from its journal.
//!
//! They are called by their numbers, as the board showed them: `1`, `2`. A board that was switched off counts from 1 again;
//! then the later ones are called `b1`, `b2`, those after the next time `c1`, and so on.
//!
//! Knows the journal. Bytes in, named places out.

use firmware::journal::{Entry, Reader, Record};
use firmware::output::Output;

use super::{Faults, fault};
use crate::survey::mark::{Placed, Spread};

/// Whether these bytes begin as a journal does.
pub fn is_journal(bytes: &[u8]) -> bool {
    let first = Reader::new(bytes).next();
    matches!(first, Some(Entry::Record { record: Record::Opening { .. }, .. }))
}

/// The marks of a journal.
pub fn places(file: &str, bytes: &[u8]) -> Result<Vec<Placed>, Faults> {
    let (mut places, mut broken) = (Vec::new(), 0);
    let (mut times, mut last) = (0_u8, 0);
    for entry in Reader::new(bytes) {
        match entry {
            Entry::Broken { .. } => broken += 1,
            Entry::Record {
                record: Record::Decision(Output::Marked { number, position, sd, .. }), ..
            } => {
                times += u8::from(number <= last);
                last = number;
                let name = match times {
                    0 => number.to_string(),
                    times => format!("{}{number}", char::from(b'a'.saturating_add(times.min(25)))),
                };
                let spread = Some(Spread::round(sd.as_mm() as f64 / 1e3));
                places.push(Placed { name, line: None, at: position, spread, radius_m: None });
            }
            Entry::Record { .. } => {}
        }
    }
    if places.is_empty() {
        let right = "a board takes marks on its survey page; see docs/survey.md";
        return Err(vec![fault(file, "there is no mark in this journal", right)]);
    }
    if broken > 0 {
        let right = "a damaged record may lack a mark: count them, and see `gunline judge`";
        eprintln!("warning: {file}: {broken} places in this journal are damaged\n  help: {right}");
    }
    Ok(places)
}
