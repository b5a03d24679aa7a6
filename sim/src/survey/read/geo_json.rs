//! GeoJSON points (RFC 7946): features with a `name`, and, where it is known, `radius_m` and `sd_m`.
//!
//! What is no point is a drawing, and no mark. A course that this program wrote is read as the marks that it was made of.
//!
//! Knows the geojson library. Text in, named places out.

use geojson::{Feature, GeoJson, GeometryValue};

use super::figures::figure;
use super::{Faults, checked, fault};
use crate::survey::mark::{Placed, Spread};

/// The named places of a GeoJSON file.
pub fn places(file: &str, text: &str) -> Result<Vec<Placed>, Faults> {
    let wrong = |what: &str, right: &str| Err(vec![fault(file, what, right)]);
    let features = match text.parse::<GeoJson>() {
        Ok(GeoJson::FeatureCollection(all)) => {
            // RFC 7946, section 4: WGS 84 alone; older files may name another system.
            let foreign = all.foreign_members.as_ref().and_then(|members| members.get("crs"));
            if foreign.is_some_and(|crs| !crs.to_string().contains("CRS84")) {
                let right = "save it in WGS 84 (EPSG:4326), as RFC 7946 asks";
                return wrong("its coordinates are of another system", right);
            }
            all.features
        }
        Ok(GeoJson::Feature(one)) => vec![one],
        Ok(GeoJson::Geometry(_)) => {
            return wrong("a geometry without a name", "save it as a FeatureCollection of named points");
        }
        Err(error) => return wrong(&format!("not GeoJSON: {error}"), "see RFC 7946"),
    };
    let mut faults = Faults::new();
    let mut places = Vec::new();
    for (number, feature) in features.iter().enumerate() {
        match place(&format!("{file}: feature {}", number + 1), feature) {
            Some(Ok(placed)) => places.push(placed),
            Some(Err(fault)) => faults.push(fault),
            None => {}
        }
    }
    if faults.is_empty() { Ok(places) } else { Err(faults) }
}

fn place(at: &str, feature: &Feature) -> Option<Result<Placed, String>> {
    let GeometryValue::Point { coordinates } = &feature.geometry.as_ref()?.value else { return None };
    Some(point(at, feature, coordinates.as_slice()))
}

fn point(at: &str, feature: &Feature, coordinates: &[f64]) -> Result<Placed, String> {
    let [lon, lat, ..] = *coordinates else {
        return Err(fault(at, "a point without two coordinates", "write [longitude, latitude] in degrees"));
    };
    let text = |name: &str| feature.property(name).and_then(|value| value.as_str()).unwrap_or_default();
    let all = format!("{}; {}", text("name"), text("description"));
    let wrong = |what: String| fault(at, &what, "give the properties radius_m and sd_m as numbers of metres");
    let metres = |property: &str, word: &str| match feature.property(property) {
        Some(value) => match value.as_f64().filter(|metres| *metres > 0.0) {
            Some(metres) => Ok(Some(metres)),
            None if value.is_null() => Ok(None),
            None => Err(format!("`{property}` is not a number above nothing")),
        },
        None => figure(&all, word),
    };
    Ok(Placed {
        name: text("name").to_owned(),
        line: None,
        at: checked(at, lat, lon)?,
        spread: metres("sd_m", "sd").map_err(wrong)?.map(Spread::round),
        radius_m: metres("radius_m", "radius").map_err(wrong)?,
    })
}
