//! A mark's error bar is honest: a rescue boat at rest, a receiver that wanders, many seeds.
//!
//! The receiver's error is the simulator's: white noise and a slow Gauss-Markov wander. The dash knows its size, takes all
//! of it for slow, and rounds up where a handbook has a smaller factor: so its bar may be longer than it need be, never
//! shorter.

use std::path::Path;

use firmware::gnss::Position;
use firmware::output::Output;
use geographiclib_rs::{Geodesic, InverseGeodesic};
use gunline::play::play;
use gunline::scenario::{self, Heat};
use rayon::prelude::*;

const HEATS: u64 = if cfg!(debug_assertions) { 100 } else { 400 };

/// 97.5 % quantile of the normal distribution (NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.1).
const Z95: f64 = 1.959_964;

/// The mark's error to the east and to the north over its stated standard deviation, and that deviation, metres.
fn error_of(heat: &Heat) -> Option<([f64; 2], f64)> {
    let log = play(heat);
    let (position, sd) = log.decisions.iter().find_map(|decided| match decided.output {
        Output::Marked { position, sd, .. } => Some((position, sd.as_mm() as f64 / 1e3)),
        _ => None,
    })?;
    let truth = log.samples.iter().find_map(|sample| sample.boat)?.position;
    let degrees =
        |position: Position| (position.lat.as_nano() as f64 / 1e9, position.lon.as_nano() as f64 / 1e9);
    let ((lat, lon), (lat2, lon2)) = (degrees(truth), degrees(position));
    let (metres, azimuth, _, _): (f64, f64, f64, f64) = Geodesic::wgs84().inverse(lat, lon, lat2, lon2);
    let (sin, cos) = azimuth.to_radians().sin_cos();
    Some(([metres * sin, metres * cos], sd))
}

/// The share of errors along east and north within 1.96 of what was stated, and the errors' root mean square.
fn coverage(change: impl Fn(&mut Heat) + Sync) -> (f64, f64, f64) {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../sim/heats/survey.toml");
    let mut base = scenario::load(Path::new(path)).unwrap();
    // What the dash is told of its receiver.
    base.world.receiver.position_sd_m = 1.0;
    change(&mut base);
    let errors: Vec<_> =
        (0..HEATS).into_par_iter().filter_map(|seed| error_of(&Heat { seed, ..base.clone() })).collect();
    assert_eq!(errors.len() as u64, HEATS, "every boat at rest has its mark");
    let all = || errors.iter().flat_map(|(errors, sd)| errors.map(|error| (error, *sd)));
    let count = all().count() as f64;
    let covered = all().filter(|(error, sd)| error.abs() <= Z95 * sd).count() as f64;
    let rms = (all().map(|(error, _)| error * error).sum::<f64>() / count).sqrt();
    (covered / count, rms, all().map(|(_, sd)| sd).sum::<f64>() / count)
}

#[test]
fn a_mark_is_within_its_stated_error_as_often_as_it_says() {
    let (share, rms, stated) = coverage(|_| {});
    println!("mark: 95 % bar covers {:.1} %; {rms:.2} m RMS, {stated:.2} m stated", share * 100.0);
    let (slow, rms, _) = coverage(|heat| heat.world.receiver.correlation_s = 240.0);
    println!("with a receiver that wanders twice as slowly: {:.1} %; {rms:.2} m RMS", slow * 100.0);
    // Twice 100 errors in the debug profile: four counting errors are 6.2 percent.
    let counting = 4.0 * (0.95 * 0.05 / (2.0 * HEATS as f64)).sqrt();
    assert!(share > 0.95 - counting && share < 0.995 + counting, "{share}");
}
