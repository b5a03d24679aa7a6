//! Files that are right, files that are wrong, and what is said of them.

mod broken;
mod document;
mod drawn;
mod forms;
mod heats;
mod keys;
mod properties;
mod run_in;
mod schema;
mod settings;
mod start;
mod written;
mod wrong_events;
mod wrong_heats;
mod wrong_limits;
mod wrong_settings;
mod wrong_values;

use std::io::{Error, ErrorKind};
use std::path::Path;

use super::{Heat, Report, load_from};

/// The settings file that checks from outside rely on, word for word.
const REACH: &str = r#"[course]
line_left  = [45.000000, -30.000000]   # degrees, WGS 84; left end as seen by a boat crossing in racing direction
line_right = [45.000000, -29.998000]
lap_length_m = 4023.36
laps = 3

[rules]
signals_s = [300, 60, 0]
early_window_s = 60                    # a crossing this close before zero is early; before it, the boat is milling
early_costs = "lap"                    # or "time", with early_time_s

[boat]
antenna_to_bow_m = 5.0

[thumb]
reaction_mean_s = 0.25                 # how late the driver's press is, on average
reaction_sd_s = 0.06
"#;

/// A heat that is right, to be spoilt.
const HEAT: &str = r#"title = "Invented heat"
settings = "reach.toml"

[start]
zero_utc = 2031-05-17T19:05:00.000Z

[boat.drive]
"#;

/// Loads `heat.toml` from a few files in memory; all other files are missing.
fn load(files: &[(&str, &str)]) -> Result<Heat, Report> {
    load_from(Path::new("heat.toml"), &|path| {
        let found = files.iter().find(|(name, _)| path == Path::new(name));
        match found {
            Some((_, "a folder")) => Err(ErrorKind::IsADirectory.into()),
            Some((_, "no permission")) => Err(ErrorKind::PermissionDenied.into()),
            Some((_, "not UTF-8")) => Ok(b"a = 1\nb = \"\xff\"\n".to_vec()),
            Some((_, text)) => Ok(text.as_bytes().to_vec()),
            None => Err(Error::from(ErrorKind::NotFound)),
        }
    })
}

/// A heat of these lines, over the settings of [`REACH`].
fn heat(text: &str) -> Result<Heat, Report> {
    let hands = "t_s,throttle_pct,helm_pct\n-100,60,0\n-20,100,-2.5\n";
    load(&[("heat.toml", text), ("reach.toml", REACH), ("hands.csv", hands)])
}
