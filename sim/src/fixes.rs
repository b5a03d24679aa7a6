//! What the dash's own decoder makes of a receiver's bytes.
//!
//! Bytes in; one object or line for each fix and for each sentence rejected out, and a count of all.

use std::io::{self, Write};

use firmware::gnss::calendar::rfc3339;
use firmware::gnss::{Counts, Decoder, Fix, Heard, Reject};
use serde::Serialize;

/// How to say it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// For people.
    Text,
    /// One JSON object a line.
    Json,
}

#[derive(Serialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
enum Line {
    Fix { utc: String, lat_e7: i64, lon_e7: i64, speed_mm_s: i32, course_cdeg: i32, valid: bool },
    Rejected { line: u64, why: String },
}

/// Decodes `bytes` and writes what came of them; gives the counts.
///
/// # Errors
/// Only the writer's own.
pub fn write(bytes: &[u8], form: Form, out: &mut impl Write) -> io::Result<Counts> {
    let mut decoder = Decoder::default();
    let mut line = 1;
    // A last line without its end is a line all the same.
    for byte in bytes.iter().chain(b"\n") {
        match decoder.push(*byte) {
            Some(Heard::Fix(fix)) => write_line(&of_fix(&fix), form, out)?,
            Some(Heard::Rejected(why)) => write_line(&of_reject(line, why), form, out)?,
            None => {}
        }
        line += u64::from(*byte == b'\n');
    }
    Ok(*decoder.counts())
}

fn of_fix(fix: &Fix) -> Line {
    // Rounded to nearest: a fix holds 1e-9 degrees, a receiver's own messages 1e-7.
    let e7 = |nano: i64| (nano + 50).div_euclid(100);
    Line::Fix {
        utc: rfc3339(fix.utc).to_string(),
        lat_e7: e7(fix.position.lat.as_nano()),
        lon_e7: e7(fix.position.lon.as_nano()),
        speed_mm_s: fix.speed.as_mm_s(),
        course_cdeg: fix.course.as_centi(),
        valid: fix.valid,
    }
}

fn of_reject(line: u64, why: Reject) -> Line {
    Line::Rejected { line, why: why.to_string() }
}

fn write_line(line: &Line, form: Form, out: &mut impl Write) -> io::Result<()> {
    if form == Form::Json {
        serde_json::to_writer(&mut *out, line)?;
        return writeln!(out);
    }
    match line {
        Line::Fix { utc, lat_e7, lon_e7, speed_mm_s, course_cdeg, valid } => {
            let (lat, lon) = (*lat_e7 as f64 / 1e7, *lon_e7 as f64 / 1e7);
            let (speed, course) = (f64::from(*speed_mm_s) / 1e3, f64::from(*course_cdeg) / 100.0);
            let doubt = if *valid { "" } else { "  not vouched for" };
            writeln!(out, "{utc}  {lat:12.7} {lon:12.7}  {speed:8.3} m/s  {course:6.2} deg{doubt}")
        }
        Line::Rejected { line, why } => writeln!(out, "line {line}: rejected: {why}"),
    }
}

/// The counts in one line, for people.
#[must_use]
pub fn summary(counts: &Counts) -> String {
    let reasons: Vec<String> = Reject::ALL
        .iter()
        .filter(|why| counts.rejected(**why) > 0)
        .map(|why| format!("{} {why}", counts.rejected(*why)))
        .collect();
    let rejected = counts.rejected_in_all();
    let why = if reasons.is_empty() { String::new() } else { format!(" ({})", reasons.join(", ")) };
    format!("{} fixes, {rejected} rejected{why}, {} of other kinds", counts.fixes, counts.ignored)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn json(bytes: &[u8]) -> String {
        let mut out = Vec::new();
        let _ = write(bytes, Form::Json, &mut out).unwrap();
        String::from_utf8(out).unwrap()
    }

    /// Source: research-cruise raw GNSS log, 2020 (ATOMIC), one RMC; 10.17 kn is 5,231.9 mm/s.
    #[test]
    fn a_fix_has_the_agreed_fields() {
        let line = b"$GPRMC,060000.00,A,1353.25162451,N,05445.30213512,W,10.17,70.52,080220,16.8,W,D*05";
        assert_eq!(
            json(line),
            "{\"kind\":\"fix\",\"utc\":\"2020-02-08T06:00:00.000Z\",\"lat_e7\":138875271,\"lon_e7\":-547550356,\
             \"speed_mm_s\":5232,\"course_cdeg\":7052,\"valid\":true}\n"
        );
    }

    #[test]
    fn a_rejected_sentence_is_named_by_its_line_and_why() {
        let said = json(b"$GPZDA,060000.00,08,02,2020,00,00*6A\r\n$PASHR,LTN,60*2C\r\n");
        assert!(said.starts_with("{\"kind\":\"rejected\",\"line\":2,\"why\":\""), "{said}");
        assert!(said.contains("checksum"), "{said}");
    }
}
