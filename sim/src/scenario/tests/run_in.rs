//! The table [run_in]: right, and wrong in one thing, and what is said of it, word for word.

use firmware::run_in::RunInSettings;
use firmware::run_in::boat::BoatModel;
use firmware::run_in::lane::Turns;
use firmware::units::{Millimetres, MmPerSecond, Span};

use super::REACH;
use super::wrong_settings::told;
use crate::scenario::parse_settings;

/// The oval of a heat without [course], as lane 1.
const OVAL: &str = "[run_in]
turns = \"left\"
bends = [[45.004349443, -30.001536659, 190.0], [44.991901501, -30.001536385, 190.0]]";

fn with(lines: &str) -> String {
    format!("{REACH}{lines}\n")
}

fn read(lines: &str) -> RunInSettings {
    parse_settings("reach.toml", &with(lines)).unwrap_or_else(|report| panic!("{report}")).run_in.unwrap()
}

#[test]
fn without_its_table_there_is_no_run_in() {
    assert_eq!(parse_settings("reach.toml", REACH).unwrap().run_in, None);
}

/// Percent are 10,000 ppm or 10 in a thousand, by definition; bends are counted from 1 in a file.
#[test]
fn every_figure_lands_in_its_unit() {
    let read = read(&format!(
        "{OVAL}
lane = 2
lane_width_m = 18.5
tolerance_m = 12.5
entrance = [44.992, -30.0]
cut_first = 1
cut_last = 2
cut_bends = [[45.001, -30.001536, 150.0], [44.991901501, -30.001536385, 190.0]]
risk_pct = 2.5
response_s = 0.3
sigma_most_s = 0.4
[run_in.boat]
speeds_m_s = [0, 40.5, 90]
pulls_m_s2 = [8.25, 7, 0]
lag_s = 1.1
bend_m_s2 = 14.5
coasting_pct_per_m = 0.3
pull_sd_pct = 4.5
bend_sd_pct = 2
lag_sd_s = 0.2"
    ));
    let (lane, boat, cut) = (&read.lane, &read.boat, read.lane.cut.clone().unwrap());
    assert_eq!(lane.turns, Turns::Left);
    assert_eq!(
        (lane.lane, lane.lane_width, lane.tolerance),
        (2, Millimetres::from_mm(18_500), Millimetres::from_mm(12_500))
    );
    assert_eq!(lane.bends[1].centre.lat.as_nano(), 44_991_901_501);
    assert_eq!(lane.bends[1].radius, Millimetres::from_mm(190_000));
    assert_eq!(lane.entrance.map(|mark| mark.lat.as_nano()), Some(44_992_000_000));
    assert_eq!((cut.first, cut.last, cut.bends.len()), (0, 1, 2));
    assert_eq!(
        (read.risk_ppm, read.response, read.sigma_most),
        (25_000, Span::from_millis(300), Span::from_millis(400))
    );
    assert_eq!(boat.pulls.len(), 3);
    assert_eq!(
        (boat.pulls[1].speed, boat.pulls[1].acceleration_mm_s2),
        (MmPerSecond::from_mm_s(40_500), 7_000)
    );
    assert_eq!((boat.lag, boat.lag_sd), (Span::from_millis(1_100), Span::from_millis(200)));
    assert_eq!((boat.bend_mm_s2, boat.coasting_ppm_per_m), (14_500, 3_000));
    assert_eq!((boat.pull_sd_permille, boat.bend_sd_permille), (45, 20));
    assert!(!boat.demonstration);
}

#[test]
fn a_boat_counts_as_measured_by_its_pull_alone() {
    assert_eq!(read(OVAL).boat, BoatModel::demonstration());
    let lag = read(&format!("{OVAL}\nboat.lag_s = 1.0")).boat;
    assert!(lag.demonstration && lag.lag == Span::from_secs(1));
    assert!(
        !read(&format!("{OVAL}\nboat.speeds_m_s = [0, 90]\nboat.pulls_m_s2 = [9, 0]")).boat.demonstration
    );
}

/// The same bends raced the other way: boats cross the line southwards, so its left end is the eastern one.
#[test]
fn a_right_hand_race_takes_the_same_bends() {
    let exchanged = with(&OVAL.replace("\"left\"", "\"right\""))
        .replace("line_left  = [45.000000, -30.000000]", "line_left = [45.0, -29.998]")
        .replace("line_right = [45.000000, -29.998000]", "line_right = [45.0, -30.0]");
    let settings = parse_settings("reach.toml", &exchanged).unwrap_or_else(|report| panic!("{report}"));
    assert_eq!(settings.run_in.unwrap().lane.turns, Turns::Right);
}

#[test]
fn a_run_in_without_bends() {
    told(
        &with("[run_in]\nturns = \"left\""),
        r#"
error: `run_in.bends` is missing
  --> reach.toml:18:1
   |
18 | [run_in]
   | ^^^^^^^^
   |
   = help: write: bends = [[45.004349443, -30.001536659, 190.0], [44.991901501, -30.001536385, 190.0]]
"#,
    );
}

#[test]
fn a_bend_without_a_radius() {
    told(
        &with(&OVAL.replace(", 190.0]", "]")),
        r#"
error: `run_in.bends` has a bend that is not [latitude, longitude, radius]
  --> reach.toml:20:10
   |
20 | bends = [[45.004349443, -30.001536659], [44.991901501, -30.001536385]]
   |          ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
   |
   = help: write up to 8 bends in brackets, each [latitude, longitude, radius]: degrees like a place's, and a number from -5000 to 5000 m, such as: bends = [[45.004349443, -30.001536659, 190.0], [44.991901501, -30.001536385, 190.0]]
"#,
    );
}

#[test]
fn a_race_the_wrong_way_round() {
    told(
        &with(&OVAL.replace("\"left\"", "\"right\"")),
        r#"
error: `run_in.bends` makes a lane that does not cross the start line in racing direction
  --> reach.toml:20:9
   |
20 | bends = [[45.004349443, -30.001536659, 190.0], [44.991901501, -30.001536385, 190.0]]
   |         ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
   |
   = help: check the line's ends, `turns`, `lane`, `lane_width_m` and the order of the bends: that of a boat with left-hand turns
"#,
    );
}

#[test]
fn bends_that_make_no_lane() {
    told(
        &with("[run_in]\nturns = \"left\"\nbends = [[45.004349443, -30.001536659, 190.0]]"),
        r#"
error: `run_in.bends` has fewer than two bends
  --> reach.toml:20:9
   |
20 | bends = [[45.004349443, -30.001536659, 190.0]]
   |         ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
   |
   = help: a lane needs at least two bends, also where a cut replaces some
"#,
    );
    told(
        &with(&OVAL.replace("-30.001536385, 190.0", "-30.001536385, 2000.0")),
        r#"
error: `run_in.bends` has two bends of which one lies within the other
  --> reach.toml:20:9
   |
20 | bends = [[45.004349443, -30.001536659, 190.0], [44.991901501, -30.001536385, 2000.0]]
   |         ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
   |
   = help: no straight touches both: see their middles and radii
"#,
    );
    told(
        &with(&OVAL.replace("-30.001536385, 190.0", "-30.001536385, -5.0")),
        r#"
error: `run_in.bends` has a bend that this lane cannot run round
  --> reach.toml:20:9
   |
20 | bends = [[45.004349443, -30.001536659, 190.0], [44.991901501, -30.001536385, -5.0]]
   |         ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
   |
   = help: in the lane a bend's radius is 5 m to 5 km, and its middle lies within 16 km of the line; a bend the other way must be wider than the lane is far out
"#,
    );
}

#[test]
fn half_a_cut_and_one_beyond_the_bends() {
    told(
        &with(&format!("{OVAL}\ncut_first = 1")),
        r#"
error: `run_in.cut_first` is given, but `run_in.cut_last` is missing
  --> reach.toml:21:13
   |
21 | cut_first = 1
   |             ^
   |
   = help: a cut needs cut_first, cut_last and cut_bends; without a cut take all out
"#,
    );
    told(
        &with(&format!("{OVAL}\ncut_first = 2\ncut_last = 3\ncut_bends = []")),
        r#"
error: `run_in.cut_last` is 3, but there are 2 bends
  --> reach.toml:22:12
   |
22 | cut_last = 3
   |            ^
   |
   = help: bends are counted from 1 in the order of `bends`
"#,
    );
}

#[test]
fn half_a_boat_and_boats_that_are_none() {
    told(
        &with(&format!("{OVAL}\nboat.speeds_m_s = [0, 90]")),
        r#"
error: `run_in.boat.speeds_m_s` is given, but `run_in.boat.pulls_m_s2` is missing
  --> reach.toml:21:19
   |
21 | boat.speeds_m_s = [0, 90]
   |                   ^^^^^^^
   |
   = help: give both lists, from measurement, or neither
"#,
    );
    told(
        &with(&format!("{OVAL}\nboat.speeds_m_s = [0, 50, 90]\nboat.pulls_m_s2 = [9, 0]")),
        r#"
error: `run_in.boat.pulls_m_s2` has 2 entries, and `run_in.boat.speeds_m_s` has 3
  --> reach.toml:22:19
   |
22 | boat.pulls_m_s2 = [9, 0]
   |                   ^^^^^^
   |
   = help: write one pull for each speed
"#,
    );
    told(
        &with(&format!("{OVAL}\nboat.speeds_m_s = [0, 90, 50]\nboat.pulls_m_s2 = [9, 5, 0]")),
        r#"
error: `run_in.boat.speeds_m_s` is not a list of rising speeds
  --> reach.toml:21:19
   |
21 | boat.speeds_m_s = [0, 90, 50]
   |                   ^^^^^^^^^^^
   |
   = help: write at least one speed, the lowest first, no two alike
"#,
    );
    told(
        &with(&format!("{OVAL}\nboat.speeds_m_s = [0, 50, 90]\nboat.pulls_m_s2 = [9, 0, 0]")),
        r#"
error: `run_in.boat.pulls_m_s2` has a pull below 0.1 m/s2 before its last
  --> reach.toml:22:19
   |
22 | boat.pulls_m_s2 = [9, 0, 0]
   |                   ^^^^^^^^^
   |
   = help: only the last may be less: there the boat gains nothing
"#,
    );
}
