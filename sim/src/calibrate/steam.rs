//! Where water boils: by the pressure of the air, or by the height above the sea where no barometer is at hand.
//!
//! Pure arithmetic; knows nobody.

/// Pressure at sea level in the standard atmosphere, hectopascal (ISO 2533).
pub const SEA_LEVEL_HPA: f64 = 1_013.25;

/// An inch of mercury, hectopascal (conventional, at 0 degrees: 25.4 mm of 133.322 Pa; NIST SP 811, from memory).
pub const INCH_OF_MERCURY_HPA: f64 = 33.863_89;

/// The numerical coefficients n1 to n10 of region 4 (IAPWS R7-97(2012), table 34; from memory, held by its table 36).
const N: [f64; 10] = [
    1_167.052_145_276_7,
    -724_213.167_032_06,
    -17.073_846_940_092,
    12_020.824_702_47,
    -3_232_555.032_233_3,
    14.915_108_613_53,
    -4_823.265_736_159_1,
    405_113.405_420_57,
    -0.238_555_575_678_49,
    650.175_348_447_98,
];

/// The temperature at which water boils under `hpa` hectopascal, degrees Celsius: the backward equation of region 4,
/// IAPWS-IF97.
#[must_use]
pub fn boils_at_c(hpa: f64) -> f64 {
    let [n1, n2, n3, n4, n5, n6, n7, n8, n9, n10] = N;
    let beta = (hpa / 10_000.0).powf(0.25);
    let e = beta * beta + n3 * beta + n6;
    let f = n1 * beta * beta + n4 * beta + n7;
    let g = n2 * beta * beta + n5 * beta + n8;
    let d = 2.0 * g / (-f - (f * f - 4.0 * e * g).sqrt());
    let sum = n10 + d;
    (sum - (sum * sum - 4.0 * (n9 + n10 * d)).sqrt()) / 2.0 - 273.15
}

/// The pressure `metres` above the sea in the standard atmosphere (ISO 2533, up to 11 km). Weather moves the true one by
/// some 20 hPa either way, and the boiling point with it by half a degree.
#[must_use]
pub fn standard_hpa(metres: f64) -> f64 {
    SEA_LEVEL_HPA * (1.0 - 0.006_5 * metres / 288.15).powf(5.255_88)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: IAPWS R7-97(2012), table 36: saturation temperatures at 0.1, 1 and 10 MPa.
    #[test]
    fn water_boils_where_the_release_s_own_table_says() {
        for (hpa, kelvin) in [(1e3, 372.755_919), (1e4, 453.035_632), (1e5, 584.149_488)] {
            let ours = boils_at_c(hpa) + 273.15;
            assert!((ours - kelvin).abs() < 1e-6, "{hpa} hPa: {ours}");
        }
    }

    /// Source: saturation tables of any steam table book (from memory): 70 kPa 89.93, 80 kPa 93.49, 90 kPa 96.69 degrees;
    /// 101.325 kPa 99.97 degrees on ITS-90.
    #[test]
    fn it_boils_at_the_temperatures_of_the_steam_tables() {
        for (hpa, celsius) in [(700.0, 89.93), (800.0, 93.49), (900.0, 96.69), (1_013.25, 99.97)] {
            assert!((boils_at_c(hpa) - celsius).abs() < 0.011, "{hpa} hPa: {}", boils_at_c(hpa));
        }
    }

    /// Source: ISO 2533, table of the standard atmosphere (from memory): 898.75 hPa at 1,000 m, 794.95 at 2,000 m,
    /// 701.09 at 3,000 m (geopotential heights, to a tenth).
    #[test]
    fn the_standard_atmosphere_thins_as_its_table_says() {
        for (metres, hpa) in [(0.0, 1_013.25), (1_000.0, 898.75), (2_000.0, 794.95), (3_000.0, 701.09)] {
            assert!((standard_hpa(metres) - hpa).abs() < 0.1, "{metres} m: {}", standard_hpa(metres));
        }
    }
}
