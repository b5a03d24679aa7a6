//! The course as GeoJSON (RFC 7946): for any map program, and for this one to read again.
//!
//! Points are the marks, with role, name and accuracy; lines are the start line, the lane and the turns' circles.
//!
//! Knows the survey and the geojson library. A survey in, text out.

use geojson::{Feature, FeatureCollection, GeoJson, Geometry, JsonObject, Position as Coordinates};
use serde_json::{Value, json};

use super::Survey;
use super::ground::{Point, degrees};

/// Draws the map.
#[must_use]
pub fn draw(survey: &Survey) -> String {
    let draft = &survey.draft;
    let on_map = |point: Point| coordinates(degrees(draft.ground.position(point)));
    let mut features = Vec::new();
    for mark in &draft.marks {
        let sd = mark.spread.map(|spread| spread.ellipse().0);
        let properties = json!({"name": mark.role.to_string(), "marked_as": mark.name, "sd_m": sd, "radius_m": mark.radius_m});
        features.push(feature(Geometry::new_point(coordinates(degrees(mark.at))), properties));
    }
    if let Some(line) = &survey.line {
        let ends = [line.left, line.right].map(on_map);
        features.push(feature(
            Geometry::new_line_string(ends),
            json!({"drawn": "start line", "length_m": line.length_m}),
        ));
    }
    for turn in &draft.turns {
        let round = (0..=72).map(|step| {
            let (sin, cos) = (f64::from(step % 72) * 5.0).to_radians().sin_cos();
            on_map(turn.centre.plus(Point { east: cos, north: sin }, turn.radius_m))
        });
        let properties =
            json!({"drawn": format!("circle of turn {}", turn.number), "radius_m": turn.radius_m});
        features.push(feature(Geometry::new_line_string(round), properties));
    }
    if let Some(laid) = &survey.laid {
        let ring = laid.lane.points.iter().chain(laid.lane.points.first()).map(|point| on_map(*point));
        let properties = json!({"drawn": "middle of the lane", "length_m": laid.lane.length_m});
        features.push(feature(Geometry::new_line_string(ring), properties));
    }
    let all = GeoJson::from(FeatureCollection::new(features));
    all.to_string_pretty().unwrap_or_default()
}

fn coordinates((lat, lon): (f64, f64)) -> Coordinates {
    Coordinates::from([lon, lat])
}

fn feature(geometry: Geometry, properties: Value) -> Feature {
    let known = |(_, value): &(String, Value)| !value.is_null();
    let properties: JsonObject =
        properties.as_object().cloned().unwrap_or_default().into_iter().filter(known).collect();
    Feature {
        bbox: None,
        geometry: Some(geometry),
        id: None,
        properties: Some(properties),
        foreign_members: None,
    }
}
