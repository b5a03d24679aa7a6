//! A mark: what it is for, where it is, how well that is known, and which file says so.
//!
//! Knows roles and the ground. Made by the readers, used by everything after them.

use firmware::gnss::Position;

use super::ground::Point;
use super::role::Role;

/// What is said of a place before its role is settled.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// The name that it was given.
    pub name: String,
    /// Where it stands in its file, for people: a line, or a number in the order.
    pub line: Option<u32>,
    /// Where it is.
    pub at: Position,
    /// How well that is known, where anything says so.
    pub spread: Option<Spread>,
    /// The radius of the turn whose middle it is, metres.
    pub radius_m: Option<f64>,
}

/// A mark.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// What it is for.
    pub role: Role,
    /// The name that it was given.
    pub name: String,
    /// The file that it comes from.
    pub file: String,
    /// Where it is.
    pub at: Position,
    /// How well that is known, where anything says so.
    pub spread: Option<Spread>,
    /// The radius of the turn whose middle it is, metres.
    pub radius_m: Option<f64>,
}

/// How well a place is known: variances in square metres, along east and north, and what the two share.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spread {
    /// Along east.
    pub east: f64,
    /// Along north.
    pub north: f64,
    /// What they share.
    pub shared: f64,
}

impl Spread {
    /// The same standard deviation along every direction, metres.
    #[must_use]
    pub const fn round(sd_m: f64) -> Self {
        Self { east: sd_m * sd_m, north: sd_m * sd_m, shared: 0.0 }
    }

    /// One standard deviation along a direction, and another across it, metres.
    #[must_use]
    pub fn along(direction: Point, along_m: f64, across_m: f64) -> Self {
        let (a, b) = (along_m * along_m, across_m * across_m);
        let (e, n) = (direction.east, direction.north);
        Self { east: a * e * e + b * n * n, north: a * n * n + b * e * e, shared: (a - b) * e * n }
    }

    /// Two errors that know nothing of each other.
    #[must_use]
    pub fn with(self, other: Self) -> Self {
        Self {
            east: self.east + other.east,
            north: self.north + other.north,
            shared: self.shared + other.shared,
        }
    }

    /// The standard deviation along a direction of length one, metres.
    #[must_use]
    pub fn sd_along(self, direction: Point) -> f64 {
        let (e, n) = (direction.east, direction.north);
        (self.east * e * e + 2.0 * self.shared * e * n + self.north * n * n).max(0.0).sqrt()
    }

    /// The ellipse of one standard deviation: long and short half axis in metres, and the long one's direction from east
    /// towards north in degrees.
    #[must_use]
    pub fn ellipse(self) -> (f64, f64, f64) {
        let half = f64::midpoint(self.east, self.north);
        let reach = ((self.east - self.north) / 2.0).hypot(self.shared);
        let turn = (2.0 * self.shared).atan2(self.east - self.north).to_degrees() / 2.0;
        ((half + reach).max(0.0).sqrt(), (half - reach).max(0.0).sqrt(), turn)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rotation of a diagonal matrix, by hand: 3 along the direction 4, 3 of length 5, 1 across it.
    #[test]
    fn an_ellipse_keeps_its_axes_and_its_direction() {
        let spread = Spread::along(Point { east: 0.8, north: 0.6 }, 3.0, 1.0);
        let (long, short, turn) = spread.ellipse();
        assert!((long - 3.0).abs() < 1e-12 && (short - 1.0).abs() < 1e-12);
        assert!((turn - 0.6_f64.atan2(0.8).to_degrees()).abs() < 1e-9);
        assert!((spread.sd_along(Point { east: 0.8, north: 0.6 }) - 3.0).abs() < 1e-12);
        assert!((spread.sd_along(Point { east: -0.6, north: 0.8 }) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn independent_errors_add_as_their_squares() {
        let both = Spread::round(3.0).with(Spread::round(4.0));
        assert!((both.sd_along(Point { east: 1.0, north: 0.0 }) - 5.0).abs() < 1e-12);
    }
}
