//! What is refused and why, in sentences made up for it; the reasons are this project's own.

extern crate std;

use std::string::String;
use std::vec::Vec;

use super::*;
use crate::gnss::test_stream::{fixes, hear, sentence};
use crate::gnss::{Counts, Decoder, Heard};

const GOOD: &str = "GPRMC,120000.00,A,4500.0000,N,03000.0000,W,10.0,070.5,170531,,,A";

/// What becomes of the good sentence when one of its parts is another.
fn with(part: &str, other: &str) -> (Vec<Heard>, Counts) {
    assert!(GOOD.contains(part), "{part}");
    said(&GOOD.replacen(part, other, 1))
}

fn said(content: &str) -> (Vec<Heard>, Counts) {
    let mut decoder = Decoder::default();
    let heard = hear(&mut decoder, &sentence(content));
    (heard, *decoder.counts())
}

#[track_caller]
fn rejected(why: Reject, part: &str, others: &[&str]) {
    for other in others {
        assert_eq!(with(part, other).0, [Heard::Rejected(why)], "{other:?} for {part}");
    }
}

#[test]
fn a_date_or_time_that_does_not_exist_is_rejected() {
    rejected(Reject::BadTime, "170531", &["310431", "290231", "000531", "170031", "171331"]);
    rejected(Reject::BadTime, "120000.00", &["240000.00", "126000.00", "120061.00"]);
}

#[test]
fn a_place_off_the_globe_is_rejected() {
    rejected(Reject::BadPosition, "4500.0000", &["9000.0001", "9100.0000", "4560.0000", "4575.0000"]);
    rejected(Reject::BadPosition, "03000.0000", &["18000.0001", "36000.0000", "03060.0000"]);
}

#[test]
fn the_ends_of_the_globe_are_on_it() {
    let fix = |content: &str| fixes(&[content])[0].position;
    let pole = fix(&GOOD.replace("4500.0000,N,03000.0000,W", "9000.0000,S,18000.0000,E"));
    assert_eq!((pole.lat.as_nano(), pole.lon.as_nano()), (-90_000_000_000, 180_000_000_000));
}

#[test]
fn a_field_that_is_not_what_its_place_asks_for_is_rejected() {
    rejected(Reject::BadField, "4500.0000,N", &["500.0000,N", "45000.0000,N", "4500.0000,E", "4500.0000,"]);
    rejected(Reject::BadField, "4500.0000,N", &["-4500.0000,N", "4500.00x0,N", ",N"]);
    rejected(Reject::BadField, "03000.0000,W", &["3000.0000,W", "03000.0000,N", ",W"]);
    rejected(Reject::BadField, "120000.00", &["12000.00", "1200", "12000a.00", "120000,00"]);
    rejected(Reject::BadField, "170531", &["17531", "17052031", "17-5-31"]);
    rejected(Reject::BadField, "10.0", &["-10.0", "1e1", "1000000"]);
    rejected(Reject::BadField, "070.5", &["360.1", "-70.5", "E"]);
    rejected(Reject::BadField, ",A,", &[",,", ",D,", ",a,"]);
    rejected(Reject::BadField, ",170531,,,A", &[""]);
}

#[test]
fn a_vtg_without_its_units_in_their_places_is_rejected() {
    for vtg in ["GPVTG,054.7,034.4,005.5,010.2", "GPVTG,1,T,2,M,3,K,4,N", "GPVTG,1,M,2,T,3,N,4,K"] {
        assert_eq!(said(vtg).0, [Heard::Rejected(Reject::BadField)], "{vtg}");
    }
}

#[test]
fn a_receiver_that_vouches_for_a_fix_must_state_it() {
    rejected(Reject::BadField, "4500.0000,N,03000.0000,W", &[",,,"]);
    rejected(Reject::BadField, "120000.00", &[""]);
    rejected(Reject::BadField, "170531", &[""]);
    rejected(Reject::BadField, "10.0", &[""]);
}

#[test]
fn a_receiver_at_rest_may_leave_the_course_empty() {
    let fix = fixes(&[&GOOD.replace("070.5", "")])[0];
    assert_eq!((fix.course.as_centi(), fix.valid), (0, true));
}

#[test]
fn a_course_of_360_degrees_is_north() {
    for course in ["360.0", "359.996", "0"] {
        assert_eq!(fixes(&[&GOOD.replace("070.5", course)])[0].course.as_centi(), 0, "{course}");
    }
}

#[test]
fn a_void_rmc_makes_a_fix_that_nobody_vouches_for_or_says_nothing() {
    for void in [GOOD.replace(",A,", ",V,"), GOOD.replace(",,,A", ",,,N")] {
        assert!(!fixes(&[&void])[0].valid, "{void}");
    }
    for nothing in [
        "GPRMC,120000.00,V,,,,,,,170531,,,N",
        "GPRMC,,V,,,,,,,,,,N",
        "GPRMC,,V,4500.0000,N,03000.0000,W,,,,,,N",
    ] {
        let (heard, counts) = said(nothing);
        assert_eq!((heard.len(), counts.parts), (0, 1), "{nothing}");
    }
    let off_the_globe = GOOD.replace(",A,", ",V,").replace("4500", "9500");
    assert_eq!(said(&off_the_globe).0, [Heard::Rejected(Reject::BadPosition)]);
}

#[test]
fn any_talker_is_heard_and_proprietary_or_other_sentences_are_ignored() {
    for talker in ["GP", "GN", "GL", "GA", "GB", "II"] {
        assert_eq!(said(&GOOD.replacen("GP", talker, 1)).1.fixes, 1, "{talker}");
    }
    let proprietary = GOOD.replacen("GP", "PG", 1);
    for other in [&*proprietary, "GPGLL,4500.0000,N,03000.0000,W,120000.00,A,A", "GPRMCX,1", "RMC,1", ""] {
        let (heard, counts) = said(other);
        assert_eq!((heard.len(), counts.ignored), (0, 1), "{other}");
    }
}

#[test]
fn two_digit_years_pivot_at_80() {
    let year = |date: &str| fixes(&[&GOOD.replace("170531", date)])[0].utc;
    assert!(year("010180") < year("311299") && year("311299") < year("010100"));
    assert!(year("010100") < year("311279"));
}

#[test]
fn halves_round_away_from_zero() {
    // Worked by hand: 0.45 knots are 231.5 mm/s exactly, 33e-9 minutes are 0.55e-9 degrees, and half a
    // microsecond is half a microsecond.
    let content =
        GOOD.replace("10.0", "0.45").replace("4500.0000", "4500.000000033").replace(".00,A", ".0000005,A");
    let fix = fixes(&[&content])[0];
    assert_eq!(fix.speed.as_mm_s(), 232);
    assert_eq!(fix.position.lat.as_nano(), 45_000_000_001);
    assert_eq!(fix.utc.as_unix_micros() % 10, 1);
    let long: String = GOOD.replace("4500.0000", "4500.00000002999999999999");
    assert_eq!(fixes(&[&long])[0].position.lat.as_nano(), 45_000_000_000);
}
