//! The boat: how thrust and water make it run along its path.
//!
//! One dimension, one equation: mass times acceleration is thrust less drag, both quadratic. Closing the
//! throttle lets the hull settle, and a settled hull drags more. In a turn a speed limit stands for all that
//! happens sideways. The figures of the default are invented so that a flat-out lap of 2.5 statute miles
//! averages about 153 mph with a peak of about 204 mph (common practice, no source).
//!
//! This room knows nothing but its own numbers; time steps are given to it.

use serde::Deserialize;

/// The boat's figures.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct BoatSettings {
    /// With fuel and driver.
    pub mass_kg: f64,
    /// At 100 % N1.
    pub thrust_n: f64,
    /// The speed at which drag equals full thrust.
    pub top_speed_m_s: f64,
    /// How many times more a settled hull drags than a flying one.
    pub settled_drag_ratio: f64,
    /// Sideways acceleration that the boat holds in a turn.
    pub cornering_m_s2: f64,
    /// From the antenna forward to the bow.
    pub antenna_to_bow_m: f64,
}

impl Default for BoatSettings {
    fn default() -> Self {
        Self {
            mass_kg: 3_000.0,
            thrust_n: 27_000.0,
            top_speed_m_s: 96.0,
            settled_drag_ratio: 2.5,
            cornering_m_s2: 15.2,
            antenna_to_bow_m: 5.0,
        }
    }
}

/// The boat, ready to run.
#[derive(Clone, Copy, Debug)]
pub struct Boat {
    /// Acceleration by full thrust alone.
    push_m_s2: f64,
    per_top_speed2: f64,
    /// What a settled hull adds to the drag of a flying one, as a share of that.
    settling: f64,
    cornering_m_s2: f64,
    /// From the antenna forward to the bow.
    pub antenna_to_bow_m: f64,
}

impl Boat {
    /// Takes the figures; each is kept above zero where a division needs it.
    #[must_use]
    pub fn new(settings: &BoatSettings) -> Self {
        let top = settings.top_speed_m_s.max(1.0);
        Self {
            push_m_s2: settings.thrust_n.max(1.0) / settings.mass_kg.max(1.0),
            per_top_speed2: 1.0 / (top * top),
            settling: (settings.settled_drag_ratio - 1.0).max(0.0),
            cornering_m_s2: settings.cornering_m_s2.max(0.1),
            antenna_to_bow_m: settings.antenna_to_bow_m,
        }
    }

    /// Acceleration at a speed, with the gas generator at `power`: 0 at idle, 1 at 100 %.
    ///
    /// Thrust grows with the square of power, and power lifts the hull.
    #[must_use]
    pub fn acceleration(&self, speed: f64, power: f64) -> f64 {
        let lift = power * power;
        let drag = speed * speed * self.per_top_speed2 * (1.0 + self.settling * (1.0 - lift));
        self.push_m_s2 * (lift - drag)
    }

    /// The power that holds a speed; 1 for any speed that cannot be held.
    #[must_use]
    pub fn power_to_hold(&self, speed: f64) -> f64 {
        let w = speed * speed * self.per_top_speed2;
        ((1.0 + self.settling) * w / (1.0 + self.settling * w)).sqrt().min(1.0)
    }

    /// The fastest speed in a turn of a radius.
    #[must_use]
    pub fn corner_speed(&self, radius_m: f64) -> f64 {
        (self.cornering_m_s2 * radius_m).sqrt()
    }

    /// How much of its speed the boat loses for each metre with the throttle closed, as a share.
    #[must_use]
    pub fn coasting_loss_per_m(&self) -> f64 {
        self.push_m_s2 * self.per_top_speed2 * (1.0 + self.settling)
    }

    /// One step of time at constant acceleration: path length gained and the new speed.
    #[must_use]
    pub fn step(&self, speed: f64, power: f64, dt: f64) -> (f64, f64) {
        let next = (speed + self.acceleration(speed, power) * dt).max(0.0);
        ((speed + next) * 0.5 * dt, next)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// At rest full thrust gives thrust over mass; at top speed, nothing.
    #[test]
    fn newton_holds_at_both_ends_of_the_speed_range() {
        let boat = Boat::new(&BoatSettings::default());
        assert!((boat.acceleration(0.0, 1.0) - 9.0).abs() < 1e-12);
        assert!(boat.acceleration(96.0, 1.0).abs() < 1e-12);
    }

    #[test]
    fn the_power_to_hold_a_speed_holds_it() {
        let boat = Boat::new(&BoatSettings::default());
        for speed in [5.0, 30.0, 54.0, 90.0] {
            assert!(boat.acceleration(speed, boat.power_to_hold(speed)).abs() < 1e-12, "{speed}");
        }
    }

    /// Worked by hand: 20 m/s2 sideways on a radius of 180 m is 60 m/s.
    #[test]
    fn a_turn_limits_speed_by_its_radius() {
        let boat = Boat::new(&BoatSettings { cornering_m_s2: 20.0, ..BoatSettings::default() });
        assert!((boat.corner_speed(180.0) - 60.0).abs() < 1e-12);
    }
}
