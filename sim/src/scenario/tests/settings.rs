//! Settings files that are right.

use firmware::laps::EarlyCost;
use firmware::screen::Units;
use firmware::settings::Settings;
use firmware::units::{CentiPercent, MilliCelsius, Millimetres, Span};

use super::REACH;
use crate::scenario::parse_settings;

#[test]
fn the_example_reads_as_written_and_the_rest_is_the_cores() {
    let read = parse_settings("reach.toml", REACH).unwrap();
    let course = read.course.clone().unwrap();
    let nano = |position: firmware::gnss::Position| (position.lat.as_nano(), position.lon.as_nano());
    assert_eq!(nano(course.line_left), (45_000_000_000, -30_000_000_000));
    assert_eq!(nano(course.line_right), (45_000_000_000, -29_998_000_000));
    assert_eq!(course.lap_length, Millimetres::from_mm(4_023_360));
    assert_eq!(course.line_sd, Millimetres::from_mm(100));
    assert_eq!(course.end_tolerance, Millimetres::from_mm(2_000));

    let mut expected = Settings { course: read.course.clone(), ..Settings::bare() };
    expected.race.laps = 3;
    expected.race.early_window = Span::from_secs(60);
    expected.race.early_costs = EarlyCost::Lap;
    expected.gun.signals_s = heapless::Vec::from_slice(&[300, 60, 0]).unwrap();
    expected.crossing.antenna_to_bow = Millimetres::from_mm(5_000);
    expected.gun.reaction_mean = Span::from_millis(250);
    expected.gun.reaction_sd = Span::from_millis(60);
    assert_eq!(read, expected);
    assert_eq!(read.check(), Ok(()));
}

#[test]
fn time_words_and_optional_tables_are_taken() {
    let more = "
[screen]
units = \"km/h\"
[rules.floor]
speed_m_s = 44.704
[gun.heard]
distance_m = 800
air_c = 15
";
    let text = REACH.replace("early_costs = \"lap\"", "early_costs = \"time\"\nearly_time_s = 37.5") + more;
    let read = parse_settings("reach.toml", &text).unwrap();
    assert_eq!(read.race.early_costs, EarlyCost::Time(Span::from_millis(37_500)));
    assert_eq!(read.screen.units, Units::KmPerHour);
    assert_eq!(read.floor.unwrap().speed.as_mm_s(), 44_704);
    let heard = read.gun.heard.unwrap();
    assert_eq!((heard.distance.as_mm(), heard.air.as_milli()), (800_000, 15_000));
    let nothing = REACH.replace("\"lap\"", "\"nothing\"");
    assert_eq!(parse_settings("reach.toml", &nothing).unwrap().race.early_costs, EarlyCost::Nothing);
}

#[test]
fn the_owners_limits_replace_the_demonstration() {
    let engine = "
[engine]
demonstration = false
egt_starting = [{ above_c = 805.5, allowed_s = 10 }]
n1 = [{ above_pct = 101.55, allowed_s = 0.5 }]
n2 = [{ above_pct = 103, allowed_s = 20 }, { above_pct = 108, allowed_s = 0 }]
n2_overspeed_pct = 112
n1_tach.rpm_at_100 = 4200
n2_tach = { rpm_at_100 = 9000, cycles_per_turn = 2 }
[[engine.egt_running]]
above_c = 780
allowed_s = 300
[[engine.egt_running]]
above_c = 850
allowed_s = 0
";
    let read = parse_settings("reach.toml", &format!("{REACH}{engine}")).unwrap().engine;
    assert!(!read.demonstration);
    let egt = |row: &firmware::engine::limits::Limit<MilliCelsius>| {
        (row.threshold.as_milli(), row.allowed.as_micros())
    };
    let pct = |row: &firmware::engine::limits::Limit<CentiPercent>| {
        (row.threshold.as_centi(), row.allowed.as_micros())
    };
    assert_eq!(read.egt_starting.rows.iter().map(egt).collect::<Vec<_>>(), [(805_500, 10_000_000)]);
    assert_eq!(
        read.egt_running.rows.iter().map(egt).collect::<Vec<_>>(),
        [(780_000, 300_000_000), (850_000, 0)]
    );
    assert_eq!(read.n1.rows.iter().map(pct).collect::<Vec<_>>(), [(10_155, 500_000)]);
    assert_eq!(read.n2.rows.iter().map(pct).collect::<Vec<_>>(), [(10_300, 20_000_000), (10_800, 0)]);
    assert_eq!(read.n2_overspeed, CentiPercent::from_centi(11_200));
    assert_eq!((read.n2_tach.rpm_at_100, read.n2_tach.cycles_per_turn), (9_000, 2));
}

/// The figures that docs/settings.md shows are taken by the reader.
#[test]
fn the_examples_of_the_document_are_right() {
    let document = include_str!("settings.md");
    let blocks: Vec<&str> =
        document.split("```toml\n").skip(1).filter_map(|rest| rest.split("```").next()).collect();
    let [course, engine, heat] = blocks[..] else { panic!("{} examples", blocks.len()) };
    let read = parse_settings("document.toml", &format!("{course}{engine}"))
        .unwrap_or_else(|report| panic!("{report}"));
    assert!(!read.engine.demonstration);
    let heat = super::heat(heat).unwrap_or_else(|report| panic!("{report}"));
    assert_eq!(heat.world.presses.len() + heat.world.faults.len(), 2);
}

#[test]
fn windows_line_ends_and_a_byte_order_mark_do_no_harm() {
    let text = format!("\u{feff}{}", REACH.replace('\n', "\r\n"));
    assert_eq!(parse_settings("reach.toml", &text).unwrap(), parse_settings("reach.toml", REACH).unwrap());
}
