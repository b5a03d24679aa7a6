//! KML 2.2: the line, what happened as placemarks with their moments, the way as a line, and the boat once a second.
//!
//! Source: OGC 07-147r2, "OGC KML", version 2.2.0: the order of elements, coordinates as longitude and latitude,
//! `TimeStamp` and `TimeSpan` in UTC. Nothing beyond the standard is used.
//!
//! A heat in, XML out.

use std::io;

use firmware::gnss::Position;
use firmware::gnss::calendar::rfc3339;
use firmware::units::{Span, Utc};
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesText, Event as Xml};

use super::{Exported, Point, course, degrees, metres_a_second, seconds};

/// What says that an element is KML 2.2.
const KML: &str = "http://www.opengis.net/kml/2.2";

type Pen = Writer<Vec<u8>>;

/// Writes the heat.
///
/// # Errors
/// What the library could not write; into memory, nothing.
pub fn kml(heat: &Exported) -> io::Result<Vec<u8>> {
    let mut pen = Writer::new_with_indent(Vec::new(), b' ', 1);
    pen.write_event(Xml::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    pen.create_element("kml").with_attribute(("xmlns", KML)).write_inner_content(|pen| {
        pen.create_element("Document").write_inner_content(|pen| document(heat, pen))?;
        Ok(())
    })?;
    let mut bytes = pen.into_inner();
    bytes.push(b'\n');
    Ok(bytes)
}

fn document(heat: &Exported, pen: &mut Pen) -> io::Result<()> {
    text(pen, "name", &heat.title)?;
    text(pen, "description", &heat.remark)?;
    if let Some(course) = &heat.course {
        let ends = [course.line_left, course.line_right];
        placemark(pen, ("start line", None), |_| Ok(()), |pen| line(pen, &ends))?;
        for (name, end) in ["line, left end", "line, right end"].into_iter().zip(ends) {
            placemark(pen, (name, None), |_| Ok(()), |pen| spot(pen, end))?;
        }
    }
    for event in &heat.events {
        if let Some((name, position)) = event.name().zip(event.position) {
            placemark(
                pen,
                (&name, Some(&event.says)),
                |pen| stamp(pen, event.utc),
                |pen| spot(pen, position),
            )?;
        }
    }
    folder(pen, "way", |pen| heat.stretches().iter().try_for_each(|stretch| way(stretch, pen)))?;
    folder(pen, "boat, once a second", |pen| {
        each_second(&heat.points).into_iter().try_for_each(|point| boat(point, pen))
    })
}

fn folder(pen: &mut Pen, name: &str, inner: impl FnOnce(&mut Pen) -> io::Result<()>) -> io::Result<()> {
    pen.create_element("Folder").write_inner_content(|pen| {
        text(pen, "name", name)?;
        inner(pen)
    })?;
    Ok(())
}

/// A placemark: name, description, moment, then whatever `inner` adds in the standard's order.
fn placemark(
    pen: &mut Pen,
    (name, says): (&str, Option<&str>),
    moment: impl FnOnce(&mut Pen) -> io::Result<()>,
    inner: impl FnOnce(&mut Pen) -> io::Result<()>,
) -> io::Result<()> {
    pen.create_element("Placemark").write_inner_content(|pen| {
        text(pen, "name", name)?;
        if let Some(says) = says {
            text(pen, "description", says)?;
        }
        moment(pen)?;
        inner(pen)
    })?;
    Ok(())
}

/// A stretch of the way, as a line and with its first and last moment. A single fix makes no line.
fn way(stretch: &[Point], pen: &mut Pen) -> io::Result<()> {
    let (Some(first), Some(last)) = (stretch.first(), stretch.last()) else { return Ok(()) };
    if stretch.len() < 2 {
        return Ok(());
    }
    let places: Vec<Position> = stretch.iter().map(|point| point.position).collect();
    let moments = |pen: &mut Pen| {
        pen.create_element("TimeSpan").write_inner_content(|pen| {
            text(pen, "begin", &rfc3339(first.utc).to_string())?;
            text(pen, "end", &rfc3339(last.utc).to_string())
        })?;
        Ok(())
    };
    placemark(pen, ("way", None), moments, |pen| line(pen, &places))
}

/// The first good fix of each second.
fn each_second(points: &[Point]) -> Vec<&Point> {
    let mut last = None;
    let second = |point: &Point| point.utc.as_unix_micros().div_euclid(Span::from_secs(1).as_micros());
    points.iter().filter(|point| point.valid && last.replace(second(point)) != Some(second(point))).collect()
}

fn boat(point: &Point, pen: &mut Pen) -> io::Result<()> {
    let name = point.race.map_or_else(|| "boat".into(), crate::words::clock);
    placemark(
        pen,
        (&name, None),
        |pen| stamp(pen, Some(point.utc)),
        |pen| {
            pen.create_element("ExtendedData").write_inner_content(|pen| {
                datum(pen, "speed_m_s", &metres_a_second(point.speed))?;
                datum(pen, "course_deg", &course(point.course))?;
                match point.race {
                    Some(race) => datum(pen, "race_time_s", &seconds(race)),
                    None => Ok(()),
                }
            })?;
            spot(pen, point.position)
        },
    )
}

fn datum(pen: &mut Pen, name: &str, value: &str) -> io::Result<()> {
    pen.create_element("Data")
        .with_attribute(("name", name))
        .write_inner_content(|pen| text(pen, "value", value))?;
    Ok(())
}

fn stamp(pen: &mut Pen, utc: Option<Utc>) -> io::Result<()> {
    let Some(utc) = utc else { return Ok(()) };
    pen.create_element("TimeStamp")
        .write_inner_content(|pen| text(pen, "when", &rfc3339(utc).to_string()))?;
    Ok(())
}

fn spot(pen: &mut Pen, at: Position) -> io::Result<()> {
    pen.create_element("Point").write_inner_content(|pen| text(pen, "coordinates", &coordinates(at)))?;
    Ok(())
}

/// A line on the water, so it follows the surface.
fn line(pen: &mut Pen, places: &[Position]) -> io::Result<()> {
    let all: Vec<String> = places.iter().map(|at| coordinates(*at)).collect();
    pen.create_element("LineString").write_inner_content(|pen| {
        text(pen, "tessellate", "1")?;
        text(pen, "coordinates", &all.join(" "))
    })?;
    Ok(())
}

/// Longitude first, as the standard has it.
fn coordinates(at: Position) -> String {
    let (lat, lon) = degrees(at);
    format!("{lon},{lat}")
}

fn text(pen: &mut Pen, name: &str, words: &str) -> io::Result<()> {
    pen.create_element(name).write_text_content(BytesText::new(words))?;
    Ok(())
}
