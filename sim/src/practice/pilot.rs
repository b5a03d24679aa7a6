//! Steering help: the boat keeps herself on the lane that the helm chooses.
//!
//! With a keyboard nobody holds a boat on a lane at 90 m/s. With this help the helm moves her from lane to lane, and the
//! boat looks ahead and turns with the course. What it does with the helm is recorded as if a hand had done it.
//!
//! Where the boat is and what the driver wants go in, the helm comes out.

use crate::world::course::Course;
use crate::world::craft::Pose;
use crate::world::maths::{atan2, once_round};
use core::f64::consts::PI;

/// The help, and the lane it holds.
#[derive(Clone, Copy, Debug, Default)]
pub struct Pilot {
    /// Metres outside of the path that she is to run.
    aside_m: f64,
}

/// How fast the helm moves the lane, metres a second, and how far to either side.
const ACROSS_M_S: f64 = 14.0;
const INSIDE_M: f64 = -4.0;
const OUTSIDE_M: f64 = 75.0;
/// She steers for a point so many seconds ahead, but never nearer than that.
const AHEAD_S: f64 = 0.9;
const AHEAD_LEAST_M: f64 = 14.0;
/// The lateral acceleration of a full helm, as a share of what the boat holds: see the craft.
const FULL_HELM: f64 = 1.25;

impl Pilot {
    /// The lane that she holds.
    #[must_use]
    pub const fn aside_m(&self) -> f64 {
        self.aside_m
    }

    /// The helm, -1 to 1, for the next `dt` seconds; `wanted` is the driver's, to the right positive.
    pub fn helm(
        &mut self,
        wanted: f64,
        (pose, speed): (Pose, f64),
        course: &Course,
        (grip, dt): (f64, f64),
    ) -> f64 {
        let across = wanted * course.outside() * ACROSS_M_S * dt;
        self.aside_m = (self.aside_m + across).clamp(INSIDE_M, OUTSIDE_M);
        let ahead = (speed * AHEAD_S).max(AHEAD_LEAST_M);
        let (s, _) = course.nearest(pose.east_m, pose.north_m);
        let aim = course.place(s + ahead);
        let (sin, cos) = crate::world::maths::sin_cos(aim.heading_rad);
        let out = course.outside() * self.aside_m;
        let (east, north) = (aim.east_m + out * cos - pose.east_m, aim.north_m - out * sin - pose.north_m);
        let distance = (east * east + north * north).sqrt().max(1.0);
        // The circle that runs through her, along her course, and through the point: its curvature is 2 sin(a) / d.
        let off = once_round(atan2(east, north) - pose.heading_rad - pose.skid_rad + PI) - PI;
        let curvature = 2.0 * crate::world::maths::sin_cos(off).0 / distance;
        let yaw = curvature * speed.max(4.0);
        let full = (FULL_HELM * grip / speed.max(4.0)).min(0.7);
        (yaw / full).clamp(-1.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::world::WorldSettings;
    use crate::world::craft::{Craft, Drive, Hands};
    use crate::world::truth::STEP_S;

    /// The lane's own tolerance in the dash is 30 m.
    #[test]
    fn with_help_she_stays_on_her_lane_all_the_way_round_at_racing_speeds() {
        let settings = WorldSettings::default();
        let course = Course::new(&settings.course);
        for power in [0.35, 0.6] {
            let mut craft = Craft::new(&settings, &Drive { speed_m_s: 30.0, ..Drive::default() }, &course);
            let mut pilot = Pilot::default();
            let mut farthest = 0.0_f64;
            for _ in 0..12_000 {
                let seen = (craft.pose(), craft.motion().1);
                let helm = pilot.helm(0.0, seen, &course, (settings.boat.cornering_m_s2, STEP_S));
                craft.step(Hands::of(power, helm));
                let (_, aside) = course.nearest(craft.pose().east_m, craft.pose().north_m);
                farthest = farthest.max(aside.abs());
            }
            assert!(craft.motion().0 > 4_023.0 / 2.0, "{power}: {:?}", craft.motion());
            assert!(farthest < 8.0, "{power}: {farthest} m off the lane at {:?}", craft.motion());
        }
    }
}
