//! The receiver's decoder against published sentences and frames.
//!
//! Each vector stands beside its source's title. Where a source prints degrees or knots only, the expected
//! numbers are exact arithmetic on what it prints: a knot is 4630/9 mm/s, a minute of arc 1/60 degree.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

use firmware::gnss::calendar::{from_rfc3339, rfc3339};
use firmware::gnss::{Counts, Decoder, Fix, Heard, Reject};
use firmware::units::Utc;

/// Everything said to these bytes by a new decoder, and its counts.
fn hear(bytes: &[u8]) -> (Vec<Heard>, Counts) {
    let mut decoder = Decoder::default();
    let heard = bytes.iter().filter_map(|byte| decoder.push(*byte)).collect();
    (heard, *decoder.counts())
}

/// The fixes made of these lines; nothing may be rejected.
fn fixes(lines: &[&str]) -> Vec<Fix> {
    let bytes: Vec<u8> = lines.iter().flat_map(|line| [line, "\r\n"].concat().into_bytes()).collect();
    let fix = |heard| match heard {
        Heard::Fix(fix) => fix,
        Heard::Rejected(why) => panic!("rejected: {why}"),
    };
    hear(&bytes).0.into_iter().map(fix).collect()
}

fn only(lines: &[&str]) -> Fix {
    match fixes(lines)[..] {
        [fix] => fix,
        ref other => panic!("one fix expected: {other:?}"),
    }
}

/// What a source says about a fix: moment, degrees to nine decimals, mm/s, hundredths of a degree.
struct Said {
    utc: &'static str,
    lat: f64,
    lon: f64,
    speed_mm_s: i32,
    course_cdeg: i32,
}

#[track_caller]
fn check(fix: &Fix, said: &Said) {
    let nano = |degrees: f64| (degrees * 1e9).round() as i64;
    assert_eq!(rfc3339(fix.utc).to_string(), said.utc);
    assert!((fix.position.lat.as_nano() - nano(said.lat)).abs() <= 1, "{:?}", fix.position.lat);
    assert!((fix.position.lon.as_nano() - nano(said.lon)).abs() <= 1, "{:?}", fix.position.lon);
    assert_eq!(fix.speed.as_mm_s(), said.speed_mm_s);
    assert_eq!(fix.course.as_centi(), said.course_cdeg);
    assert!(fix.valid);
}

// From "GPS - NMEA sentence information", a long-standing guide that many sites copy.
const GUIDE_GGA: &str = "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47";

// From memory, as printed in many guides; their checksums are right.
const GUIDE_RMC: &str = "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A";
const GUIDE_RMC_2: &str = "$GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E*68";
const GUIDE_VTG: &str = "$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K*48";
const GUIDE_ZDA: &str = "$GPZDA,201530.00,04,07,2002,00,00*60";

// Research-cruise raw GNSS log ATOMIC 2020, gps02003906_raw: one second, in the receiver's own order.
const CRUISE_2020: [&str; 4] = [
    "$GPGGA,060000.00,1353.25162451,N,05445.30213512,W,2,06,1.2,2.9,M,-40.8,M,5.0,0138*76",
    "$GPVTG,70.52,T,87.27,M,10.17,N,18.83,K,D*29",
    "$GPZDA,060000.00,08,02,2020,00,00*6A",
    "$GPRMC,060000.00,A,1353.25162451,N,05445.30213512,W,10.17,70.52,080220,16.8,W,D*05",
];

// Research-cruise raw GNSS log WHOTS 2022, gps02220604_raw. Its GGA is longer than 82 characters.
const CRUISE_2022: [&str; 4] = [
    "$GPGGA,040001.00,2246.08014690,N,15755.97486679,W,2,07,1.1,15.8,M,0.4,M,7.0,0133*50",
    "$GPVTG,253.92,T,243.98,M,0.05,N,0.10,K,D*29",
    "$GPZDA,040001.00,25,07,2022,00,00*61",
    "$GPRMC,040001.00,A,2246.08014690,N,15755.97486679,W,0.05,253.92,250722,9.9,E,D*22",
];

// Research-cruise raw GNSS log CAPRICORN 2016: south and east.
const CRUISE_2016: &str =
    "$GPRMC,060001.00,A,4253.18288361,S,14720.33527905,E,0.03,237.10,130316,15.0,E,A*1A";

const AT_2020: Said = Said {
    utc: "2020-02-08T06:00:00.000Z",
    lat: 13.887_527_075,
    lon: -54.755_035_585,
    speed_mm_s: 5_232,
    course_cdeg: 7_052,
};

const AT_2022: Said = Said {
    utc: "2022-07-25T04:00:01.000Z",
    lat: 22.768_002_448,
    lon: -157.932_914_447,
    speed_mm_s: 26,
    course_cdeg: 25_392,
};

#[test]
fn published_rmc_sentences_say_where_when_and_how_fast() {
    let guide = Said {
        utc: "1994-03-23T12:35:19.000Z",
        lat: 48.117_300,
        lon: 11.516_666_667,
        speed_mm_s: 11_524,
        course_cdeg: 8_440,
    };
    check(&only(&[GUIDE_RMC]), &guide);
    let guide_2 = Said {
        utc: "1994-11-19T22:54:46.000Z",
        lat: 49.274_166_667,
        lon: -123.185_333_333,
        speed_mm_s: 257,
        course_cdeg: 5_470,
    };
    check(&only(&[GUIDE_RMC_2]), &guide_2);
    check(&only(&CRUISE_2020[3..]), &AT_2020);
    check(&only(&CRUISE_2022[3..]), &AT_2022);
    let cruise_2016 = Said {
        utc: "2016-03-13T06:00:01.000Z",
        lat: -42.886_381_394,
        lon: 147.338_921_317,
        speed_mm_s: 15,
        course_cdeg: 23_710,
    };
    check(&only(&[CRUISE_2016]), &cruise_2016);
}

#[test]
fn a_cruise_log_in_its_receivers_order_gives_one_fix_a_second() {
    for (log, said) in [(CRUISE_2020, AT_2020), (CRUISE_2022, AT_2022)] {
        check(&only(&log), &said);
    }
}

#[test]
fn the_same_second_without_its_rmc_gives_the_same_fix() {
    for (log, said) in [(CRUISE_2020, AT_2020), (CRUISE_2022, AT_2022)] {
        check(&only(&log[..3]), &said);
    }
}

#[test]
fn hdop_comes_from_the_gga_of_the_same_second() {
    assert_eq!(only(&[GUIDE_GGA, GUIDE_RMC]).hdop_centi, Some(90));
    assert_eq!(only(&CRUISE_2020[..3]).hdop_centi, Some(120));
    assert_eq!(only(&[CRUISE_2022[0], CRUISE_2022[3]]).hdop_centi, Some(110));
    assert_eq!(only(&[GUIDE_GGA, GUIDE_RMC_2]).hdop_centi, None);
}

#[test]
fn the_guides_gga_vtg_and_zda_make_a_fix_on_the_zdas_day() {
    let fix = only(&[GUIDE_GGA, GUIDE_VTG, GUIDE_ZDA]);
    let said = Said {
        utc: "2002-07-04T12:35:19.000Z",
        lat: 48.117_300,
        lon: 11.516_666_667,
        speed_mm_s: 2_829,
        course_cdeg: 5_470,
    };
    check(&fix, &said);
}

#[test]
fn published_sentences_with_a_wrong_checksum_are_rejected() {
    // An annotated RMC on a public code site, with blanks typed into its empty fields: it ends in *64, its
    // characters give 41. A receiver maker's manual, latency message: it prints 2C, the characters give 08.
    for line in [
        "$GPRMC,170047.00,A,4121.23302,N,00201.31654,W,2.703,   ,200417,   , ,A*64\r\n",
        "$PASHR,LTN,60*2C\r\n",
    ] {
        let (heard, counts) = hear(line.as_bytes());
        assert_eq!(heard, [Heard::Rejected(Reject::Checksum)], "{line}");
        assert_eq!(counts.rejected(Reject::Checksum), 1);
    }
    // With the checksum that its characters give, the manual's sentence is well-formed, and none of ours.
    let (heard, counts) = hear(b"$PASHR,LTN,60*08\r\n");
    assert_eq!((heard.len(), counts.ignored), (0, 1));
}

fn from_hex(text: &str) -> Vec<u8> {
    let digits: String = text.chars().filter(|character| !character.is_whitespace()).collect();
    let byte = |at: usize| u8::from_str_radix(&digits[at..at + 2], 16).unwrap();
    (0..digits.len()).step_by(2).map(byte).collect()
}

fn from_frame(bytes: &[u8]) -> Fix {
    match hear(bytes).0[..] {
        [Heard::Fix(fix)] => fix,
        ref other => panic!("one fix expected: {other:?}"),
    }
}

// Two real frames, printed in public test code.
const REAL_2019: &str = "B562 0107 5C00 50322017 E307 0A110B2E08 37 0F000000 2E3A0100 03 01 EA 0F 464E4404 FE81901E
    039A0300 46E40200 D3100000 B91B0000 89FFFFFF E5FFFFFF 7CFFFFFF 7A000000 63FDC900 FF010000 1C0D4B00 8D00 0000
    B841473D 00000000 00000000 9D7C";
const REAL_2022: &str = "B562 0107 5C00 58F92808 E607 02150E0119 37 1F000000 CA3AFAFF 03 01 FA 0E 5CF22906 FC29C625
    380E0300 BA710200 EC0A0000 6B150000 F1FFFFFF FCFFFFFF 0D000000 0F000000 00000000 97010000 72D0E000 AD00 0000
    D27A5B21 00000000 00000000 1B8A";

// Built for this check and read back with the Python package pyubx2 1.4.0.
const AT_160_MPH: &str = "b56201075c003422fa22ea07070b130000371900000000e1f5050301e012602122b7c0215c1c00000000000000
    0084030000dc05000000000000661701000000000066170100405489009600000050c30000780000000000000000000000000000006237";
const NANO_BELOW_ZERO: &str = "b56201075c00d021fa22ea07070b1300003719000000ca3afaff0301e012602122b7c0215c1c0000000000
    00000084030000dc05000000000000000000000000000000000000000000009600000050c3000078000000000000000000000000000000
    06af";
const NO_FIX: &str = "b56201075c00e8030000ea07070b1300000019000000000000000000e00000000000000000000000000000000000ff
    ffffffdc05000000000000000000000000000000000000000000009600000050c30000780000000000000000000000000000005cfa";
const LEAP_SECOND: &str = "b56201075c0068420000e0070c1f173b3c3719000000000000000301e012000000000000000000000000000000
    0084030000dc05000000000000000000000000000000000000000000009600000050c30000780000000000000000000000000000007d7d";
const SOUTH_EAST: &str =
    "b56201075c009822fa22ea07070b130000371900000000c2eb0b0301e012004a1f5a404e08ec0000000000000000
    84030000dc050000b03cffff000000000000000050c3000080a812019600000050c3000078000000000000000000000000000000
    5446";

#[test]
fn published_nav_pvt_frames_say_where_when_and_how_fast() {
    let real_2019 = Said {
        utc: "2019-10-17T11:46:08.000080Z",
        lat: 51.278_694_2,
        lon: 7.158_535_0,
        speed_mm_s: 122,
        course_cdeg: 13_238,
    };
    let fix = from_frame(&from_hex(REAL_2019));
    check(&fix, &real_2019);
    assert_eq!(fix.position_sd.unwrap().as_mm(), 4_307);
    assert_eq!(fix.speed_sd.unwrap().as_mm_s(), 511);
    let real_2022 = Said {
        utc: "2022-02-21T14:01:24.999622Z",
        lat: 63.374_386_8,
        lon: 10.341_231_6,
        speed_mm_s: 15,
        course_cdeg: 0,
    };
    check(&from_frame(&from_hex(REAL_2022)), &real_2022);
}

#[test]
fn nav_pvt_frames_read_as_a_general_parser_reads_them() {
    let at_160_mph = Said {
        utc: "2026-07-11T19:00:00.100Z",
        lat: 47.58,
        lon: -122.25,
        speed_mm_s: 71_526,
        course_cdeg: 9_000,
    };
    check(&from_frame(&from_hex(AT_160_MPH)), &at_160_mph);
    let south_east = Said {
        utc: "2026-07-11T19:00:00.200Z",
        lat: -33.5,
        lon: 151.2,
        speed_mm_s: 50_000,
        course_cdeg: 18_000,
    };
    check(&from_frame(&from_hex(SOUTH_EAST)), &south_east);
    let below_zero = from_frame(&from_hex(NANO_BELOW_ZERO));
    assert_eq!(rfc3339(below_zero.utc).to_string(), "2026-07-11T18:59:59.999622Z");
    let no_fix = from_frame(&from_hex(NO_FIX));
    assert!(!no_fix.valid);
    assert_eq!(no_fix.position_sd.unwrap().as_mm(), 0xFFFF_FFFF);
}

#[test]
fn a_leap_second_counts_like_the_midnight_after_it() {
    let midnight = from_rfc3339("2017-01-01T00:00:00Z").unwrap();
    let frame = from_frame(&from_hex(LEAP_SECOND));
    assert_eq!((frame.utc, frame.valid), (midnight, true));
    let line = "$GPRMC,235960.00,A,0000.000,N,00000.000,E,0.0,0.0,311216,,,A*53";
    assert_eq!(only(&[line]).utc, midnight);
}

#[test]
fn nano_below_zero_carries_across_the_year() {
    // M10 integration manual, page 44: 2011-12-31 23:59:59.9993 is sent as 2012-01-01 00:00:00, nano -700000.
    let mut bytes = from_hex(AT_160_MPH);
    bytes[10..17].copy_from_slice(&[0xDC, 0x07, 1, 1, 0, 0, 0]);
    bytes[22..26].copy_from_slice(&(-700_000_i32).to_le_bytes());
    let (a, b) = bytes[2..98].iter().fold((0_u8, 0_u8), |(a, b), byte| {
        let a = a.wrapping_add(*byte);
        (a, b.wrapping_add(a))
    });
    bytes[98..].copy_from_slice(&[a, b]);
    assert_eq!(rfc3339(from_frame(&bytes).utc).to_string(), "2011-12-31T23:59:59.999300Z");
}

#[test]
fn time_of_week_and_calendar_agree_in_published_frames() {
    // GPS weeks began at 1980-01-06 and GPS was 18 s ahead of UTC in 2019 and 2022, 17 s before 2017
    // (encyclopedia entry "GPS week number rollover"; the last step is from memory).
    let epoch = from_rfc3339("1980-01-06T00:00:00Z").unwrap();
    for (frame, ahead_s) in [(REAL_2019, 18), (REAL_2022, 18), (AT_160_MPH, 18), (LEAP_SECOND, 17)] {
        let bytes = from_hex(frame);
        let itow_ms = i64::from(u32::from_le_bytes(bytes[6..10].try_into().unwrap()));
        let since: i64 = utc_millis(from_frame(&bytes).utc) - utc_millis(epoch) + ahead_s * 1_000;
        assert_eq!(since.rem_euclid(604_800_000), itow_ms);
    }
}

fn utc_millis(utc: Utc) -> i64 {
    (utc.as_unix_micros() + 500).div_euclid(1_000)
}
