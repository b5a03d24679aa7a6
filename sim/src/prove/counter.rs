//! A way to break a rule, as a heat that `gunline run` plays.
//!
//! Presses and closures become rows of a heat file, crossings a receiver's recording beside it, the scene's course a
//! settings file. Times are rounded to the millisecond that a heat file can say; a fix is moved along with its time.

use std::fmt::Write as _;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use firmware::gnss::calendar::rfc3339;
use firmware::units::{Span, Utc};

use super::search::{Counter, Step};
use super::stage::{BOOT_UTC, Event};

use crate::world::wire::{Bytes, Epoch, nmea};

/// The heat's zero on the board's clock: where a schedule puts it, and a press at the first moment as well.
const ZERO: i64 = 330_000_000;

/// East, north and time after the moment of a crossing's fixes: as the search feeds them.
const PATH: [(i64, f64, f64); 4] =
    [(100_000, 300.0, -25.0), (300_000, 0.0, -5.0), (400_000, 0.0, 5.0), (600_000, 300.0, 25.0)];

/// The speed of a crossing boat.
const SPEED_M_S: f64 = 100.0;

/// Writes the heat into a folder, with its settings and its recording; gives the heat file's path.
///
/// # Errors
/// What the disk says.
pub fn write(counter: &Counter, dir: &Path) -> io::Result<PathBuf> {
    fs::create_dir_all(dir)?;
    let name = counter.breach.rule.to_lowercase();
    let track = format!("{name}.nmea");
    fs::write(dir.join("line.toml"), SETTINGS)?;
    fs::write(dir.join(&track), recording(&counter.steps))?;
    let path = dir.join(format!("{name}.toml"));
    fs::write(&path, heat(counter, &track))?;
    Ok(path)
}

/// The scene's settings, as far as they differ from what ships.
const SETTINGS: &str = "\
# The line on which the timing logic is proved: invented, in the open ocean.
[course]
line_left  = [45.0, -30.000995601]
line_right = [45.0, -29.999004399]
line_sd_m = 0.0
lap_length_m = 4000.0
laps = 1

[rules]
signals_s = [300, 60, 0]
early_window_s = 60
early_costs = \"lap\"

[boat]
antenna_to_bow_m = 0.0

[thumb]
reaction_mean_s = 0.19
reaction_sd_s = 0.04

[crystal]
sd_ppm = 0.0
";

/// The heat file's text.
fn heat(counter: &Counter, track: &str) -> String {
    let mut text = format!(
        "# Breaks rule {}: {}.\n# Found by `gunline prove`. All of it is invented.\n\ntitle = \"A way to break rule {}\"\n\
         settings = \"line.toml\"\nseed = 1\n\n[start]\nzero_utc = {}\nscheduled = {}\n\n[crystal]\nerror_sd_ppm = 0.0\n\n[boat]\nrecording = \"{track}\"\n",
        counter.breach.rule,
        counter.breach.says,
        counter.breach.rule,
        rfc3339(utc(ZERO)),
        counter.scheduled,
    );
    for (place, step) in counter.steps.iter().enumerate() {
        let row = match step.event {
            Event::Quiet => continue,
            Event::Pulses => silence(&counter.steps, place),
            _ => row(step),
        };
        // Writing to a text cannot fail.
        let _ = write!(text, "\n# {}\n{row}", step.event.words());
    }
    text
}

/// Pulses that go stay away until they come back, or to the end: one fault from there to then.
fn silence(steps: &[Step], place: usize) -> String {
    let changes = |steps: &[Step]| steps.iter().filter(|step| step.event == Event::Pulses).count();
    let (before, after) = steps.split_at(place);
    let (Some(gone), false) = (after.first(), changes(before) % 2 == 1) else { return String::new() };
    let back = after.iter().skip(1).find(|step| step.event == Event::Pulses).or(after.last());
    let for_s = back.map_or(0, |back| back.at - gone.at).max(1_000_000) as f64 / 1e6;
    format!("[[fault]]\nat = \"{}\"\nkind = \"pps-lost\"\nfor_s = {for_s:.3}\n", race_time(gone.at - ZERO))
}

fn row(step: &Step) -> String {
    let at = race_time(step.at - ZERO);
    match step.event {
        Event::Press => format!("[[press]]\nat = \"{at}\"\nheld_s = 0.1\n"),
        Event::Bounce => format!(
            "[[press]]\nat = \"{at}\"\nheld_s = 0.1\n\n[[fault]]\nat = \"{at}\"\nkind = \"button-bounce\"\nfor_s = 0.2\n"
        ),
        Event::Hold => format!("[[press]]\nat = \"{at}\"\nheld_s = 2.1\n"),
        Event::Page => format!("[[press]]\nline = \"page\"\nat = \"{at}\"\nheld_s = 0.1\n"),
        Event::Contact => format!("[[contact]]\nat = \"{at}\"\n"),
        Event::Forward | Event::Backward => {
            format!("# on the line at {}\n", race_time(step.at - ZERO + 350_000))
        }
        Event::Restart => format!("[[fault]]\nat = \"{at}\"\nkind = \"watchdog-reset\"\n"),
        Event::Pulses | Event::Quiet => String::new(),
    }
}

/// The receiver's sentences: one fix soon after the board is switched on, then each crossing's.
fn recording(steps: &[Step]) -> Vec<u8> {
    let mut bytes = Vec::new();
    sentences(1_000_000, (300.0, -30.0), true, &mut bytes);
    for step in steps.iter().filter(|step| matches!(step.event, Event::Forward | Event::Backward)) {
        let forward = step.event == Event::Forward;
        for (after, east, north) in PATH {
            let north = if forward { north } else { -north };
            sentences(step.at + after, (east, north), forward, &mut bytes);
        }
    }
    bytes
}

fn sentences(at: i64, (east_m, north_m): (f64, f64), forward: bool, bytes: &mut Vec<u8>) {
    // A sentence tells hundredths of a second: the boat is put where it is then.
    let told = (at + 5_000).div_euclid(10_000) * 10_000;
    let way = if forward { 1.0 } else { -1.0 };
    let north_m = north_m + way * SPEED_M_S * (told - at) as f64 / 1e6;
    let epoch = Epoch {
        unix_us: utc(told).as_unix_micros(),
        lat_deg: 45.0 + north_m / 111_131.8,
        lon_deg: -30.0 + east_m / 78_846.8,
        speed_m_s: SPEED_M_S,
        course_deg: if forward { 0.0 } else { 180.0 },
        valid: true,
        position_sd_m: 1.0,
        speed_sd_m_s: 0.05,
    };
    let mut both = [Bytes::new(), Bytes::new()];
    nmea(&epoch, &mut both);
    both.iter().for_each(|sentence| bytes.extend_from_slice(sentence));
}

fn utc(board_us: i64) -> Utc {
    BOOT_UTC.plus(Span::from_micros(board_us))
}

/// `[-]M:SS.mmm`.
fn race_time(us: i64) -> String {
    let ms = (us.abs() + 500) / 1_000;
    let sign = if us < 0 { "-" } else { "" };
    format!("{sign}{}:{:02}.{:03}", ms / 60_000, ms / 1_000 % 60, ms % 1_000)
}
