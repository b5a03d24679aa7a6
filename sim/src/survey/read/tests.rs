//! Files as general libraries write them by their standards, and files that are wrong.

use std::path::Path;

use kml::types::{Coord, Geometry, Placemark, Point};
use proptest::prelude::*;

use super::*;
use crate::survey::ground::{degrees, distance, position};
use crate::survey::mark::Mark;
use crate::survey::role::Role;

fn read(name: &str, text: &str) -> Result<Vec<Mark>, Faults> {
    marks(Path::new(name), text.as_bytes(), &[])
}

fn only_fault(name: &str, text: &str) -> String {
    let faults = read(name, text).unwrap_err();
    assert_eq!(faults.len(), 1, "{faults:?}");
    faults[0].clone()
}

/// Written by the Rust crate gpx, which follows the GPX 1.1 schema.
#[test]
fn waypoints_of_another_library_s_gpx_are_read() {
    let mut gpx = gpx::Gpx {
        version: gpx::GpxVersion::Gpx11,
        creator: Some("a library".to_owned()),
        ..Default::default()
    };
    for (name, lat, lon) in [("Line left", 45.0, -30.0), ("Turn 1 a", 45.001_234_5, -30.002)] {
        let mut waypoint = gpx::Waypoint::new((lon, lat).into());
        waypoint.name = Some(name.to_owned());
        waypoint.description = Some("sd 0.4 m".to_owned());
        gpx.waypoints.push(waypoint);
    }
    let mut bytes = Vec::new();
    gpx::write(&gpx, &mut bytes).unwrap();
    let marks = marks(Path::new("drawn.gpx"), &bytes, &[]).unwrap();
    assert_eq!(marks[0].role, Role::LineLeft);
    assert_eq!((marks[1].role, degrees(marks[1].at)), (Role::Buoy(1), (45.001_234_5, -30.002)));
    assert!((marks[1].spread.unwrap().ellipse().0 - 0.4).abs() < 1e-12);
}

/// Written by the Rust crate kml, which follows OGC 07-147r2.
#[test]
fn placemarks_of_another_library_s_kml_are_read() {
    let placemark = Placemark {
        name: Some("turn 2 centre".to_owned()),
        description: Some("drawn, radius 623 ft".to_owned()),
        geometry: Some(Geometry::Point(Point::from(Coord::new(-30.0015, 44.9919, Some(0.0))))),
        ..Placemark::default()
    };
    let bytes = kml::Kml::<f64>::Placemark(placemark).to_string();
    let text = format!(
        "<?xml version=\"1.0\"?><kml xmlns=\"http://www.opengis.net/kml/2.2\"><Document>{bytes}</Document></kml>"
    );
    let marks = read("drawn.kml", &text).unwrap();
    assert_eq!((marks[0].role, degrees(marks[0].at)), (Role::Centre(2), (44.9919, -30.0015)));
    // International foot: 0.3048 m.
    assert!((marks[0].radius_m.unwrap() - 623.0 * 0.3048).abs() < 1e-9);
}

/// RFC 7946, section 1.5, has a feature of each kind; its point is 102 east, 0.5 north.
#[test]
fn points_of_the_rfc_s_own_example_are_read_and_drawings_are_not() {
    let text = r#"{"type": "FeatureCollection", "features": [
        {"type": "Feature", "geometry": {"type": "Point", "coordinates": [102.0, 0.5]}, "properties": {"name": "line right"}},
        {"type": "Feature", "geometry": {"type": "LineString", "coordinates": [[102.0, 0.0], [103.0, 1.0]]},
         "properties": {"prop0": "value0", "prop1": 0.0}}]}"#;
    let marks = read("a.geojson", text).unwrap();
    assert_eq!(marks.len(), 1);
    assert_eq!((marks[0].role, degrees(marks[0].at)), (Role::LineRight, (0.5, 102.0)));
}

/// The same place by magnetic bearing with its declination, and from an earlier mark. A true bearing is the magnetic one
/// plus an easterly declination (any handbook of navigation).
#[test]
fn ranges_and_bearings_lead_to_their_marks() {
    let text = r#"
        declination_deg = -11.5
        [[known]]
        name = "flagpole"
        at = [45.0, -30.0]
        sd_m = 0.3
        [[mark]]
        name = "line left"
        from = "flagpole"
        distance = "100 m"
        bearing_magnetic_deg = 101.5
        distance_sd = "0.4 m"
        bearing_sd_deg = 0.572957795
        [[mark]]
        name = "line right"
        from = "line left"
        distance = "0.1 km"
        bearing_true_deg = 90
        [[mark]]
        name = "turn 1 centre"
        at = [45.01, -30.0]
        radius = "190 m"
    "#;
    let marks = read("marks.toml", text).unwrap();
    // N cos 45 at 45 degrees is 4,517,590.9 m (radii of WGS 84, by hand): 100 m east are 0.001268282 degrees.
    let (lat, lon) = degrees(marks[0].at);
    assert!((lat - 45.0).abs() < 1e-8 && (lon + 30.0 - 0.001_268_282).abs() < 2e-9, "{lat} {lon}");
    assert!((distance(marks[0].at, marks[1].at) - 100.0).abs() < 1e-3);
    // Along: 0.4 and the flagpole's 0.3 are 0.5. Across: 100 m times 0.01 radian, 1.0, and 0.3.
    let (long, short, turn) = marks[0].spread.unwrap().ellipse();
    assert!((long - 1.09_f64.sqrt()).abs() < 1e-6 && (short - 0.5).abs() < 1e-6, "{long} {short}");
    assert!((turn.abs() - 90.0).abs() < 1e-3, "{turn}");
    assert_eq!(marks[1].spread, None, "nothing says how well its range and bearing are known");
    assert_eq!(marks[2].radius_m, Some(190.0));
}

#[test]
fn wrong_files_are_told_where_and_what_would_be_right() {
    let wpt = |name: &str| {
        format!("<gpx version=\"1.1\"><wpt lat=\"45\" lon=\"-30\"><name>{name}</name></wpt></gpx>")
    };
    for (name, text, says) in [
        ("a.gpx", wpt("line rigth"), vec!["a.gpx:1", "did you mean `line right`?"]),
        ("a.gpx", wpt("line left").replace("45", "95"), vec!["latitude 95", "changed about"]),
        ("a.gpx", "<gpx><wpt lat=\"45\"/></gpx>".to_owned(), vec!["a waypoint without"]),
        ("a.gpx", "<gpx>\n<wpt lat=></wpt></gpx>".to_owned(), vec!["a.gpx:2", "not XML"]),
        ("a.html", "<html/>".to_owned(), vec!["neither GPX nor KML"]),
        ("a.kml", "<kml><Placemark><name>entrance</name><Point><coordinates>x</coordinates></Point></Placemark></kml>".to_owned(),
            vec!["no coordinates"]),
        ("a.json", "{\"type\": \"Feature\"".to_owned(), vec!["not GeoJSON"]),
        ("a.kmz", "PK\u{3}\u{4}".to_owned(), vec!["packed", "unpack"]),
        ("a.gpx", " \n".to_owned(), vec!["empty"]),
        ("a.toml", "[[mark]]\nname = \"line left\"\nfrom = \"pole\"\n".to_owned(), vec!["a.toml:3", "`pole` is not known"]),
        ("a.toml", "[[mark]]\nname = \"line left\"\nform = \"pole\"\n".to_owned(), vec!["did you mean `from`?"]),
    ] {
        let faults = read(name, &text).unwrap_err().join("\n");
        for part in says {
            assert!(faults.contains(part), "{faults}\nlacks {part}");
        }
    }
    assert!(only_fault("a.gpx", &wpt("quay")).contains("`quay` is not what a mark is called"));
}

#[test]
fn a_magnetic_bearing_needs_a_declination() {
    let text = "[[known]]\nname = \"p\"\nat = [45.0, -30.0]\n[[mark]]\nname = \"line left\"\nfrom = \"p\"\ndistance = \"5 m\"\nbearing_magnetic_deg = 5\n";
    assert!(only_fault("a.toml", text).contains("declination_deg = "));
    assert!(read("a.toml", &format!("declination_deg = 3\n{text}")).is_ok());
}

#[test]
fn a_role_given_by_hand_stands_for_the_name() {
    let text = "<gpx><wpt lat=\"45\" lon=\"-30\"><name>WP7</name></wpt></gpx>";
    let roles = [("WP7".to_owned(), "entrance".to_owned())];
    let marks = marks(Path::new("a.gpx"), text.as_bytes(), &roles).unwrap();
    assert_eq!(marks[0].role, Role::Entrance);
}

proptest! {
    #[test]
    fn no_bytes_make_the_readers_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        let _ = marks(Path::new("any"), &bytes, &[]);
    }

    #[test]
    fn a_gpx_cut_short_anywhere_is_wrong_or_has_no_stranger_in_it(cut in 0_usize..2_000) {
        let whole = include_str!("../../../surveys/reach.gpx");
        let Some(part) = whole.get(..cut.min(whole.len())) else { return Ok(()) };
        if let Ok(some) = read("cut.gpx", part) {
            let all = read("whole.gpx", whole).unwrap();
            prop_assert!(some.iter().all(|mark| all.iter().any(|other| other.at == mark.at && other.role == mark.role)));
        }
    }

    /// The library's numbers come through exactly: to a nano-degree.
    #[test]
    fn a_geojson_point_keeps_its_place(lat in -80.0_f64..80.0, lon in -179.0_f64..179.0) {
        let point = geojson::Feature::from(geojson::Geometry::new_point([lon, lat]));
        let mut feature = point;
        feature.set_property("name", "entrance");
        let marks = read("a.json", &feature.to_string()).unwrap();
        prop_assert_eq!(marks[0].at, position(lat, lon));
    }
}
