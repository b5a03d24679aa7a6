//! Courses that stand and courses that do not, each with one thing wrong.

use std::path::Path;

use firmware::course::StartLine;
use firmware::run_in::lane::lay_out;
use firmware::run_in::stations::Ring;
use proptest::prelude::*;

use super::finding::Finding;
use super::ground::{Ground, Point, position};
use super::role::{Named, named};
use super::*;

/// An oval of the middle lane's radius 200 m in the open ocean, boats northwards on its east side, as [`Mark`]s.
fn oval() -> Vec<(&'static str, f64, f64)> {
    let mut marks = vec![("line left", 110.0, 0.0), ("line right", 290.0, 0.0), ("entrance", 195.0, -600.0)];
    for (name, east, north) in [
        ("turn 1 a", 190.0, 500.0),
        ("turn 1 b", 0.0, 690.0),
        ("turn 1 c", -190.0, 500.0),
        ("turn 1 d", 134.350_288, 634.350_288),
        ("turn 2 a", -190.0, -900.0),
        ("turn 2 b", 0.0, -1_090.0),
        ("turn 2 c", 190.0, -900.0),
        ("turn 2 d", 134.350_288, -1_034.350_288),
    ] {
        marks.push((name, east, north));
    }
    marks
}

fn marks(all: &[(&str, f64, f64)]) -> Vec<Mark> {
    let ground = Ground::about(position(45.0, -30.0));
    let mark = |(name, east, north): &(&str, f64, f64)| {
        let Named::Role(role) = named(name) else { panic!("{name}") };
        Mark {
            role,
            name: (*name).to_owned(),
            file: "oval".to_owned(),
            at: ground.position(Point { east: *east, north: *north }),
            spread: Some(Spread::round(0.5)),
            radius_m: name.contains("centre").then_some(190.0),
        }
    };
    all.iter().map(mark).collect()
}

/// Two straights of 1,400 m and a whole circle of 200 m.
const LAP_M: f64 = 2_800.0 + 400.0 * std::f64::consts::PI;

fn asked() -> Asked {
    Asked { lap_m: Some(LAP_M), ..Asked::default() }
}

fn wrongs(survey: &Survey) -> Vec<&Finding> {
    survey.findings.iter().filter(|finding| finding.standing == Standing::Wrong).collect()
}

/// The one thing that is wrong with an oval changed by `change`: its mark, what, and what would be right.
fn one_wrong(change: impl FnOnce(&mut Vec<(&'static str, f64, f64)>), asked: &Asked) -> (String, String) {
    let mut all = oval();
    change(&mut all);
    let survey = survey(marks(&all), asked);
    let found = wrongs(&survey);
    assert_eq!(found.len(), 1, "{:#?}", survey.findings);
    assert!(!survey.stands() && survey.settings.is_none());
    assert!(!found[0].right.is_empty());
    (found[0].mark.clone().unwrap_or_default(), format!("{} {}", found[0].what, found[0].right))
}

fn place(all: &mut [(&'static str, f64, f64)], name: &str, east: f64, north: f64) {
    let mark = all.iter_mut().find(|mark| mark.0 == name).unwrap();
    (mark.1, mark.2) = (east, north);
}

#[test]
fn an_oval_stands_and_its_figures_are_those_of_plane_geometry() {
    let survey = survey(marks(&oval()), &asked());
    assert!(survey.stands(), "{:#?}", survey.findings);
    assert_eq!(survey.hand, Some(Hand::Left));
    let line = survey.line.unwrap();
    assert!((line.length_m - 180.0).abs() < 1e-3 && (line.sd_m - 0.5).abs() < 1e-9 && !line.assumed);
    assert!((survey.laid.as_ref().unwrap().lane.length_m - LAP_M).abs() < 0.01);
    assert!(survey.skew_deg.unwrap().abs() < 1e-3);
    // Four buoys at 0, 45, 90 and 180 degrees on each turn.
    for turn in &survey.draft.turns {
        assert!((turn.radius_m - 190.0).abs() < 0.01 && turn.fitted.unwrap().residual_m < 0.01);
    }
    // 0.5 m at 160 mph, 71.5256 m/s, are 7.0 ms.
    assert!(survey.findings.iter().any(|finding| finding.what.contains("by 7 ms")), "{:#?}", survey.findings);
}

/// The dash lays the lane out in whole numbers, by code of its own.
#[test]
fn the_dash_measures_the_same_lap() {
    let survey = survey(marks(&oval()), &asked());
    let settings = crate::scenario::parse_settings("course", survey.settings.as_ref().unwrap()).unwrap();
    let (course, run_in) = (settings.course.unwrap(), settings.run_in.unwrap());
    let mut ring = Ring::default();
    lay_out(&mut ring, &run_in.lane, None, &StartLine::new(&course).unwrap(), &run_in.boat).unwrap();
    let ours = survey.laid.unwrap().lane.length_m;
    let dash = ring.lap().as_mm() as f64 / 1e3;
    assert!((dash - ours).abs() < 0.05, "{dash} {ours}");
}

/// A race that turns right is the same oval in a looking-glass.
#[test]
fn a_race_that_turns_right_is_told_by_its_line() {
    let mirrored: Vec<_> = oval()
        .into_iter()
        .map(|(name, east, north)| {
            let name = match name {
                "line left" => "line right",
                "line right" => "line left",
                other => other,
            };
            (name, -east, north)
        })
        .collect();
    let survey = survey(marks(&mirrored), &asked());
    assert!(survey.stands(), "{:#?}", survey.findings);
    assert_eq!(survey.hand, Some(Hand::Right));
    assert!(survey.settings.unwrap().contains("turns = \"right\""));
}

#[test]
fn line_ends_changed_about_are_found() {
    let (mark, says) = one_wrong(
        |all| {
            place(all, "line left", 290.0, 0.0);
            place(all, "line right", 110.0, 0.0);
        },
        &asked(),
    );
    assert_eq!(mark, "line left");
    assert!(says.contains("changed about") && says.contains("towards south"), "{says}");
}

#[test]
fn turns_counted_against_the_race_are_found_where_the_hand_is_told() {
    let other_way = |all: &mut Vec<(&'static str, f64, f64)>| {
        for mark in all.iter_mut() {
            mark.0 = match mark.0 {
                "turn 1 a" => "turn 2 a",
                "turn 1 b" => "turn 2 b",
                "turn 1 c" => "turn 2 c",
                "turn 1 d" => "turn 2 d",
                "turn 2 a" => "turn 1 a",
                "turn 2 b" => "turn 1 b",
                "turn 2 c" => "turn 1 c",
                "turn 2 d" => "turn 1 d",
                other => other,
            };
        }
    };
    let asked = Asked { turns: Some(Hand::Left), ..asked() };
    let (mark, says) = one_wrong(other_way, &asked);
    assert!(mark == "turn 1" && says.contains("counted against the racing direction"), "{says}");
}

#[test]
fn a_race_that_is_said_to_turn_the_other_way_is_found() {
    let (_, says) = one_wrong(|_| {}, &Asked { turns: Some(Hand::Right), ..asked() });
    assert!(says.contains("turns left, but --turns says right"), "{says}");
}

/// The right end 16 m ahead: atan(16 / 180) is 5.08 degrees.
#[test]
fn a_line_off_the_lane_s_square_is_found() {
    let (mark, says) = one_wrong(|all| place(all, "line right", 290.0, 16.0), &asked());
    assert_eq!(mark, "line right");
    assert!(says.contains("5.08 degrees") && says.contains("16.1 m backwards"), "{says}");
    let wider = Asked { square_within_deg: 5.2, ..asked() };
    let mut all = oval();
    place(&mut all, "line right", 290.0, 16.0);
    assert!(survey(marks(&all), &wider).stands());
}

/// 2.5 statute miles are 4,023.36 m; this lap is 4,056.64 m: 33.28 m or 0.827 % too long.
#[test]
fn a_lap_off_the_sanctioned_figure_is_found_in_metres_and_percent() {
    let (_, says) = one_wrong(|_| {}, &Asked { lap_m: Some(4_023.36), ..Asked::default() });
    assert!(
        says.contains("+33.28 m, +0.827 %") && says.contains("shorten both straights by 16.6 m"),
        "{says}"
    );
    let within = Asked { lap_m: Some(4_023.36), lap_within_pct: 1.0, ..Asked::default() };
    assert!(survey(marks(&oval()), &within).stands());
}

/// Along buoys of 190 m it is 20 pi shorter.
#[test]
fn a_lap_may_be_measured_along_the_buoys() {
    let lap_m = Some(LAP_M - 20.0 * std::f64::consts::PI);
    assert!(survey(marks(&oval()), &Asked { lap_m, lap_along_buoys: true, ..Asked::default() }).stands());
}

#[test]
fn marks_that_make_no_course_are_told_by_name() {
    let (mark, says) = one_wrong(|all| all.retain(|mark| mark.0 != "line right"), &asked());
    assert!(mark.is_empty() && says.contains("`line right` is missing"), "{says}");

    let (mark, says) = one_wrong(|all| all.push(("line left", 112.0, 30.0)), &asked());
    assert!(mark == "line left" && says.contains("twice, 30.1 m apart"), "{says}");

    let (mark, says) = one_wrong(|all| place(all, "entrance", 191.0, -900.5), &asked());
    assert!(mark == "turn 2" && says.contains("lie on each other, 1.1 m apart"), "{says}");

    let (mark, says) = one_wrong(|all| place(all, "entrance", 205.0, 300.0), &asked());
    assert!(mark == "entrance" && says.contains("300 m after the line"), "{says}");

    let (mark, says) = one_wrong(|all| place(all, "turn 1 b", 0.0, 720.0), &Asked::default());
    assert!(mark == "turn 1" && says.contains("do not stand on a circle"), "{says}");

    let (mark, says) = one_wrong(
        |all| {
            place(all, "line left", 210.0, 0.0);
            place(all, "line right", 330.0, 0.0);
        },
        &asked(),
    );
    assert!(mark == "line left" && says.contains("10.0 m outside the line's left end"), "{says}");
}

#[test]
fn turns_that_make_no_bend_are_told() {
    let says = |change: fn(&mut Vec<(&'static str, f64, f64)>)| {
        let mut all = oval();
        change(&mut all);
        let survey = survey(marks(&all), &asked());
        wrongs(&survey).iter().map(|finding| finding.what.clone()).collect::<Vec<_>>().join("; ")
    };
    assert!(
        says(|all| all.retain(|mark| mark.0 != "turn 2 c" && mark.0 != "turn 2 d"))
            .contains("2 of its buoys make no circle")
    );
    assert!(says(|all| all.retain(|mark| !mark.0.starts_with("turn 2"))).contains("there is only one turn"));
    assert!(says(|all| all.retain(|mark| !mark.0.starts_with("turn"))).contains("there is no turn"));
    assert!(says(|all| all.retain(|mark| !mark.0.starts_with("turn 1"))).contains("turn 1 is missing"));
    assert!(says(|all| all.push(("turn 1 centre", 0.0, 500.0))).contains("both a centre and buoys"));
    // A circle of 190 m about a middle 10 m from that of turn 1, and one of half the size inside it.
    let nested = says(|all| {
        for (name, east, north) in [
            ("turn 2 a", -95.0, 510.0),
            ("turn 2 b", 0.0, 605.0),
            ("turn 2 c", 95.0, 510.0),
            ("turn 2 d", 0.0, 415.0),
        ] {
            place(all, name, east, north);
        }
        place(all, "line left", 110.0, -30.0);
        place(all, "line right", 290.0, -30.0);
    });
    assert!(nested.contains("one lies within the other") || nested.contains("changed about"), "{nested}");
    let straight = says(|all| {
        for (name, east) in
            [("turn 1 a", -100.0), ("turn 1 b", 0.0), ("turn 1 c", 100.0), ("turn 1 d", 200.0)]
        {
            place(all, name, east, 690.0);
        }
    });
    assert!(straight.contains("stand in a straight line"), "{straight}");
}

#[test]
fn a_stray_mark_far_away_is_told_by_its_name() {
    let mut all = marks(&oval());
    all[2].at = position(-30.0, 45.0);
    let survey = survey(all, &asked());
    assert!(wrongs(&survey).iter().any(|finding| finding.mark.as_deref() == Some("entrance")
        && finding.what.contains("km from the other marks")));
}

#[test]
fn nothing_but_assumed_ends_is_said_to_be_assumed() {
    let mut all = marks(&oval());
    all.iter_mut().for_each(|mark| mark.spread = None);
    let survey = survey(all, &asked());
    assert!(survey.line.unwrap().assumed && survey.stands());
    assert!(survey.settings.unwrap().contains("line_sd_m = 3.000   # across the line, assumed"));
}

#[test]
fn the_shipped_courses_stand() {
    let files = [
        ("reach.gpx", include_str!("../../surveys/reach.gpx")),
        ("reach.kml", include_str!("../../surveys/reach.kml")),
        ("reach.geojson", include_str!("../../surveys/reach.geojson")),
        ("reach-bearings.toml", include_str!("../../surveys/reach-bearings.toml")),
    ];
    for (name, text) in files {
        let marks = read::marks(Path::new(name), text.as_bytes(), &[]).unwrap();
        let survey = survey(marks, &Asked { lap_m: Some(4_023.36), ..Asked::default() });
        assert!(survey.stands(), "{name}: {:#?}", survey.findings);
        let drawing = drawing::draw(&survey, &Asked::default());
        assert!(roxmltree::Document::parse(&drawing).is_ok(), "{name}");
    }
}

/// Redrawn with GUNLINE_REDRAW=1, after a look at what changed.
#[test]
fn the_picture_in_the_docs_is_what_is_drawn() {
    let marks = read::marks(Path::new("reach.gpx"), include_bytes!("../../surveys/reach.gpx"), &[]).unwrap();
    let asked = Asked { lap_m: Some(4_023.36), ..Asked::default() };
    let drawn = drawing::draw(&survey(marks, &asked), &asked);
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/pictures/survey.svg");
    if std::env::var_os("GUNLINE_REDRAW").is_some() {
        std::fs::write(&path, &drawn).unwrap();
    }
    assert!(
        std::fs::read_to_string(&path).unwrap_or_default() == drawn,
        "docs/pictures/survey.svg is of another drawing"
    );
}

/// The geojson crate reads what was drawn, and so does this program, as the same course to a nano-degree.
#[test]
fn a_drawn_map_is_the_same_course_again() {
    let first = survey(marks(&oval()), &asked());
    let drawn = map::draw(&first);
    let parsed: geojson::GeoJson = drawn.parse().unwrap();
    let geojson::GeoJson::FeatureCollection(all) = parsed else { panic!("{drawn}") };
    // 11 marks, the line, two circles, the lane.
    assert_eq!(all.features.len(), 15);
    let again = read::marks(Path::new("course.geojson"), drawn.as_bytes(), &[]).unwrap();
    assert_eq!(survey(again, &asked()).settings, first.settings);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Wherever it lies and however it is turned, a course that was drawn right stands, and changing its line's ends about
    /// is always found.
    #[test]
    fn a_right_course_stands_anywhere_and_a_swapped_line_never_does(
        lat in -65.0_f64..65.0, lon in -179.0_f64..179.0, turn in 0.0_f64..360.0, scale in 0.6_f64..2.0,
    ) {
        let ground = Ground::about(position(lat, lon));
        let (sin, cos) = turn.to_radians().sin_cos();
        let mut all = marks(&oval());
        for (mark, (_, east, north)) in all.iter_mut().zip(oval()) {
            let (east, north) = (scale * (east * cos - north * sin), scale * (east * sin + north * cos));
            mark.at = ground.position(Point { east, north });
        }
        let asked = Asked { lane_width_m: 20.0 * scale, lap_m: Some(LAP_M * scale), ..Asked::default() };
        let right = survey(all.clone(), &asked);
        prop_assert!(right.stands(), "{:#?}", right.findings);
        let (left, other) = (all[0].at, all[1].at);
        (all[0].at, all[1].at) = (other, left);
        prop_assert!(!survey(all, &asked).stands());
    }
}
