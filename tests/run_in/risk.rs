//! The quantile table against a statistics library: statrs.

use firmware::run_in::risk::{RISK_LEAST_PPM, RISK_MOST_PPM, quantile_milli};
use statrs::distribution::{ContinuousCDF, Normal};

/// Never less than the true quantile, so that no more are early than asked for; and at most 0.011 sigma more.
#[test]
fn the_quantile_is_never_short_and_at_most_eleven_thousandths_too_long() {
    let normal = Normal::new(0.0, 1.0).unwrap();
    let mut worst = 0.0_f64;
    for ppm in (RISK_LEAST_PPM..=RISK_MOST_PPM).step_by(97).chain([10_000, 50_000, RISK_MOST_PPM]) {
        let exact = normal.inverse_cdf(1.0 - f64::from(ppm) * 1e-6) * 1e3;
        let over = f64::from(quantile_milli(ppm)) - exact;
        // Half a thousandth: the table is rounded up, the chord down.
        assert!((-0.5..=11.0).contains(&over), "{ppm}: {over}");
        worst = worst.max(over);
    }
    println!("at most {worst:.1} thousandths of a sigma too long");
}
