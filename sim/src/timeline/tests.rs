//! A whole heat as golden text: what a person reads, letter by letter.

use super::*;
use crate::invented;

fn text(log: &Log, scale: Scale) -> String {
    let mut text = Vec::new();
    write_on(log, scale, &mut text).unwrap();
    String::from_utf8(text).unwrap()
}

#[test]
fn a_small_heat_reads_as_this_text() {
    assert_eq!(text(&invented::small(), Scale::TrueZero), include_str!("../../golden/small.txt"));
}

#[test]
fn a_record_claims_no_truth() {
    let text = text(&invented::small(), Scale::DashZero);
    assert!(!text.contains("true zero") && !text.contains("truth"), "{text}");
    assert!(text.contains(words::CAUTION));
}

#[test]
fn what_was_refused_a_thousand_times_is_one_line_with_a_count() {
    let mut log = invented::small();
    log.decisions = (0..1_000)
        .map(|k| invented::decided(-200.0 + f64::from(k) / 10.0, Output::Refused(Refused::Repeated)))
        .collect();
    let events = events(&log);
    assert_eq!(events.len(), 1);
    assert!(events[0].text.ends_with("(1000 times up to -1:40.100)"), "{}", events[0].text);
}
