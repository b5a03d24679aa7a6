//! How late a gun is heard. Knows units only.

use serde::{Deserialize, Serialize};

use crate::units::{MilliCelsius, Millimetres, Span, mul_div, quotient, root};

/// A gun that is heard, not seen.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct HeardGun {
    /// How far the gun is from the driver when it fires.
    pub distance: Millimetres,
    /// How well that is known, one standard deviation: he mills about.
    pub distance_sd: Millimetres,
    /// The air's temperature.
    pub air: MilliCelsius,
}

impl HeardGun {
    /// The time the sound takes.
    #[must_use]
    pub fn delay(&self) -> Span {
        travel_time(self.distance, self.air)
    }

    /// One standard deviation of that time.
    #[must_use]
    pub fn delay_sd(&self) -> Span {
        travel_time(self.distance_sd, self.air)
    }
}

/// The speed of sound in dry air in millimetres per second: 331.3 m/s times the root of T / 273.15 K.
///
/// Humidity adds up to 0.6 %, which is 14 ms in 800 m.
#[must_use]
pub fn speed_of_sound(air: MilliCelsius) -> i64 {
    let kelvin_milli = 273_150_u64.saturating_add_signed(i64::from(air.as_milli())).max(1_000);
    let square = 331_300_u64 * 331_300;
    root(quotient(u128::from(square) * u128::from(kelvin_milli), 273_150))
}

fn travel_time(distance: Millimetres, air: MilliCelsius) -> Span {
    Span::from_micros(mul_div(distance.as_mm(), 1_000_000, speed_of_sound(air)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the practical formula for dry air, 331.3 sqrt(1 + T / 273.15), tabulated to a millimetre per second.
    #[test]
    fn speed_of_sound_follows_the_published_table() {
        let table = [
            (-10, 325_179),
            (0, 331_300),
            (10, 337_310),
            (15, 340_275),
            (20, 343_215),
            (25, 346_129),
            (30, 349_019),
            (35, 351_886),
            (40, 354_729),
        ];
        for (celsius, mm_s) in table {
            let ours = speed_of_sound(MilliCelsius::from_milli(celsius * 1_000));
            assert!((ours - mm_s).abs() <= 1, "{celsius}: {ours}");
        }
    }

    /// 800 m at 20 degrees: 800 / 343.215 = 2.331 s.
    #[test]
    fn a_gun_800_m_away_is_heard_2331_ms_late() {
        let gun = HeardGun {
            distance: Millimetres::from_mm(800_000),
            distance_sd: Millimetres::from_mm(34_321),
            air: MilliCelsius::from_milli(20_000),
        };
        assert!((gun.delay().as_micros() - 2_330_900).abs() < 100, "{:?}", gun.delay());
        assert!((gun.delay_sd().as_micros() - 100_000).abs() < 100);
    }
}
