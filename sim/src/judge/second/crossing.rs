//! Where the bow was, and when it crossed: the rules of group X once more, with geodesics from a library.
//!
//! Written from the law book alone. Source of the geodesics: C. F. F. Karney, "Algorithms for geodesics", Journal of
//! Geodesy 87 (2013), as the library geographiclib-rs has them.
//!
//! Fixes and the course in, crossings out. Metres and seconds throughout.

use firmware::gnss::{Fix, Position};
use firmware::settings::Settings;
use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};

use super::tie::{Moment, micros};

/// The bow at one fix.
#[derive(Clone, Copy, Debug)]
pub struct Bow {
    /// In UTC.
    pub utc_s: f64,
    /// Beyond the line in racing direction.
    pub past_m: f64,
    /// Along the line from its left end.
    pub along_m: f64,
    /// Speed over ground.
    pub speed_m_s: f64,
    past_m_s: f64,
    along_m_s: f64,
    /// One standard deviation of the place along any direction.
    pub sd_m: f64,
    speed_sd_m_s: f64,
}

/// A crossing of the line.
#[derive(Clone, Copy, Debug)]
pub struct Crossing {
    /// In UTC, with the receiver's deviation alone.
    pub at: Moment,
    /// In racing direction.
    pub forward: bool,
    /// From the line's left end.
    pub place_m: f64,
    /// Speed across the line.
    pub speed_m_s: f64,
    /// One standard deviation of the place.
    pub sd_m: f64,
}

/// Follows the bow.
pub struct Watch<'a> {
    settings: &'a Settings,
    earth: Geodesic,
    left: (f64, f64),
    /// Clockwise from north, from the left end to the right.
    bearing: f64,
    /// From end to end.
    pub length_m: f64,
    heading: f64,
    last: Option<Bow>,
    ready: bool,
}

impl<'a> Watch<'a> {
    /// A watch on the line of these settings; none without a course.
    #[must_use]
    pub fn new(settings: &'a Settings) -> Option<Self> {
        let course = settings.course.as_ref()?;
        let (left, right) = (degrees(course.line_left), degrees(course.line_right));
        let earth = Geodesic::wgs84();
        let (length_m, bearing, _, _): (f64, f64, f64, f64) = earth.inverse(left.0, left.1, right.0, right.1);
        Some(Self { settings, earth, left, bearing, length_m, heading: 0.0, last: None, ready: true })
    }

    /// The program was started anew: nothing is known of the bow (rule P5).
    pub const fn restart(&mut self) {
        (self.last, self.ready) = (None, true);
    }

    /// Takes a fix; gives the bow, and whether it crossed since the last.
    pub fn fix(&mut self, utc_s: f64, fix: &Fix) -> (Bow, Option<Crossing>) {
        let now = self.bow(utc_s, fix);
        let crossing = self.last.and_then(|before| self.between(&before, &now));
        self.last = Some(now);
        if now.past_m < -metres(self.settings.crossing.hysteresis.as_mm()) {
            self.ready = true;
        }
        (now, crossing)
    }

    /// Where a place lies beside the line.
    fn beside(&self, lat: f64, lon: f64) -> (f64, f64) {
        let (away, bearing, _, _): (f64, f64, f64, f64) =
            self.earth.inverse(self.left.0, self.left.1, lat, lon);
        let aside = (self.bearing - bearing).to_radians();
        (away * aside.sin(), away * aside.cos())
    }

    fn bow(&mut self, utc_s: f64, fix: &Fix) -> Bow {
        let boat = &self.settings.crossing;
        let (speed, course) =
            (f64::from(fix.speed.as_mm_s()) / 1e3, f64::from(fix.course.as_centi()) / 100.0);
        if speed >= 2.0 {
            self.heading = course;
        }
        let (lat, lon) = degrees(fix.position);
        let (lat, lon): (f64, f64) =
            self.earth.direct(lat, lon, self.heading, metres(boat.antenna_to_bow.as_mm()));
        let (past_m, along_m) = self.beside(lat, lon);
        let aside = (self.bearing - course).to_radians();
        let dilution = f64::from(fix.hdop_centi.unwrap_or(100).max(100)) / 100.0;
        let by_dilution = metres(boat.position_sd.as_mm()) * dilution;
        Bow {
            utc_s,
            past_m,
            along_m,
            speed_m_s: speed,
            past_m_s: speed * aside.sin(),
            along_m_s: speed * aside.cos(),
            sd_m: fix.position_sd.map_or(by_dilution, |sd| metres(sd.as_mm())),
            speed_sd_m_s: f64::from(fix.speed_sd.unwrap_or(boat.speed_sd).as_mm_s()) / 1e3,
        }
    }

    fn between(&mut self, before: &Bow, now: &Bow) -> Option<Crossing> {
        let step = now.utc_s - before.utc_s;
        let boat = &self.settings.crossing;
        let forward = now.past_m >= 0.0;
        if forward == (before.past_m >= 0.0) || step <= 0.0 || step > micros(boat.bridge_max.as_micros()) {
            return None;
        }
        let across = Cubic::through((before.past_m, before.past_m_s), (now.past_m, now.past_m_s), step);
        let along = Cubic::through((before.along_m, before.along_m_s), (now.along_m, now.along_m_s), step);
        let share = across.root();
        let place_m = along.at(share);
        let beyond = self.settings.course.as_ref().map_or(0.0, |course| metres(course.end_tolerance.as_mm()));
        let inside = (-beyond..=self.length_m + beyond).contains(&place_m);
        if !inside || (forward && !self.ready) {
            return None;
        }
        self.ready = false;
        let speed_m_s = across.slope(share) / step;
        let sd_m = self.place_sd(before, now, step);
        let at = Moment { s: before.utc_s + share * step, sigma_s: sd_m / speed_m_s.abs().max(0.1) };
        Some(Crossing { at, forward, place_m, speed_m_s, sd_m })
    }

    /// Rule X7.
    fn place_sd(&self, before: &Bow, now: &Bow, step: f64) -> f64 {
        let boat = &self.settings.crossing;
        let line_sd = self.settings.course.as_ref().map_or(0.0, |course| metres(course.line_sd.as_mm()));
        let unknown = f64::from(boat.unknown_acceleration_mm_s2) / 1e3;
        let parts = [
            before.sd_m.max(now.sd_m),
            metres(boat.antenna_to_bow_sd.as_mm()),
            line_sd,
            unknown * step * step / 32.0,
            before.speed_sd_m_s.max(now.speed_sd_m_s) * step / 6.0,
        ];
        parts.into_iter().fold(0.0, f64::hypot)
    }
}

/// A cubic over a share of a step, by its values and slopes at both ends.
struct Cubic([f64; 4]);

impl Cubic {
    fn through((x0, v0): (f64, f64), (x1, v1): (f64, f64), step: f64) -> Self {
        let (r0, r1, way) = (v0 * step, v1 * step, x1 - x0);
        Self([x0, r0, 3.0 * way - 2.0 * r0 - r1, r0 + r1 - 2.0 * way])
    }

    fn at(&self, f: f64) -> f64 {
        let [d, c, b, a] = self.0;
        d + f * (c + f * (b + f * a))
    }

    fn slope(&self, f: f64) -> f64 {
        let [_, c, b, a] = self.0;
        c + f * (2.0 * b + 3.0 * f * a)
    }

    /// Where it changes sign.
    fn root(&self) -> f64 {
        let upwards = self.at(0.0) < 0.0;
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if (self.at(middle) < 0.0) == upwards { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }
}

fn degrees(position: Position) -> (f64, f64) {
    (position.lat.as_nano() as f64 / 1e9, position.lon.as_nano() as f64 / 1e9)
}

fn metres(mm: i64) -> f64 {
    mm as f64 / 1e3
}
