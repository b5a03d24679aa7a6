//! The receiver's decoder against two general-purpose parsers, on drawn sentences and frames.
//!
//! For NMEA 0183 the crate `nmea`, which works in floating point: positions must agree to a billionth of a
//! degree, speeds and courses to the rounding of both. It refuses second 60, so none is drawn; it takes years
//! 80 to 82 for 2080 to 2082, so none of these either. For UBX the crate `ublox`, protocol 23.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

use firmware::gnss::calendar::from_rfc3339;
use firmware::gnss::{Decoder, Fix, Heard};
use nmea::ParseResult;
use nmea::sentences::rmc::RmcStatusOfFix;
use proptest::prelude::*;
use ublox::nav_pvt::common::{NavPvtFlags, NavPvtValidFlags};
use ublox::proto23::{PacketRef, Proto23};
use ublox::{GnssFixType, ParserBuilder, UbxPacket};

fn sentence(content: &str) -> String {
    format!("${content}*{:02X}\r\n", content.bytes().fold(0, |sum, byte| sum ^ byte))
}

fn only_fix(bytes: &[u8]) -> Fix {
    let mut decoder = Decoder::default();
    match bytes.iter().filter_map(|byte| decoder.push(*byte)).collect::<Vec<_>>()[..] {
        [Heard::Fix(fix)] => fix,
        ref other => panic!("one fix expected: {other:?}"),
    }
}

/// A number of at least `width` digits before its point, and up to so many decimals.
fn number(below: u32, width: usize, decimals: usize) -> impl Strategy<Value = String> {
    (0..below, proptest::collection::vec(0_u8..10, 0..=decimals)).prop_map(move |(whole, decimals)| {
        let decimals: String = decimals.iter().map(u8::to_string).collect();
        let point = if decimals.is_empty() { "" } else { "." };
        format!("{whole:0width$}{point}{decimals}")
    })
}

prop_compose! {
    /// Latitude and longitude with their hemispheres, as four fields.
    fn place()(
        lat in (0..90, number(60, 2, 9)), ns in "[NS]",
        lon in (0..180, number(60, 2, 9)), ew in "[EW]",
    ) -> String {
        format!("{:02}{},{ns},{:03}{},{ew}", lat.0, lat.1, lon.0, lon.1)
    }
}

prop_compose! {
    fn time_of_day()(hour in 0..24, minute in 0..60, second in number(60, 2, 6)) -> String {
        format!("{hour:02}{minute:02}{second}")
    }
}

/// Years of 1983 to 2079, the months and the days that all of them have.
fn date() -> impl Strategy<Value = (u16, u8, u8)> {
    (1983_u16..2080, 1_u8..=12, 1_u8..=28)
}

fn degrees_agree(nano: i64, theirs: f64) -> bool {
    (nano as f64 * 1e-9 - theirs).abs() < 1.001e-9
}

fn speeds_agree(fix: &Fix, knots: f32) -> bool {
    (f64::from(fix.speed.as_mm_s()) - f64::from(knots) * 1_852_000.0 / 3_600.0).abs() < 0.51
}

fn courses_agree(fix: &Fix, degrees: f32) -> bool {
    let apart = (f64::from(fix.course.as_centi()) / 100.0 - f64::from(degrees)).rem_euclid(360.0);
    apart.min(360.0 - apart) < 0.005_1
}

proptest! {
    #[test]
    fn the_crate_nmea_reads_an_rmc_alike(
        time in time_of_day(), status in "[AV]", place in place(), (year, month, day) in date(),
        knots in number(300, 1, 3), course in number(360, 1, 3),
    ) {
        let year = year % 100;
        let line = sentence(&format!(
            "GNRMC,{time},{status},{place},{knots},{course},{day:02}{month:02}{year:02},,,A"
        ));
        let fix = only_fix(line.as_bytes());
        let Ok(ParseResult::RMC(theirs)) = nmea::parse_str(line.trim_end()) else {
            panic!("refused: {line}");
        };
        let moment = format!("{}T{}Z", theirs.fix_date.unwrap(), theirs.fix_time.unwrap());
        prop_assert_eq!(Some(fix.utc), from_rfc3339(&moment));
        prop_assert!(degrees_agree(fix.position.lat.as_nano(), theirs.lat.unwrap()));
        prop_assert!(degrees_agree(fix.position.lon.as_nano(), theirs.lon.unwrap()));
        prop_assert!(speeds_agree(&fix, theirs.speed_over_ground.unwrap()));
        prop_assert!(courses_agree(&fix, theirs.true_course.unwrap()));
        prop_assert_eq!(fix.valid, theirs.status_of_fix != RmcStatusOfFix::Invalid);
    }

    #[test]
    fn the_crate_nmea_reads_gga_vtg_and_zda_alike(
        time in time_of_day(), place in place(), quality in 1_u8..=2, hdop in number(99, 1, 2),
        knots in number(300, 1, 3), course in number(360, 1, 3), (year, month, day) in date(),
    ) {
        let gga = sentence(&format!("GPGGA,{time},{place},{quality},08,{hdop},1.0,M,0.0,M,,"));
        let vtg = sentence(&format!("GPVTG,{course},T,,M,{knots},N,,K,A"));
        let zda = sentence(&format!("GPZDA,{time},{day:02},{month:02},{year},00,00"));
        let fix = only_fix([&*gga, &vtg, &zda].concat().as_bytes());
        let theirs = [&gga, &vtg, &zda].map(|line| nmea::parse_str(line.trim_end()).unwrap());
        let [ParseResult::GGA(gga), ParseResult::VTG(vtg), ParseResult::ZDA(zda)] = theirs else {
            panic!("read as other sentences");
        };
        let moment = zda.utc_date_time().unwrap().to_string().replace(' ', "T");
        prop_assert_eq!(Some(fix.utc), from_rfc3339(&format!("{moment}Z")));
        prop_assert!(degrees_agree(fix.position.lat.as_nano(), gga.latitude.unwrap()));
        prop_assert!(degrees_agree(fix.position.lon.as_nano(), gga.longitude.unwrap()));
        prop_assert_eq!(fix.hdop_centi.map(f32::from), gga.hdop.map(|hdop| (hdop * 100.0).round()));
        prop_assert!(speeds_agree(&fix, vtg.speed_over_ground.unwrap()));
        prop_assert!(courses_agree(&fix, vtg.true_course.unwrap()));
    }

    #[test]
    fn the_crate_ublox_reads_a_nav_pvt_alike(
        noise in any::<[u8; 32]>(), tail in any::<[u8; 24]>(), (year, month, day) in date(),
        time in (0_u8..24, 0_u8..60, 0_u8..60), nano in -5_000_000_i32..=994_999_999,
        flags in (0_u8..16, 0_u8..=5, 0_u8..4, any::<u16>()),
        lat in -900_000_000_i32..=900_000_000, lon in -1_800_000_000_i32..=1_800_000_000,
        speed in 0_i32..200_000, heading in 0_i32..36_000_000,
    ) {
        let calendar = [month, day, time.0, time.1, time.2, flags.0];
        let mut payload = [&[0; 4][..], &year.to_le_bytes(), &calendar].concat();
        payload.extend([&[0; 4][..], &nano.to_le_bytes(), &[flags.1, flags.2, 0, 9]].concat());
        payload.extend([lon.to_le_bytes(), lat.to_le_bytes()].concat());
        payload.extend([&noise[..28], &speed.to_le_bytes(), &heading.to_le_bytes()].concat());
        payload.extend([&tail[..10], &flags.3.to_le_bytes(), &tail[..12]].concat());
        let bytes = frame(&payload);
        let fix = only_fix(&bytes);

        let mut parser = ParserBuilder::new().with_protocol::<Proto23>().with_fixed_buffer::<256>();
        let mut packets = parser.consume_ubx(&bytes);
        let Some(Ok(UbxPacket::Proto23(PacketRef::NavPvt(theirs)))) = packets.next() else {
            panic!("refused");
        };
        let second = from_rfc3339(&format!(
            "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z",
            theirs.year(), theirs.month(), theirs.day(), theirs.hour(), theirs.min(), theirs.sec()
        )).unwrap();
        let off_ns = fix.utc.since(second).as_micros() * 1_000 - i64::from(theirs.nanosec());
        prop_assert!(off_ns.abs() <= 500, "{}", off_ns);
        prop_assert!(degrees_agree(fix.position.lat.as_nano(), theirs.latitude()));
        prop_assert!(degrees_agree(fix.position.lon.as_nano(), theirs.longitude()));
        prop_assert_eq!(fix.speed.as_mm_s(), millis(theirs.ground_speed_2d()) as i32);
        prop_assert!(courses_agree(&fix, theirs.heading_motion() as f32));
        prop_assert_eq!(fix.position_sd.unwrap().as_mm(), millis(theirs.horizontal_accuracy()));
        prop_assert_eq!(
            i64::from(fix.speed_sd.unwrap().as_mm_s()),
            millis(theirs.speed_accuracy()).min(i32::MAX.into())
        );
        let dated = NavPvtValidFlags::VALID_DATE | NavPvtValidFlags::VALID_TIME;
        let resolved = dated | NavPvtValidFlags::FULLY_RESOLVED;
        let valid = theirs.valid().contains(resolved)
            && theirs.flags().contains(NavPvtFlags::GPS_FIX_OK)
            && !theirs.flags3().invalid_llh()
            && matches!(
                theirs.fix_type(),
                GnssFixType::Fix2D | GnssFixType::Fix3D | GnssFixType::GPSPlusDeadReckoning
            );
        prop_assert_eq!(fix.valid, valid);
    }
}

fn millis(units: f64) -> i64 {
    (units * 1e3).round() as i64
}

/// A NAV-PVT frame around a payload.
fn frame(payload: &[u8]) -> Vec<u8> {
    let mut bytes = [&[0xB5, 0x62, 0x01, 0x07, 92, 0][..], payload].concat();
    let (a, b) = bytes[2..].iter().fold((0_u8, 0_u8), |(a, b), byte| {
        let a = a.wrapping_add(*byte);
        (a, b.wrapping_add(a))
    });
    bytes.extend([a, b]);
    bytes
}
