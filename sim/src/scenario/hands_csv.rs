//! Recorded hands: a CSV file with the columns `t_s,throttle_pct,helm_pct`, where `t_s` is race time; and, where the
//! fuel lever was shut at any time, `fuel_lever`: 1 is open, 0 is shut.
//!
//! A row says where throttle and helm are from its moment on, until the next row. Moments are whole hundredths of a
//! second, the world's step; throttle and helm have one decimal: so a drive is held exactly, and plays again bit for bit.
//!
//! Text in, rows out, or what is wrong with them, by line; and rows back into text.

use std::fmt::Write as _;
use std::sync::Arc;

use firmware::units::Span;

use super::number::Decimal;
use super::report::{Mistake, Source};
use crate::world::craft::{Hands, HandsAt};

/// The first line of a file.
const HEADER: &str = "t_s,throttle_pct,helm_pct";
/// The same with the fuel lever.
const HEADER_WITH_LEVER: &str = "t_s,throttle_pct,helm_pct,fuel_lever";
/// After so many mistakes a file is most likely something else.
const MISTAKES_MAX: usize = 10;

/// Reads a recording; rows must come in the order of time.
///
/// # Errors
/// Everything wrong with the file, up to ten mistakes.
pub fn read(source: &Arc<Source>) -> Result<Vec<HandsAt>, Vec<Mistake>> {
    let mut lines = source.text.split_inclusive('\n');
    let first = lines.next().unwrap_or_default();
    let with_lever = first.trim_end() == HEADER_WITH_LEVER;
    if first.trim_end() != HEADER && !with_lever {
        return Err(vec![Mistake::of(
            source,
            "this is no recording of hands",
            format!("the first line is: {HEADER}"),
        )]);
    }
    let (mut rows, mut mistakes): (Vec<HandsAt>, _) = (Vec::new(), Vec::new());
    let mut start = first.len();
    for line in lines {
        let text = line.trim_end_matches(['\n', '\r']);
        let mut wrong = |what: String, right: &str| {
            mistakes.push(Mistake::at(source, start..start + text.len(), what, right));
        };
        match row(text, with_lever) {
            _ if text.trim().is_empty() => {}
            Some(row) if rows.last().is_some_and(|last| row.at <= last.at) => {
                wrong("this row is not later than the one before".to_owned(), "rows go forward in time");
            }
            Some(row) => rows.push(row),
            None => wrong(
                format!("\"{}\" is no row", text.trim()),
                "time in whole hundredths of a second, throttle from 0 to 100, helm from -100 to 100, each with \
                 at most one decimal: -12.34,100,-5.5; and the fuel lever as 0 or 1 where the first line names it",
            ),
        }
        if mistakes.len() == MISTAKES_MAX {
            break;
        }
        start += line.len();
    }
    if mistakes.is_empty() { Ok(rows) } else { Err(mistakes) }
}

fn row(line: &str, with_lever: bool) -> Option<HandsAt> {
    let mut fields = line.split(',').map(|field| Decimal::parse(field.trim()));
    let (t, throttle, helm) = (fields.next()??, fields.next()??, fields.next()??);
    let exact = |number: Decimal, decimals: u32| {
        let units = number.in_units(decimals);
        (number.in_units(6) == units.checked_mul(10_i64.pow(6 - decimals))?).then_some(units)
    };
    let at = Span::from_micros(exact(t, 2)?.checked_mul(10_000)?);
    let throttle = u16::try_from(exact(throttle, 1)?).ok().filter(|it| *it <= Hands::FULL)?;
    let helm = i16::try_from(exact(helm, 1)?).ok().filter(|it| it.unsigned_abs() <= Hands::FULL)?;
    let open = if with_lever {
        match exact(fields.next()??, 0)? {
            0 => false,
            1 => true,
            _ => return None,
        }
    } else {
        true
    };
    fields.next().is_none().then_some(HandsAt { at, hands: Hands { throttle, helm, open } })
}

/// The text of a recording: what [`read`] makes the same rows of.
#[must_use]
pub fn text(rows: &[HandsAt]) -> String {
    let with_lever = rows.iter().any(|row| !row.hands.open);
    let mut text = format!("{}\n", if with_lever { HEADER_WITH_LEVER } else { HEADER });
    for HandsAt { at, hands } in rows {
        let (t, helm) = (at.as_micros().div_euclid(10_000), hands.helm);
        let lever = match (with_lever, hands.open) {
            (false, _) => "",
            (true, true) => ",1",
            (true, false) => ",0",
        };
        let _ = writeln!(
            text,
            "{}{}.{:02},{}.{},{}{}.{}{lever}",
            if t < 0 { "-" } else { "" },
            t.unsigned_abs() / 100,
            t.unsigned_abs() % 100,
            hands.throttle / 10,
            hands.throttle % 10,
            if helm < 0 { "-" } else { "" },
            helm.unsigned_abs() / 10,
            helm.unsigned_abs() % 10,
        );
    }
    text
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn read_text(text: &str) -> Result<Vec<HandsAt>, usize> {
        let source = Arc::new(Source { name: "hands.csv".to_owned(), text: text.to_owned() });
        read(&source).map_err(|mistakes| mistakes.len())
    }

    #[test]
    fn rows_read_as_written_by_hand() {
        let rows = read_text("t_s,throttle_pct,helm_pct\r\n-12.34, 100, -5.5\n\n0,0,0\n").unwrap();
        let row = |us, throttle, helm| HandsAt {
            at: Span::from_micros(us),
            hands: Hands { throttle, helm, open: true },
        };
        assert_eq!(rows, [row(-12_340_000, 1_000, -55), row(0, 0, 0)]);
        let rows = read_text("t_s,throttle_pct,helm_pct,fuel_lever\n-1,0,0,0\n0,0,0,1\n").unwrap();
        assert_eq!(rows.iter().map(|row| row.hands.open).collect::<Vec<_>>(), [false, true]);
    }

    #[test]
    fn what_a_recording_cannot_hold_is_refused() {
        for bad in ["1.001,0,0", "1,100.1,0", "1,-1,0", "1,0,100.05", "1,0", "1,0,0,0", "now,0,0", "1,0.05,0"]
        {
            assert_eq!(read_text(&format!("{HEADER}\n0.5,0,0\n{bad}\n")), Err(1), "{bad}");
        }
        assert_eq!(read_text(&format!("{HEADER}\n1,0,0\n1,5,0\n")), Err(1), "not later");
        assert_eq!(read_text("t_s\n"), Err(1));
        assert_eq!(read_text(&format!("{HEADER_WITH_LEVER}\n1,0,0\n2,0,0,2\n3,0,0,1\n")), Err(2));
        assert_eq!(read_text(&format!("{HEADER}\n{}", "x\n".repeat(50))), Err(10));
    }

    proptest! {
        #[test]
        fn a_recording_comes_back_from_its_text(
            moves in proptest::collection::vec(
                (1_i64..500, 0_u16..=1_000, -1_000_i16..=1_000, proptest::bool::weighted(0.9)), 0..40)
        ) {
            let mut t = -300_000_000;
            let rows: Vec<_> = moves.into_iter().map(|(after, throttle, helm, open)| {
                t += after * 10_000;
                HandsAt { at: Span::from_micros(t), hands: Hands { throttle, helm, open } }
            }).collect();
            prop_assert_eq!(read_text(&text(&rows)), Ok(rows));
        }
    }
}
