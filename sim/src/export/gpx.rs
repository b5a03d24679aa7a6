//! GPX 1.1: waypoints for the line's ends and for what happened, one track of all fixes.
//!
//! Source: the schema "GPX 1.1" (namespace of topografix, 2004): the order of elements within `wptType`, `trkType` and
//! `metadataType`, positions in WGS 84, times in UTC. It has no place for speed: that stands in `extensions`, in a
//! namespace of our own.
//!
//! A heat in, XML out.

use std::io;

use firmware::gnss::Position;
use firmware::gnss::calendar::rfc3339;
use firmware::units::Utc;
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesText, Event as Xml};

use super::{Exported, Point, course, degrees, metres_a_second, seconds};

/// What says that an element is GPX 1.1.
const GPX: &str = "http://www.topografix.com/GPX/1/1";

/// What says that an element is ours; a name, not an address.
pub const OURS: &str = "urn:x-gunline:heat:1";

type Pen = Writer<Vec<u8>>;

/// Writes the heat.
///
/// # Errors
/// What the library could not write; into memory, nothing.
pub fn gpx(heat: &Exported) -> io::Result<Vec<u8>> {
    let mut pen = Writer::new_with_indent(Vec::new(), b' ', 1);
    pen.write_event(Xml::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    let root = [("version", "1.1"), ("creator", "Gunline"), ("xmlns", GPX), ("xmlns:gunline", OURS)];
    pen.create_element("gpx").with_attributes(root).write_inner_content(|pen| {
        metadata(heat, pen)?;
        if let Some(course) = &heat.course {
            waypoint(
                pen,
                course.line_left,
                None,
                ("line, left end", "Left, seen in racing direction.", "line"),
            )?;
            waypoint(
                pen,
                course.line_right,
                None,
                ("line, right end", "Right, seen in racing direction.", "line"),
            )?;
        }
        for event in &heat.events {
            if let Some((name, position)) = event.name().zip(event.position) {
                waypoint(pen, position, event.utc, (&name, &event.says, "event"))?;
            }
        }
        track(heat, pen)
    })?;
    let mut bytes = pen.into_inner();
    bytes.push(b'\n');
    Ok(bytes)
}

fn metadata(heat: &Exported, pen: &mut Pen) -> io::Result<()> {
    pen.create_element("metadata").write_inner_content(|pen| {
        text(pen, "name", &heat.title)?;
        text(pen, "desc", &heat.remark)?;
        match heat.points.first() {
            Some(first) => text(pen, "time", &rfc3339(first.utc).to_string()),
            None => Ok(()),
        }
    })?;
    Ok(())
}

fn waypoint(
    pen: &mut Pen,
    at: Position,
    utc: Option<Utc>,
    (name, says, kind): (&str, &str, &str),
) -> io::Result<()> {
    let (lat, lon) = degrees(at);
    let place = [("lat", lat.as_str()), ("lon", lon.as_str())];
    pen.create_element("wpt").with_attributes(place).write_inner_content(|pen| {
        if let Some(utc) = utc {
            text(pen, "time", &rfc3339(utc).to_string())?;
        }
        text(pen, "name", name)?;
        text(pen, "desc", says)?;
        text(pen, "type", kind)
    })?;
    Ok(())
}

fn track(heat: &Exported, pen: &mut Pen) -> io::Result<()> {
    pen.create_element("trk").write_inner_content(|pen| {
        text(pen, "name", &heat.title)?;
        for stretch in heat.stretches() {
            pen.create_element("trkseg")
                .write_inner_content(|pen| stretch.iter().try_for_each(|point| track_point(point, pen)))?;
        }
        Ok(())
    })?;
    Ok(())
}

fn track_point(point: &Point, pen: &mut Pen) -> io::Result<()> {
    let (lat, lon) = degrees(point.position);
    let place = [("lat", lat.as_str()), ("lon", lon.as_str())];
    pen.create_element("trkpt").with_attributes(place).write_inner_content(|pen| {
        text(pen, "time", &rfc3339(point.utc).to_string())?;
        pen.create_element("extensions").write_inner_content(|pen| {
            text(pen, "gunline:speed_m_s", &metres_a_second(point.speed))?;
            text(pen, "gunline:course_deg", &course(point.course))?;
            match point.race {
                Some(race) => text(pen, "gunline:race_time_s", &seconds(race)),
                None => Ok(()),
            }
        })?;
        Ok(())
    })?;
    Ok(())
}

fn text(pen: &mut Pen, name: &str, words: &str) -> io::Result<()> {
    pen.create_element(name).write_text_content(BytesText::new(words))?;
    Ok(())
}
