//! All settings in one place: each room owns its own; this file composes, versions and checks them.
//!
//! Every figure has a default, so that a dash with nothing but a course runs, and a dash with nothing at all
//! still is a clock. Defaults that touch a person or an engine say where they come from; the engine's are
//! demonstration data.
//!
//! Knows the rooms' settings. Bytes in, checked settings out, and back.

use heapless::Vec;
use serde::{Deserialize, Serialize};

use crate::alerts::AlertSettings;
use crate::calibration::Calibrations;
use crate::course::{CourseFault, CourseSettings, StartLine};
use crate::crossing::CrossingSettings;
use crate::engine::{EngineFault, EngineSettings};
use crate::floor::FloorSettings;
use crate::gun::{GunSettings, SIGNALS_MAX};
use crate::laps::{EarlyCost, RaceSettings};
use crate::run_in::{RunIn, RunInFault, RunInSettings};
use crate::screen::ScreenSettings;
use crate::survey::SurveySettings;
use crate::timebase::TimebaseSettings;
use crate::units::{Millimetres, MmPerSecond, PartsPerBillion, Span};

/// The version of [`Settings`] as stored. An old board or an old journal is refused, never misread.
pub const SETTINGS_VERSION: u16 = 5;

/// The most seconds that can be counted out before zero.
pub const COUNTS_MAX: usize = 16;

/// Everything that can be set.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Settings {
    /// [`SETTINGS_VERSION`].
    pub version: u16,
    /// The start clock.
    pub gun: GunSettings,
    /// The receiver's lateness and the crystal.
    pub timebase: TimebaseSettings,
    /// The line and the lap; without it the dash is a clock and an engine watch.
    pub course: Option<CourseSettings>,
    /// The boat and its receiver.
    pub crossing: CrossingSettings,
    /// The rules of start and laps.
    pub race: RaceSettings,
    /// The speed floor, where the rules have one.
    pub floor: Option<FloorSettings>,
    /// The engine.
    pub engine: EngineSettings,
    /// The screen.
    pub screen: ScreenSettings,
    /// Whole seconds before zero at which a count sounds, in the order they come.
    pub counts_s: Vec<u16, COUNTS_MAX>,
    /// How long without a usable fix until the driver is told.
    pub fix_lost_after: Span,
    /// The lane and the boat; without them, or without a course, there is no run-in.
    pub run_in: Option<RunInSettings>,
    /// Alerts before zero.
    pub alerts: AlertSettings,
    /// When what was calibrated.
    pub calibrations: Calibrations,
    /// Marks by averaging.
    pub survey: SurveySettings,
}

/// What is wrong with a set of settings: the first thing found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SettingsFault {
    /// Stored by another version.
    Version(u16),
    /// No signal, or signals not in the order they come (largest first, no two alike).
    Signals,
    /// Counts not in the order they come.
    Counts,
    /// A length of time that cannot be negative, or is too long to mean anything.
    Span(&'static str),
    /// A distance or speed that cannot be negative, or is too large to mean anything.
    Amount(&'static str),
    /// No laps to run.
    Laps,
    /// The course makes no line.
    Course(CourseFault),
    /// The engine's table is not one.
    Engine(EngineFault),
    /// The run-in cannot be made of what it was told.
    RunIn(RunInFault),
    /// A thermocouple's two points cannot be a working probe's.
    Calibration,
}

impl Settings {
    /// The most bytes that [`Settings::encode`] writes.
    pub const ENCODED_MAX: usize = 1024;

    /// The defaults, without a course.
    ///
    /// The thumb: simple reaction to light takes 0.19 s on average, to sound 0.16 s (psychology notes on simple
    /// reaction time of young adults); half of the difference stands for what is not known of the mean. The
    /// spread within a person is 20 to 30 ms at a desk (from memory); a boat is no desk.
    #[must_use]
    pub fn bare() -> Self {
        Self {
            version: SETTINGS_VERSION,
            gun: default_gun(),
            timebase: TimebaseSettings {
                latency: Span::from_millis(60),
                latency_sd: Span::from_millis(20),
                crystal_sd: PartsPerBillion::from_ppb(30_000),
                crystal: PartsPerBillion::ZERO,
            },
            course: None,
            crossing: default_crossing(),
            race: default_race(),
            floor: None,
            engine: EngineSettings::demonstration(),
            screen: ScreenSettings::default(),
            counts_s: list(&[60, 30, 20, 10, 5, 4, 3, 2, 1]),
            fix_lost_after: Span::from_secs(1),
            run_in: None,
            alerts: AlertSettings::default(),
            calibrations: Calibrations::default(),
            survey: SurveySettings::default(),
        }
    }

    /// Looks for a setting that cannot be right.
    ///
    /// # Errors
    /// The first fault found.
    pub fn check(&self) -> Result<(), SettingsFault> {
        if self.version != SETTINGS_VERSION {
            return Err(SettingsFault::Version(self.version));
        }
        if self.gun.signals_s.is_empty() || !is_falling(&self.gun.signals_s) {
            return Err(SettingsFault::Signals);
        }
        if !is_falling(&self.counts_s) {
            return Err(SettingsFault::Counts);
        }
        if self.race.laps == 0 {
            return Err(SettingsFault::Laps);
        }
        self.check_spans()?;
        self.check_amounts()?;
        if let Some(course) = &self.course {
            let line = StartLine::new(course).map_err(SettingsFault::Course)?;
            if let Some(run_in) = &self.run_in {
                RunIn::check(run_in, &line).map_err(SettingsFault::RunIn)?;
            }
        }
        if !self.engine.calibrated.is_sound() {
            return Err(SettingsFault::Calibration);
        }
        self.engine.check().map_err(SettingsFault::Engine)
    }

    /// Times: none is negative, deviations and delays are under ten seconds, the rest under an hour.
    fn check_spans(&self) -> Result<(), SettingsFault> {
        let (gun, race) = (&self.gun, &self.race);
        let short = [
            ("reaction_mean", gun.reaction_mean),
            ("reaction_sd", gun.reaction_sd),
            ("reaction_mean_sd", gun.reaction_mean_sd),
            ("contact_delay", gun.contact_delay),
            ("contact_sd", gun.contact_sd),
            ("gate_least", gun.gate_least),
            ("debounce", gun.debounce),
            ("hold_to_clear", gun.hold_to_clear),
            ("latency", self.timebase.latency),
            ("latency_sd", self.timebase.latency_sd),
        ];
        let long = [
            ("replace_within", gun.replace_within),
            ("early_window", race.early_window),
            ("lap_shortest", race.lap_shortest),
            ("approach", race.approach),
            ("bridge_max", self.crossing.bridge_max),
            ("fix_lost_after", self.fix_lost_after),
            ("quiet_before_zero", self.alerts.quiet_before_zero),
        ];
        let beyond = |most: Span| move |(_, span): &&(_, Span)| *span < Span::ZERO || *span > most;
        let short_fault = short.iter().find(beyond(Span::from_secs(10)));
        let long_fault = long.iter().find(beyond(Span::from_secs(3_600)));
        short_fault.or(long_fault).map_or(Ok(()), |(name, _)| Err(SettingsFault::Span(name)))
    }

    /// Distances of the boat: none is negative, none beyond 100 m.
    fn check_amounts(&self) -> Result<(), SettingsFault> {
        let boat = &self.crossing;
        let lengths = [
            ("antenna_to_bow_sd", boat.antenna_to_bow_sd),
            ("position_sd", boat.position_sd),
            ("hysteresis", boat.hysteresis),
            ("survey accuracy", self.survey.accuracy),
        ];
        let most = Millimetres::from_mm(100_000);
        let fault = lengths.iter().find(|(_, length)| *length < Millimetres::ZERO || *length > most);
        let lever_is_off = boat.antenna_to_bow.abs() > most;
        let name = fault.map(|(name, _)| *name).or(lever_is_off.then_some("antenna_to_bow"));
        name.map_or(Ok(()), |name| Err(SettingsFault::Amount(name)))
    }

    /// Writes the settings as the journal and the board hold them.
    #[must_use]
    pub fn encode<'a>(&self, buffer: &'a mut [u8; Self::ENCODED_MAX]) -> &'a [u8] {
        postcard::to_slice(self, buffer.as_mut_slice()).map_or(&[], |bytes| &*bytes)
    }

    /// Reads what [`Settings::encode`] wrote; `None` when it is not that.
    #[must_use]
    pub fn decode(bytes: &[u8]) -> Option<Self> {
        let (settings, rest) = postcard::take_from_bytes::<Self>(bytes).ok()?;
        (rest.is_empty() && settings.version == SETTINGS_VERSION).then_some(settings)
    }

    /// The version that encoded settings say they are of: it stands first in every version.
    #[must_use]
    pub fn version_of(bytes: &[u8]) -> Option<u16> {
        postcard::take_from_bytes(bytes).ok().map(|(version, _)| version)
    }
}

fn default_gun() -> GunSettings {
    GunSettings {
        signals_s: list::<SIGNALS_MAX>(&[300, 60, 0]),
        reaction_mean: Span::from_millis(190),
        reaction_sd: Span::from_millis(40),
        reaction_mean_sd: Span::from_millis(15),
        contact_delay: Span::ZERO,
        contact_sd: Span::from_millis(1),
        heard: None,
        gate_sigmas: 4,
        gate_least: Span::from_millis(100),
        replace_within: Span::from_secs(5),
        debounce: Span::from_millis(25),
        hold_to_clear: Span::from_secs(2),
    }
}

fn default_crossing() -> CrossingSettings {
    CrossingSettings {
        antenna_to_bow: Millimetres::ZERO,
        antenna_to_bow_sd: Millimetres::from_mm(50),
        position_sd: Millimetres::from_mm(1_000),
        speed_sd: MmPerSecond::from_mm_s(50),
        hysteresis: Millimetres::from_mm(2_000),
        unknown_acceleration_mm_s2: 5_000,
        bridge_max: Span::from_secs(10),
    }
}

fn default_race() -> RaceSettings {
    RaceSettings {
        early_window: Span::from_secs(60),
        early_costs: EarlyCost::Lap,
        laps: 3,
        lap_shortest: Span::from_secs(20),
        lap_missed_percent: 140,
        approach: Span::from_secs(5),
        too_close_sigmas: 2,
    }
}

fn list<const N: usize>(seconds: &[u16]) -> Vec<u16, N> {
    Vec::from_slice(seconds).unwrap_or_default()
}

/// Largest first, no two alike.
fn is_falling(list: &[u16]) -> bool {
    list.windows(2).all(|pair| matches!(pair, [a, b] if a > b))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gnss::Position;
    use crate::run_in::boat::BoatModel;
    use crate::run_in::lane::{Bend, Cut, LaneSettings, Turns};
    use crate::units::NanoDegrees;

    #[test]
    fn the_defaults_are_sound_and_come_back_as_they_were() {
        let settings = Settings::bare();
        assert_eq!(settings.check(), Ok(()));
        let mut buffer = [0; Settings::ENCODED_MAX];
        assert_eq!(Settings::decode(settings.encode(&mut buffer)), Some(settings));
    }

    /// Eight bends, four in a cut, all numbers at their longest.
    #[test]
    fn the_largest_run_in_fits_its_bytes() {
        let far = Position {
            lat: NanoDegrees::from_nano(-84_999_999_999),
            lon: NanoDegrees::from_nano(-179_999_999_999),
        };
        let bend = Bend { centre: far, radius: Millimetres::from_mm(-4_999_999) };
        let cut = Cut { first: 7, last: 7, bends: [bend; 4].into_iter().collect() };
        let lane = LaneSettings {
            bends: [bend; 8].into_iter().collect(),
            turns: Turns::Right,
            lane: 6,
            lane_width: Millimetres::from_mm(99_999),
            cut: Some(cut),
            entrance: Some(far),
            tolerance: Millimetres::from_mm(199_999),
        };
        let boat = BoatModel::demonstration();
        let (response, sigma_most) = (Span::from_secs(10), Span::from_secs(10));
        let run_in =
            Some(RunInSettings { lane, boat, risk_ppm: 500_000, response, sigma_most, speaks: true });
        let settings = Settings { run_in, ..Settings::bare() };
        let mut buffer = [0; Settings::ENCODED_MAX];
        let bytes = settings.encode(&mut buffer);
        assert!((400..Settings::ENCODED_MAX - 200).contains(&bytes.len()), "{}", bytes.len());
        assert_eq!(Settings::decode(bytes), Some(settings));
    }

    #[test]
    fn another_version_is_refused_not_misread() {
        let old = Settings { version: SETTINGS_VERSION + 1, ..Settings::bare() };
        assert_eq!(old.check(), Err(SettingsFault::Version(SETTINGS_VERSION + 1)));
        let mut buffer = [0; Settings::ENCODED_MAX];
        let bytes = old.encode(&mut buffer);
        assert_eq!(Settings::decode(bytes), None);
        assert_eq!(Settings::version_of(bytes), Some(SETTINGS_VERSION + 1));
        assert_eq!(Settings::version_of(&[]), None);
    }

    #[test]
    fn each_thing_that_cannot_be_right_is_named() {
        let broken = |change: fn(&mut Settings)| {
            let mut settings = Settings::bare();
            change(&mut settings);
            settings.check().unwrap_err()
        };
        assert_eq!(broken(|s| s.gun.signals_s = list(&[60, 300])), SettingsFault::Signals);
        assert_eq!(broken(|s| s.gun.signals_s.clear()), SettingsFault::Signals);
        assert_eq!(broken(|s| s.counts_s = list(&[1, 2])), SettingsFault::Counts);
        assert_eq!(broken(|s| s.race.laps = 0), SettingsFault::Laps);
        assert_eq!(broken(|s| s.gun.reaction_sd = Span::from_secs(-1)), SettingsFault::Span("reaction_sd"));
        assert_eq!(
            broken(|s| s.crossing.antenna_to_bow = Millimetres::MAX),
            SettingsFault::Amount("antenna_to_bow")
        );
        assert!(matches!(broken(|s| s.engine.faults_to_believe = 0), SettingsFault::Engine(_)));
    }
}
