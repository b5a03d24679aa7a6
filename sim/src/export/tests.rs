//! What is exported is what was recorded.

use super::*;
use crate::{play, scenario};

fn first() -> Exported {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("heats/first.toml");
    let heat = scenario::load(&path).unwrap();
    gather(&play::play(&heat).journal, None, "a <heat> & more").unwrap()
}

#[test]
fn a_clean_heat_has_its_start_three_laps_and_finish_in_order_of_time() {
    let heat = first();
    let on_line = |event: &&Event| {
        matches!(event.output, Output::Call { .. } | Output::Lap { .. } | Output::Finish { .. })
    };
    let named: Vec<String> = heat.events.iter().filter(on_line).filter_map(Event::name).collect();
    assert_eq!(named, ["start", "lap 1", "lap 2", "lap 3", "finish"]);
    let moments: Vec<Utc> = heat.events.iter().filter(on_line).filter_map(|event| event.utc).collect();
    assert!(moments.len() == 5 && moments.is_sorted(), "{moments:?}");
}

/// The start's place and moment are the crossing's: the margin is its race time.
#[test]
fn the_start_stands_on_the_line_at_its_own_margin() {
    let heat = first();
    let start = heat.events.iter().find(|event| matches!(event.output, Output::Call { .. })).unwrap();
    let Output::Call { margin, .. } = start.output else { unreachable!() };
    assert!((start.race.unwrap() - margin).abs() <= Span::from_millis(1));
    let course = heat.course.as_ref().unwrap();
    let beside = firmware::course::StartLine::new(course).unwrap().beside(start.position.unwrap());
    assert!(beside.past.as_mm().abs() <= 5, "{beside:?}");
    assert!(start.says.contains('±') && start.says.contains("officials decide"), "{}", start.says);
}

/// RFC 4180, section 2: every line has as many fields as the header, and ends in CR LF.
#[test]
fn tables_are_rfc_4180_with_a_row_for_each_fix() {
    let heat = first();
    let track = String::from_utf8(tables::track(&heat).unwrap()).unwrap();
    assert_eq!(track.matches("\r\n").count(), heat.points.len() + 1);
    assert_eq!(track.matches('\n').count(), track.matches("\r\n").count());
    let events = tables::events(&heat).unwrap();
    let mut read = csv::Reader::from_reader(events.as_slice());
    let rows: Vec<csv::StringRecord> = read.records().map(Result::unwrap).collect();
    assert!(rows.iter().any(|row| &row[2] == "call" && row[6].parse::<f64>().is_ok()));
}

#[test]
fn a_title_with_markup_in_it_is_written_as_text() {
    let heat = first();
    for bytes in [gpx::gpx(&heat).unwrap(), kml::kml(&heat).unwrap()] {
        let text = String::from_utf8(bytes).unwrap();
        assert!(text.contains("<name>a &lt;heat&gt; &amp; more</name>"));
    }
}

/// GPX 1.1, longitudeType: from -180 to below 180.
#[test]
fn a_longitude_of_180_degrees_is_written_as_minus_180() {
    let lon = firmware::units::NanoDegrees::from_nano(180_000_000_000);
    let at = Position { lat: firmware::units::NanoDegrees::from_nano(-500_000_000), lon };
    assert_eq!(degrees(at), ("-0.500000000".into(), "-180.000000000".into()));
}

#[test]
fn a_gap_of_more_than_a_second_cuts_the_way() {
    let mut heat = first();
    assert_eq!(heat.stretches().len(), 1);
    let middle = heat.points.len() / 2;
    heat.points.drain(middle..middle + 30);
    assert_eq!(heat.stretches().len(), 2);
}
