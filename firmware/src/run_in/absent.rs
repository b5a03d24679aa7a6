//! The run-in of a program that has none: it can never be made, so all that would be done with it is left out.

use super::boat::BoatModel;
use super::learn::Offer;
use super::{Aim, Outcome, RunInFault, RunInSettings};
use crate::course::StartLine;
use crate::crossing::CrossingSettings;
use crate::gnss::Fix;
use crate::units::{Millimetres, Utc};
use crate::view::RunInView;

/// No run-in.
#[derive(Clone, Debug)]
pub enum RunIn {}

impl RunIn {
    /// Refuses, and leaves the room as it is.
    ///
    /// # Errors
    /// Always [`RunInFault::NotFitted`].
    pub const fn lay(
        _: &mut Option<Self>,
        _: &RunInSettings,
        _: &CrossingSettings,
        _: StartLine,
        _: Millimetres,
    ) -> Result<(), RunInFault> {
        Err(RunInFault::NotFitted)
    }

    /// Refuses.
    ///
    /// # Errors
    /// Always [`RunInFault::NotFitted`].
    pub const fn check(_: &RunInSettings, _: &StartLine) -> Result<(), RunInFault> {
        Err(RunInFault::NotFitted)
    }

    /// Never called.
    pub const fn fix(&mut self, _: Utc, _: &Fix, _: Option<&Aim>) {
        match *self {}
    }

    /// Never called.
    pub const fn lost(&mut self) {
        match *self {}
    }

    /// Never called.
    pub const fn crossed(&mut self, _: Utc) -> Option<Outcome> {
        match *self {}
    }

    /// Never called.
    #[must_use]
    pub const fn view(&self, _: Utc, _: Option<&Aim>) -> RunInView {
        match *self {}
    }

    /// Never called.
    #[must_use]
    pub const fn blind(&self) -> RunInView {
        match *self {}
    }

    /// Never called.
    #[must_use]
    pub const fn proposal(&self) -> Option<BoatModel> {
        match *self {}
    }

    /// Never called.
    #[must_use]
    pub const fn offer(&self) -> Option<Offer> {
        match *self {}
    }

    /// Never called.
    pub const fn adopt(&mut self, _: &BoatModel) -> bool {
        match *self {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::course::CourseSettings;
    use crate::gnss::Position;
    use crate::run_in::boat::BoatModel;
    use crate::run_in::lane::{Bend, LaneSettings, Turns};
    use crate::settings::{Settings, SettingsFault};
    use crate::talk::Wrong;
    use crate::units::{NanoDegrees, Span};

    fn place(lat: i64, lon: i64) -> Position {
        Position { lat: NanoDegrees::from_nano(lat), lon: NanoDegrees::from_nano(lon) }
    }

    /// An invented oval in the open ocean.
    fn settings_with_a_lane() -> Settings {
        let bend = |lat| Bend { centre: place(lat, -30_001_536_000), radius: Millimetres::from_mm(190_000) };
        let lane = LaneSettings {
            bends: [bend(45_004_349_443), bend(44_991_901_501)].into_iter().collect(),
            turns: Turns::Left,
            lane: 1,
            lane_width: Millimetres::from_mm(20_000),
            cut: None,
            entrance: None,
            tolerance: Millimetres::from_mm(40_000),
        };
        let (response, sigma_most) = (Span::from_millis(250), Span::from_millis(400));
        let boat = BoatModel::demonstration();
        let course = CourseSettings {
            line_left: place(45_000_000_000, -30_000_000_000),
            line_right: place(45_000_000_000, -29_998_000_000),
            line_sd: Millimetres::ZERO,
            end_tolerance: Millimetres::ZERO,
            lap_length: Millimetres::from_mm(4_023_360),
        };
        let run_in = RunInSettings { lane, boat, risk_ppm: 10_000, response, sigma_most, speaks: true };
        Settings { course: Some(course), run_in: Some(run_in), ..Settings::bare() }
    }

    /// Such a program says so, and a board with it refuses to keep them; with the run-in they are sound.
    #[test]
    fn a_program_without_a_run_in_refuses_settings_with_a_lane() {
        let fault = settings_with_a_lane().check().unwrap_err();
        assert_eq!(fault, SettingsFault::RunIn(RunInFault::NotFitted));
        assert_eq!(Wrong::from(fault), Wrong::RunIn);
    }

    /// Settings that came all the same cost him the number and nothing else.
    #[test]
    fn a_dash_without_a_run_in_is_a_clock_all_the_same() {
        let dash = crate::dash::Dash::new(&settings_with_a_lane());
        assert_eq!(dash.view(crate::units::Instant::BOOT).run_in, None);
    }
}
