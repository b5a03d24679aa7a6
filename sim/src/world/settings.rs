//! Everything that can be set about a world, and the check that it makes sense.
//!
//! Each room owns its own settings; this file only gathers them. The scenario's parser fills them in and asks
//! [`WorldSettings::check`], whose answer names the key.

use core::f64::consts::TAU;
use core::fmt;

use firmware::units::Utc;

use super::boat::BoatSettings;
use super::course::CourseSettings;
use super::craft::Drive;
use super::crystal::CrystalSettings;
use super::driver::DriverSettings;
use super::engine::{DockSettings, EngineSettings};
use super::faults::Fault;
use super::guns::GunSettings;
use super::pickup::PickupSettings;
use super::probe::ProbeSettings;
use super::receiver::ReceiverSettings;
use super::script::Press;
use super::thumb::ThumbSettings;

/// Which sensors the world plays; a rig that has a recording of one turns it off here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Feeds {
    /// The receiver's bytes.
    pub receiver: bool,
    /// Its pulse per second.
    pub pps: bool,
    /// The thermocouple.
    pub probe: bool,
    /// The pickups on both shafts.
    pub shafts: bool,
}

impl Default for Feeds {
    fn default() -> Self {
        Self { receiver: true, pps: true, probe: true, shafts: true }
    }
}

/// A whole world. The default is an invented heat of three laps.
#[derive(Clone, Debug, PartialEq)]
pub struct WorldSettings {
    /// The true zero.
    pub zero_utc: Utc,
    /// When the world begins, race time; nothing happens before.
    pub begins_s: f64,
    /// When it ends; none: when the driver has cooled down.
    pub ends_s: Option<f64>,
    /// The oval.
    pub course: CourseSettings,
    /// The boat.
    pub boat: BoatSettings,
    /// Its engine.
    pub engine: EngineSettings,
    /// The hand at the dock.
    pub dock: DockSettings,
    /// Who drives it.
    pub driver: DriverSettings,
    /// Hands that were recorded; they drive instead of him, and the boat is on no path.
    pub drive: Option<Drive>,
    /// His thumb.
    pub thumb: ThumbSettings,
    /// The guns.
    pub guns: GunSettings,
    /// The board's crystal.
    pub crystal: CrystalSettings,
    /// The GNSS receiver.
    pub receiver: ReceiverSettings,
    /// The thermocouple.
    pub probe: ProbeSettings,
    /// The pickups on the shafts.
    pub pickups: PickupSettings,
    /// Presses ordered one by one.
    pub presses: Vec<Press>,
    /// What goes wrong.
    pub faults: Vec<Fault>,
    /// Which sensors the world plays.
    pub feeds: Feeds,
}

impl Default for WorldSettings {
    fn default() -> Self {
        Self {
            zero_utc: Utc::from_unix_micros(1_936_811_100_000_000), // 2031-05-17T19:05:00Z
            begins_s: -345.0,
            ends_s: None,
            course: CourseSettings::default(),
            boat: BoatSettings::default(),
            engine: EngineSettings::default(),
            dock: DockSettings::default(),
            driver: DriverSettings::default(),
            drive: None,
            thumb: ThumbSettings::default(),
            guns: GunSettings::default(),
            crystal: CrystalSettings::default(),
            receiver: ReceiverSettings::default(),
            probe: ProbeSettings::default(),
            pickups: PickupSettings::default(),
            presses: Vec::new(),
            faults: Vec::new(),
            feeds: Feeds::default(),
        }
    }
}

/// A setting that no world can have.
#[derive(Clone, Debug, PartialEq)]
pub struct Unfit {
    /// Table and key, as in `boat.mass_kg`.
    pub key: &'static str,
    /// What it is.
    pub value: f64,
    /// The lowest and the highest it may be.
    pub range: (f64, f64),
}

impl fmt::Display for Unfit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (low, high) = self.range;
        write!(f, "{} is {}, but must lie between {low} and {high}", self.key, self.value)
    }
}

impl std::error::Error for Unfit {}

impl WorldSettings {
    /// Is every number one that a world can have?
    ///
    /// # Errors
    ///
    /// The first setting that is out of its range, or that is not a number.
    pub fn check(&self) -> Result<(), Unfit> {
        let outside = |(key, value, low, high): (&'static str, f64, f64, f64)| {
            (!(low..=high).contains(&value)).then_some(Unfit { key, value, range: (low, high) })
        };
        // Where hands drive, no driver's figure counts.
        let counts = |(key, ..): &(&str, f64, f64, f64)| self.drive.is_none() || !key.starts_with("driver.");
        match self.ranges().into_iter().filter(counts).find_map(outside) {
            Some(unfit) => Err(unfit),
            None => Ok(()),
        }
    }

    /// Key, value, lowest, highest.
    fn ranges(&self) -> Vec<(&'static str, f64, f64, f64)> {
        let ([left_lat, left_lon], [right_lat, right_lon]) = (self.course.line_left, self.course.line_right);
        let lap = self.course.lap_length_m;
        let (boat, engine, driver) = (&self.boat, &self.engine, &self.driver);
        let (receiver, crystal, thumb) = (&self.receiver, &self.crystal, &self.thumb);
        vec![
            ("begins_s", self.begins_s, -3_600.0, 0.0),
            ("ends_s", self.ends_s.unwrap_or(0.0), self.begins_s, 3_600.0),
            ("course.line_left", left_lat, -80.0, 80.0),
            ("course.line_right", right_lat, -80.0, 80.0),
            ("course.line_left", left_lon, -180.0, 180.0),
            ("course.line_right", right_lon, -180.0, 180.0),
            ("course.lap_length_m", lap, 200.0, 20_000.0),
            ("course.turn_radius_m", self.course.turn_radius_m, 10.0, lap / TAU),
            ("course.lane_offset_m", self.course.lane_offset_m, 5.0 - self.course.turn_radius_m, 500.0),
            ("boat.mass_kg", boat.mass_kg, 10.0, 100_000.0),
            ("boat.thrust_n", boat.thrust_n, 10.0, 1e6),
            ("boat.top_speed_m_s", boat.top_speed_m_s, 5.0, 200.0),
            ("boat.settled_drag_ratio", boat.settled_drag_ratio, 1.0, 20.0),
            ("boat.cornering_m_s2", boat.cornering_m_s2, 0.5, 100.0),
            ("boat.antenna_to_bow_m", boat.antenna_to_bow_m, -20.0, 20.0),
            ("engine.idle_n1_pct", engine.idle_n1_pct, 10.0, 95.0),
            ("engine.light_off_n1_pct", engine.light_off_n1_pct, 1.0, 20.0),
            ("engine.light_delay_s", engine.light_delay_s, 0.0, 60.0),
            ("engine.spool_lag_s", engine.spool_lag_s, 0.01, 20.0),
            ("engine.idle_egt_c", engine.idle_egt_c, 200.0, engine.full_egt_c),
            ("engine.probe_lag_s", engine.probe_lag_s, 0.001, 60.0),
            ("engine.full_n2_m_s", engine.full_n2_m_s, 5.0, 300.0),
            ("engine.slip_m_s", engine.slip_m_s, 1.0, engine.full_n2_m_s),
            ("engine.battery_v", engine.battery_v, 0.0, 100.0),
            ("engine.battery_mohm", engine.battery_mohm, 0.0, 1_000.0),
            ("engine.drag", engine.drag, 0.1, 10.0),
            ("engine.start_fuel", engine.start_fuel, 0.0, 10.0),
            ("driver.leaves_dock_s", driver.leaves_dock_s, self.begins_s, 0.0),
            ("driver.dock_to_line_m", driver.dock_to_line_m, 0.0, lap),
            ("driver.milling_speed_m_s", driver.milling_speed_m_s, 2.0, boat.top_speed_m_s),
            ("driver.timing_sd_s", driver.timing_sd_s, 0.0, 10.0),
            ("thumb.reaction_sd_s", thumb.reaction_sd_s, 0.0, 10.0),
            ("thumb.mean_sd_s", thumb.mean_sd_s, 0.0, 10.0),
            ("thumb.bounce_ms", thumb.bounce_ms, 0.0, 200.0),
            ("guns.air_c", self.guns.air_c, -60.0, 60.0),
            ("crystal.boots_at_s", crystal.boots_at_s, -86_400.0, self.begins_s),
            ("crystal.error_ppm", crystal.error_ppm, -1_000.0, 1_000.0),
            ("crystal.drift_ppb_per_s", crystal.drift_ppb_per_s, -1_000.0, 1_000.0),
            ("receiver.rate_hz", f64::from(receiver.rate_hz), 1.0, 25.0),
            ("receiver.position_sd_m", receiver.position_sd_m, 0.0, 100.0),
            ("receiver.white_sd_m", receiver.white_sd_m, 0.0, receiver.position_sd_m),
            ("receiver.correlation_s", receiver.correlation_s, 0.01, 100_000.0),
            ("receiver.latency_ms", receiver.latency_ms, 0.0, 5_000.0),
            ("receiver.baud", f64::from(receiver.baud), 1_200.0, 10_000_000.0),
            ("probe.interval_ms", f64::from(self.probe.interval_ms), 1.0, 10_000.0),
            ("probe.board_c", self.probe.board_c, -55.0, 125.0),
            ("pickups.interval_ms", f64::from(self.pickups.interval_ms), 10.0, 10_000.0),
            ("pickups.n1_hz_at_100_pct", self.pickups.n1_hz_at_100_pct, 1.0, 50_000.0),
            ("pickups.n2_hz_at_100_pct", self.pickups.n2_hz_at_100_pct, 1.0, 50_000.0),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_default_world_is_fit_and_nonsense_is_named_by_its_key() {
        assert_eq!(WorldSettings::default().check(), Ok(()));
        let mut odd = WorldSettings::default();
        odd.boat.mass_kg = f64::NAN;
        assert_eq!(odd.check().unwrap_err().key, "boat.mass_kg");
        odd.boat.mass_kg = 3_000.0;
        odd.course.turn_radius_m = 700.0;
        let says = odd.check().unwrap_err().to_string();
        assert!(says.starts_with("course.turn_radius_m is 700, but must lie between 10 and 640"), "{says}");
    }
}
