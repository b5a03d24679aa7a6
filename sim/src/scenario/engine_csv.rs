//! An engine's recording: a CSV file with the columns `t_s,egt_c,n1_pct,n2_pct`, where `t_s` is race time.
//!
//! Text in, rows out, or what is wrong with them, by line and column.

use std::sync::Arc;

use super::report::{Mistake, Source};
use crate::recording::EngineRow;

/// The first line, and for each column the least and the most that it may hold.
const COLUMNS: [(&str, f64, f64); 4] = [
    ("t_s", -86_400.0, 86_400.0),
    // Where type K tables begin and end.
    ("egt_c", -270.0, 1_372.0),
    ("n1_pct", 0.0, 200.0),
    ("n2_pct", 0.0, 200.0),
];

/// After so many mistakes a file is most likely no recording at all, and the rest is not looked at.
const MISTAKES_MAX: usize = 10;

/// Reads a recording; rows must come in the order of time.
///
/// # Errors
/// Everything wrong with the file, up to ten mistakes.
pub fn read(source: &Arc<Source>) -> Result<Vec<EngineRow>, Vec<Mistake>> {
    let mut mistakes = Vec::new();
    let mut rows: Vec<EngineRow> = Vec::new();
    let mut lines = lines(&source.text);
    if let Err(mistake) = header(source, lines.next()) {
        return Err(vec![mistake]);
    }
    for (start, line) in lines.filter(|(_, line)| !line.trim().is_empty()) {
        match row(source, start, line) {
            Ok(row) if rows.last().is_some_and(|last| row.t_s <= last.t_s) => {
                let what = format!("`t_s` is {}, not later than the row before", row.t_s);
                mistakes.push(Mistake::at(
                    source,
                    start..start + line.len(),
                    what,
                    "rows go forward in time",
                ));
            }
            Ok(row) => rows.push(row),
            Err(mistake) => mistakes.push(mistake),
        }
        if mistakes.len() == MISTAKES_MAX {
            break;
        }
    }
    if rows.is_empty() && mistakes.is_empty() {
        mistakes.push(Mistake::of(
            source,
            "the recording has no rows",
            "write a row for each moment: -10.0,560,62,10",
        ));
    }
    if mistakes.is_empty() { Ok(rows) } else { Err(mistakes) }
}

/// The lines without their ends, and where each begins.
fn lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let mut start = 0;
    text.split_inclusive('\n').map(move |line| {
        let at = start;
        start += line.len();
        (at, line.trim_end_matches(['\n', '\r']))
    })
}

fn header(source: &Arc<Source>, first: Option<(usize, &str)>) -> Result<(), Mistake> {
    let names = COLUMNS.map(|(name, ..)| name).join(",");
    let right = format!("the first line is: {names}");
    match first {
        Some((_, line)) if line.split(',').map(str::trim).eq(names.split(',')) => Ok(()),
        Some((start, line)) => Err(Mistake::at(
            source,
            start..start + line.len(),
            "this is not the header of a recording",
            right,
        )),
        None => Err(Mistake::of(source, "the file is empty", right)),
    }
}

fn row(source: &Arc<Source>, start: usize, line: &str) -> Result<EngineRow, Mistake> {
    let fields = line.split(',').count();
    if fields != COLUMNS.len() {
        let what = format!("the row has {fields} columns");
        let right = format!("four: {}", COLUMNS.map(|(name, ..)| name).join(","));
        return Err(Mistake::at(source, start..start + line.len(), what, right));
    }
    let mut numbers = [0.0; COLUMNS.len()];
    let mut at = start;
    for ((field, (name, least, most)), number) in line.split(',').zip(COLUMNS).zip(&mut numbers) {
        *number = field.trim().parse().unwrap_or(f64::NAN);
        if !(least..=most).contains(number) {
            let what = format!("`{name}` is \"{}\"", field.trim());
            let right = format!("write a number from {least} to {most}");
            return Err(Mistake::at(source, at..at + field.len(), what, right));
        }
        at += field.len() + 1;
    }
    let [t_s, egt_c, n1_pct, n2_pct] = numbers;
    Ok(EngineRow { t_s, egt_c, n1_pct, n2_pct })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read_text(text: &str) -> Result<Vec<EngineRow>, Vec<String>> {
        let source = Arc::new(Source { name: "engine.csv".to_owned(), text: text.to_owned() });
        let told = |mistake: &Mistake| {
            let (line, column) = mistake.line_and_column().unwrap_or_default();
            format!("{line}:{column} {}; {}", mistake.what(), mistake.right())
        };
        read(&source).map_err(|mistakes| mistakes.iter().map(told).collect())
    }

    #[test]
    fn rows_are_read_with_either_line_end_and_with_blanks() {
        let rows =
            read_text("t_s,egt_c,n1_pct,n2_pct\r\n-10.5, 560, 62, 10\r\n\r\n0,755.25,100,98\n").unwrap();
        assert_eq!(rows.len(), 2);
        assert_eq!(rows[0], EngineRow { t_s: -10.5, egt_c: 560.0, n1_pct: 62.0, n2_pct: 10.0 });
        assert_eq!(rows[1], EngineRow { t_s: 0.0, egt_c: 755.25, n1_pct: 100.0, n2_pct: 98.0 });
    }

    #[test]
    fn every_bad_row_is_told_at_its_line_and_column() {
        let head = "t_s,egt_c,n1_pct,n2_pct\n";
        let cases = [
            ("", "0:0 the file is empty; the first line is: t_s,egt_c,n1_pct,n2_pct"),
            (
                "t,egt\n",
                "1:1 this is not the header of a recording; the first line is: t_s,egt_c,n1_pct,n2_pct",
            ),
            (head, "0:0 the recording has no rows; write a row for each moment: -10.0,560,62,10"),
        ];
        for (text, told) in cases {
            assert_eq!(read_text(text), Err(vec![told.to_owned()]));
        }
        let body = "0,560,62,10\n1,560,62\n2,hot,62,10\n3,560,62,\n4,560,nan,10\n0,560,62,10\n5,1373,62,10\n";
        let told = [
            "3:1 the row has 3 columns; four: t_s,egt_c,n1_pct,n2_pct",
            "4:3 `egt_c` is \"hot\"; write a number from -270 to 1372",
            "5:10 `n2_pct` is \"\"; write a number from 0 to 200",
            "6:7 `n1_pct` is \"nan\"; write a number from 0 to 200",
            "7:1 `t_s` is 0, not later than the row before; rows go forward in time",
            "8:3 `egt_c` is \"1373\"; write a number from -270 to 1372",
        ];
        assert_eq!(read_text(&format!("{head}{body}")), Err(told.map(str::to_owned).to_vec()));
    }

    #[test]
    fn a_file_of_something_else_is_given_up_after_ten_mistakes() {
        let text = format!("t_s,egt_c,n1_pct,n2_pct\n{}", "nonsense\n".repeat(1_000));
        assert_eq!(read_text(&text).unwrap_err().len(), 10);
    }
}
