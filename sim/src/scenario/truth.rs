//! The figures of the simulated world: from the settings file what the dash was told, from the heat file what
//! is otherwise in truth.
//!
//! Knows the reader, the world's settings and the core's. Checked values in, the world's settings out.

use firmware::engine::Engine;
use firmware::engine::tach::TachSettings;
use firmware::gnss::Position;
use firmware::settings::Settings;
use firmware::units::{Millimetres, NanoDegrees};
use serde::Deserialize;
use serde::de::IntoDeserializer;
use serde::de::value::Error;

use super::reader::Reading;
use super::value::{FromValue, Value};
use crate::world::WorldSettings;
use crate::world::course::Turns;
use crate::world::faults::FaultKind;
use crate::world::maths::seconds;
use crate::world::receiver::Protocol;
use crate::world::thumb::Cue;

/// A world in which everything that the dash was told is true, and the rest is as the world has it by itself.
#[must_use]
pub fn as_the_settings_say(settings: &Settings) -> WorldSettings {
    let mut world = WorldSettings::default();
    if let Some(course) = &settings.course {
        world.course.line_left = degrees(course.line_left);
        world.course.line_right = degrees(course.line_right);
        world.course.lap_length_m = metres(course.lap_length);
    }
    world.boat.antenna_to_bow_m = metres(settings.crossing.antenna_to_bow);
    world.driver.race_laps = settings.race.laps;
    let gun = &settings.gun;
    world.guns.signals_s = gun.signals_s.iter().copied().map(f64::from).collect();
    world.thumb.presses_at_s = world.guns.signals_s.iter().copied().filter(|before| *before > 0.0).collect();
    world.thumb.reaction_mean_s = seconds(gun.reaction_mean);
    world.thumb.reaction_sd_s = seconds(gun.reaction_sd);
    world.thumb.mean_sd_s = seconds(gun.reaction_mean_sd);
    if let Some(heard) = &gun.heard {
        world.thumb.cue = Cue::Sound;
        world.guns.distance_m = metres(heard.distance);
        world.guns.air_c = f64::from(heard.air.as_milli()) / 1e3;
    }
    world.pickups.n1_hz_at_100_pct = hertz(&settings.engine.n1_tach);
    world.pickups.n2_hz_at_100_pct = hertz(&settings.engine.n2_tach);
    world.pickups.watched = Some(Engine::watched(&settings.engine));
    let first_signal_s = gun.signals_s.first().copied().map_or(0.0, f64::from);
    world.begins_s = world.begins_s.min(-first_signal_s - 45.0);
    world
}

/// What the heat file says otherwise.
pub fn read(reading: &Reading, world: &mut WorldSettings) {
    reading.set("begins_s", &mut world.begins_s);
    reading.set("ends_s", &mut world.ends_s);
    reading.set("start.zero_utc", &mut world.zero_utc);
    course(reading, world);
    boat(reading, world);
    driver(reading, world);
    engine(reading, world);
    dock(reading, world);
    receiver(reading, world);
    crystal(reading, world);
    thumb(reading, world);
    guns(reading, world);
    engine_sensors(reading, world);
}

fn course(reading: &Reading, world: &mut WorldSettings) {
    let course = &mut world.course;
    reading.set("course.line_left", &mut course.line_left);
    reading.set("course.line_right", &mut course.line_right);
    reading.set("course.lap_length_m", &mut course.lap_length_m);
    reading.set("course.turn_radius_m", &mut course.turn_radius_m);
    reading.set("course.lane_offset_m", &mut course.lane_offset_m);
    reading.set("course.turn_to_line_m", &mut course.turn_to_line_m);
    reading.set("course.skew_deg", &mut course.skew_deg);
    reading.set("course.turns", &mut course.turns);
}

fn boat(reading: &Reading, world: &mut WorldSettings) {
    let boat = &mut world.boat;
    reading.set("boat.mass_kg", &mut boat.mass_kg);
    reading.set("boat.thrust_n", &mut boat.thrust_n);
    reading.set("boat.top_speed_m_s", &mut boat.top_speed_m_s);
    reading.set("boat.settled_drag_ratio", &mut boat.settled_drag_ratio);
    reading.set("boat.cornering_m_s2", &mut boat.cornering_m_s2);
    reading.set("boat.antenna_to_bow_m", &mut boat.antenna_to_bow_m);
}

fn driver(reading: &Reading, world: &mut WorldSettings) {
    let driver = &mut world.driver;
    reading.set("boat.drive.leaves_dock_s", &mut driver.leaves_dock_s);
    reading.set("boat.drive.dock_to_line_m", &mut driver.dock_to_line_m);
    reading.set("boat.drive.milling_speed_m_s", &mut driver.milling_speed_m_s);
    reading.set("boat.drive.target_margin_s", &mut driver.target_margin_s);
    reading.set("boat.drive.timing_sd_s", &mut driver.timing_sd_s);
    reading.set("boat.drive.race_laps", &mut driver.race_laps);
    reading.set("boat.drive.cool_down_laps", &mut driver.cool_down_laps);
}

fn engine(reading: &Reading, world: &mut WorldSettings) {
    let engine = &mut world.engine;
    reading.set("engine.starter_at_s", &mut engine.starter_at_s);
    reading.set("engine.light_off_n1_pct", &mut engine.light_off_n1_pct);
    reading.set("engine.light_delay_s", &mut engine.light_delay_s);
    reading.set("engine.light_delay_sd_s", &mut engine.light_delay_sd_s);
    reading.set("engine.fire_lag_s", &mut engine.fire_lag_s);
    reading.set("engine.idle_n1_pct", &mut engine.idle_n1_pct);
    reading.set("engine.spool_lag_s", &mut engine.spool_lag_s);
    reading.set("engine.idle_egt_c", &mut engine.idle_egt_c);
    reading.set("engine.full_egt_c", &mut engine.full_egt_c);
    reading.set("engine.probe_lag_s", &mut engine.probe_lag_s);
    reading.set("engine.full_n2_m_s", &mut engine.full_n2_m_s);
    reading.set("engine.slip_m_s", &mut engine.slip_m_s);
    reading.set("engine.air_c", &mut engine.air_c);
    reading.set("engine.battery_v", &mut engine.battery_v);
    reading.set("engine.battery_mohm", &mut engine.battery_mohm);
    reading.set("engine.drag", &mut engine.drag);
    reading.set("engine.start_fuel", &mut engine.start_fuel);
    reading.set("engine.residual_fuel_g", &mut engine.residual_fuel_g);
    reading.set("engine.sparks", &mut engine.sparks);
    reading.set("engine.flame_out_at_s", &mut engine.flame_out_at_s);
    reading.set("engine.over_fuel_at_s", &mut engine.over_fuel_at_s);
    reading.set("engine.over_fuel", &mut engine.over_fuel);
    reading.set("engine.propeller_lost_at_s", &mut engine.propeller_lost_at_s);
}

fn dock(reading: &Reading, world: &mut WorldSettings) {
    let dock = &mut world.dock;
    reading.set("engine.dock.switches", &mut dock.switches);
    reading.set("engine.dock.reaction_s", &mut dock.reaction_s);
    reading.set("engine.dock.igniter_after_s", &mut dock.igniter_after_s);
    reading.set("engine.dock.fuel_at_n1_pct", &mut dock.fuel_at_n1_pct);
    reading.set("engine.dock.fuel_after_s", &mut dock.fuel_after_s);
    reading.set("engine.dock.starter_high_at_c", &mut dock.starter_high_at_c);
    reading.set("engine.dock.starter_off_at_n1_pct", &mut dock.starter_off_at_n1_pct);
    reading.set("engine.dock.starter_off_after_s", &mut dock.starter_off_after_s);
    reading.set("engine.dock.light_wait_s", &mut dock.light_wait_s);
    reading.set("engine.dock.abort_at_c", &mut dock.abort_at_c);
    reading.set("engine.dock.gives_up_s", &mut dock.gives_up_s);
    reading.set("engine.dock.abort_after_s", &mut dock.abort_after_s);
    reading.set("engine.dock.cooled_below_c", &mut dock.cooled_below_c);
    reading.set("engine.dock.crank_most_s", &mut dock.crank_most_s);
}

fn receiver(reading: &Reading, world: &mut WorldSettings) {
    let receiver = &mut world.receiver;
    reading.set("receiver.protocol", &mut receiver.protocol);
    reading.set("receiver.rate_hz", &mut receiver.rate_hz);
    reading.set("receiver.position_sd_m", &mut receiver.position_sd_m);
    reading.set("receiver.white_sd_m", &mut receiver.white_sd_m);
    reading.set("receiver.correlation_s", &mut receiver.correlation_s);
    reading.set("receiver.velocity_sd_m_s", &mut receiver.velocity_sd_m_s);
    reading.set("receiver.latency_ms", &mut receiver.latency_ms);
    reading.set("receiver.latency_sd_ms", &mut receiver.latency_sd_ms);
    reading.set("receiver.baud", &mut receiver.baud);
    reading.set("receiver.pps", &mut receiver.pps);
    reading.set("receiver.pps_jitter_ns", &mut receiver.pps_jitter_ns);
}

fn crystal(reading: &Reading, world: &mut WorldSettings) {
    let crystal = &mut world.crystal;
    crystal.boots_at_s = crystal.boots_at_s.min(world.begins_s - 15.0);
    reading.set("crystal.boots_at_s", &mut crystal.boots_at_s);
    reading.set("crystal.error_ppm", &mut crystal.error_ppm);
    reading.set("crystal.error_sd_ppm", &mut crystal.error_sd_ppm);
    reading.set("crystal.drift_ppb_per_s", &mut crystal.drift_ppb_per_s);
}

fn thumb(reading: &Reading, world: &mut WorldSettings) {
    let thumb = &mut world.thumb;
    reading.set("thumb.presses_at_s", &mut thumb.presses_at_s);
    reading.set("thumb.cue", &mut thumb.cue);
    reading.set("thumb.reaction_mean_s", &mut thumb.reaction_mean_s);
    reading.set("thumb.reaction_sd_s", &mut thumb.reaction_sd_s);
    reading.set("thumb.mean_sd_s", &mut thumb.mean_sd_s);
    reading.set("thumb.held_ms", &mut thumb.held_ms);
    reading.set("thumb.bounce_ms", &mut thumb.bounce_ms);
    reading.set("thumb.bounces", &mut thumb.bounces);
}

fn guns(reading: &Reading, world: &mut WorldSettings) {
    let guns = &mut world.guns;
    reading.set("guns.signals_s", &mut guns.signals_s);
    reading.set("guns.late_s", &mut guns.late_s);
    reading.set("guns.distance_m", &mut guns.distance_m);
    reading.set("guns.air_c", &mut guns.air_c);
    reading.set("guns.contact", &mut guns.contact);
    reading.set("guns.cable_delay_ms", &mut guns.cable_delay_ms);
    reading.set("guns.contact_closed_ms", &mut guns.contact_closed_ms);
}

fn engine_sensors(reading: &Reading, world: &mut WorldSettings) {
    let (probe, pickups) = (&mut world.probe, &mut world.pickups);
    reading.set("probe.interval_ms", &mut probe.interval_ms);
    reading.set("probe.noise_sd_c", &mut probe.noise_sd_c);
    reading.set("probe.board_c", &mut probe.board_c);
    reading.set("pickups.interval_ms", &mut pickups.interval_ms);
    reading.set("pickups.n1_hz_at_100_pct", &mut pickups.n1_hz_at_100_pct);
    reading.set("pickups.n2_hz_at_100_pct", &mut pickups.n2_hz_at_100_pct);
    reading.set("pickups.jitter_us", &mut pickups.jitter_us);
}

/// A key of the world's as the heat file writes it.
#[must_use]
pub fn path_of(key: &str) -> String {
    match (key.strip_prefix("driver."), key.strip_prefix("dock.")) {
        (Some(name), _) => format!("boat.drive.{name}"),
        (_, Some(name)) => format!("engine.dock.{name}"),
        _ => key.to_owned(),
    }
}

/// The world's words are spelt in the files as serde spells them.
macro_rules! words {
    ($($name:ident),+) => {$(
        impl FromValue for $name {
            fn from_value(value: &Value) -> Option<Self> {
                let word = String::from_value(value)?;
                let word: Result<_, Error> = Self::deserialize(word.into_deserializer());
                word.ok()
            }
        }
    )+};
}

words!(Turns, Protocol, Cue, FaultKind);

fn degrees(position: Position) -> [f64; 2] {
    let degrees = |axis: NanoDegrees| axis.as_nano() as f64 / 1e9;
    [degrees(position.lat), degrees(position.lon)]
}

fn metres(length: Millimetres) -> f64 {
    length.as_mm() as f64 / 1e3
}

/// Pulses a second at 100 %.
fn hertz(tach: &TachSettings) -> f64 {
    f64::from(tach.rpm_at_100) * f64::from(tach.cycles_per_turn) / 60.0
}
