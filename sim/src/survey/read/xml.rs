//! GPX 1.1 waypoints and KML 2.2 placemarks.
//!
//! Sources: GPX 1.1 schema documentation (`wpt` with `lat`, `lon`, `name`, `cmt`, `desc`); OGC 07-147r2, KML 2.2
//! (`Placemark` with `name`, `description` and a `Point`, whose `coordinates` are longitude, latitude and height).
//!
//! Knows figures. Text in, named places out.

use roxmltree::{Document, Node};

use super::figures::figure;
use super::{Faults, checked, fault};
use crate::survey::mark::{Placed, Spread};

/// The named places of a GPX or KML file.
pub fn places(file: &str, text: &str) -> Result<Vec<Placed>, Faults> {
    let document = Document::parse(text).map_err(|error| {
        let place = format!("{file}:{}", error.pos().row);
        vec![fault(&place, &format!("not XML: {error}"), "save the file again from the program that made it")]
    })?;
    let reading = Reading { file, document: &document };
    let all: Vec<_> = match document.root_element().tag_name().name() {
        "gpx" => reading.elements("wpt").map(|node| reading.waypoint(node)).collect(),
        "kml" => reading.elements("Placemark").filter_map(|node| reading.placemark(node)).collect(),
        other => {
            let right = "give GPX, KML, GeoJSON, a board's journal, or a TOML of ranges and bearings";
            return Err(vec![fault(file, &format!("<{other}> is neither GPX nor KML"), right)]);
        }
    };
    let faults: Faults = all.iter().filter_map(|place| place.as_ref().err().cloned()).collect();
    if faults.is_empty() { Ok(all.into_iter().flatten().collect()) } else { Err(faults) }
}

struct Reading<'a> {
    file: &'a str,
    document: &'a Document<'a>,
}

impl<'a> Reading<'a> {
    fn elements(&self, name: &'static str) -> impl Iterator<Item = Node<'a, 'a>> {
        self.document.descendants().filter(move |node| node.is_element() && node.tag_name().name() == name)
    }

    fn line(&self, node: Node<'_, '_>) -> u32 {
        self.document.text_pos_at(node.range().start).row
    }

    fn waypoint(&self, node: Node<'_, '_>) -> Result<Placed, String> {
        let degrees = |name: &str| node.attribute(name).and_then(|text| text.trim().parse::<f64>().ok());
        let place = format!("{}:{}", self.file, self.line(node));
        let (Some(lat), Some(lon)) = (degrees("lat"), degrees("lon")) else {
            return Err(fault(
                &place,
                "a waypoint without `lat` and `lon` in degrees",
                "see the GPX 1.1 schema",
            ));
        };
        self.named(node, &["cmt", "desc"], &place, (lat, lon))
    }

    /// A placemark that is no point is a drawing, and no mark.
    fn placemark(&self, node: Node<'_, '_>) -> Option<Result<Placed, String>> {
        let point = node.descendants().find(|node| node.is_element() && node.tag_name().name() == "Point")?;
        let place = format!("{}:{}", self.file, self.line(node));
        let coordinates = child(point, "coordinates").unwrap_or_default();
        let mut degrees = coordinates.trim().split(',').map(|text| text.trim().parse::<f64>().ok());
        let (Some(Some(lon)), Some(Some(lat))) = (degrees.next(), degrees.next()) else {
            let right = "longitude,latitude in degrees, as KML 2.2 has them";
            return Some(Err(fault(&place, &format!("`{coordinates}` are no coordinates"), right)));
        };
        Some(self.named(node, &["description"], &place, (lat, lon)))
    }

    fn named(
        &self,
        node: Node<'_, '_>,
        remarks: &[&str],
        place: &str,
        (lat, lon): (f64, f64),
    ) -> Result<Placed, String> {
        let name = child(node, "name").unwrap_or_default();
        let remarks = remarks.iter().filter_map(|remark| child(node, remark));
        let text = remarks.fold(name.clone(), |text, remark| format!("{text}; {remark}"));
        let wrong = |what: String| fault(place, &what, "write it like this: radius 190 m, sd 0.5 m");
        Ok(Placed {
            line: Some(self.line(node)),
            at: checked(place, lat, lon)?,
            spread: figure(&text, "sd").map_err(wrong)?.map(Spread::round),
            radius_m: figure(&text, "radius").map_err(wrong)?,
            name,
        })
    }
}

/// The text of a child element.
fn child(node: Node<'_, '_>, name: &str) -> Option<String> {
    let found = node.children().find(|child| child.is_element() && child.tag_name().name() == name)?;
    Some(found.text().unwrap_or_default().trim().to_owned())
}
