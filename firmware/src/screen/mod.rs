//! The screen: a [`View`] becomes black and white pixels on any `embedded_graphics` target.
//!
//! Five bands from top to bottom, each with one job, none ever covering another: standing, race time, facts (the
//! run-in until the start), alert (the run-in's scale while there is none), engine. An offer of what hot laps have taught stands in facts and alert together, and never beside an alert. The race time is the largest thing there is, and its place depends on nothing but the time.
//! Meaning is carried by words and shapes alone, so it survives a display of one colour. Nothing blinks: the
//! same view gives the same pixels.
//!
//! The race time is rounded down (towards minus infinity), so zero is never shown before it has come. All other
//! figures are rounded to nearest.
//!
//! A survey's page stands in the clock's place too, and goes with the first signal.
//!
//! While the engine is being started, its step stands in the facts, and before a first signal EGT in the clock's place.
//!
//! Laid out for 128x64 and correct from there upwards; a smaller target cuts off what it cannot hold.
//!
//! This room reads views and writes pixels; it decides nothing and keeps nothing.

mod alert;
mod bench;
mod cautions;
mod digits;
mod engine;
mod facts;
mod figures;
mod frame;
mod last_words;
mod numerals;
mod offer;
mod pen;
mod run_in;
mod selftest;
mod standing;
mod start;
mod survey;

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::OriginDimensions;
use embedded_graphics::pixelcolor::BinaryColor;
use serde::{Deserialize, Serialize};

pub use alert::alert_text;
pub use bench::draw_bench;
pub use cautions::{CAUTION_PAGES, draw_cautions};
pub use frame::Frame;
pub use last_words::{LAST_WORDS_MAX, draw_last_words};
use pen::{Band, LARGE, SMALL, WIDE};
pub use selftest::{PROBES_SHOWN, draw_self_test};
pub use start::step_text;

use crate::view::View;

/// What the owner may choose about the screen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[serde(default, deny_unknown_fields)]
pub struct ScreenSettings {
    /// The unit of speeds.
    pub units: Units,
}

/// The unit of speeds on the screen. The core itself reckons in millimetres per second.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Units {
    /// Statute miles per hour.
    #[default]
    #[serde(rename = "mph")]
    Mph,
    /// Kilometres per hour.
    #[serde(rename = "km/h")]
    KmPerHour,
}

/// Draws a view into a frame of 128x64.
#[must_use]
pub fn draw(view: &View, settings: &ScreenSettings) -> Frame {
    let mut frame = Frame::new();
    match draw_on(&mut frame, view, settings) {
        Ok(()) => frame,
        Err(never) => match never {},
    }
}

/// Draws a view on a target of any size, over whatever was there.
///
/// # Errors
///
/// Only the target's own.
pub fn draw_on<D>(target: &mut D, view: &View, settings: &ScreenSettings) -> Result<(), D::Error>
where
    D: DrawTarget<Color = BinaryColor> + OriginDimensions,
{
    let bands = Bands::of(Band::whole(target.size()));
    target.clear(BinaryColor::Off)?;
    standing::draw(target, view, bands.standing)?;
    match (start::shown(view).filter(|_| view.race.is_none()), survey::shown(view)) {
        (Some(start), _) => start::draw_page(target, start, view, bands.clock)?,
        (None, Some(survey)) => survey::draw_page(target, survey, bands.clock)?,
        (None, None) => numerals::draw(target, view.race, bands.clock)?,
    }
    if let Some(offer) = offer::shown(view).filter(|_| start::shown(view).is_none()) {
        offer::draw(target, offer, settings.units, bands.facts)?;
        return engine::draw(target, view, bands.engine);
    }
    let run_in = run_in::shown(view).filter(|_| start::shown(view).is_none());
    match (start::shown(view), run_in) {
        (Some(start), _) => start::draw_line(target, start, bands.facts)?,
        (None, Some(run_in)) => run_in::draw(target, run_in, view, settings.units, bands.facts)?,
        (None, None) => facts::draw(target, view, settings.units, bands.facts)?,
    }
    match run_in.filter(|_| view.alert.is_none()) {
        Some(run_in) => run_in::draw_scale(target, run_in, bands.alert)?,
        None => alert::draw(target, view.alert, view.alerts_waiting, bands.alert)?,
    }
    engine::draw(target, view, bands.engine)
}

/// The five bands, one pixel apart. The texts keep their height; the clock takes what is left.
struct Bands {
    standing: Band,
    clock: Band,
    facts: Band,
    alert: Band,
    engine: Band,
}

impl Bands {
    fn of(screen: Band) -> Self {
        let (standing, rest) = screen.cut_top(WIDE.caps);
        let (rest, engine) = rest.cut_bottom(SMALL.caps);
        let (rest, alert) = rest.cut_bottom(LARGE.caps + 4);
        let (clock, facts) = rest.cut_bottom(LARGE.caps + 2);
        Self { standing, clock, facts, alert, engine }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bands_fill_128x64_to_the_pixel_and_the_clock_gets_28_rows() {
        let bands = Bands::of(Band { x: 0, y: 0, width: 128, height: 64 });
        let rows = [bands.standing, bands.clock, bands.facts, bands.alert, bands.engine];
        assert_eq!(rows.map(|band| (band.y, band.height)), [(0, 6), (7, 28), (36, 9), (46, 11), (58, 6)]);
        assert!(rows.iter().all(|band| (band.x, band.width) == (0, 128)));
    }
}
