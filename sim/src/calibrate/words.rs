//! The words of `gunline calibrate`: what to measure, against what, and where the figures come from.
//!
//! Plain data for `command.rs`; clap fills it.

use std::path::PathBuf;

use clap::{Args, Subcommand};
use firmware::calibration::Date;
use firmware::gnss::calendar::from_rfc3339;

use super::live::Pace;
use super::steam;
use super::tach::Shaft;

/// The words after `gunline calibrate`.
#[derive(Args, Debug)]
pub struct CalibrateWords {
    #[command(subcommand)]
    pub(super) what: What,
}

/// What every calibration takes.
#[derive(Args, Debug)]
pub(super) struct Target {
    /// The settings file to be changed.
    pub(super) settings: PathBuf,
    /// Writes without asking.
    #[arg(long)]
    pub(super) yes: bool,
    /// The day, such as 2031-05-17; today without it.
    #[arg(long, value_parser = date)]
    pub(super) date: Option<Date>,
    /// One JSON object instead of the text; writes only with --yes.
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Subcommand, Debug)]
pub(super) enum What {
    /// A thermocouple in melting ice and in boiling water.
    Thermocouple {
        #[command(flatten)]
        target: Target,
        /// Which one, counted from 1.
        #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=4))]
        probe: u8,
        #[command(flatten)]
        from: ProbeFrom,
        /// What it shows in boiling water, beside --ice.
        #[arg(long, value_name = "DEGREES", requires = "ice", required_unless_present_any = ["journal", "port", "board"])]
        boiling: Option<f64>,
        /// When it was in melting ice, seconds of the board's clock.
        #[arg(long, value_name = "S", requires = "journal")]
        ice_at: Option<f64>,
        /// When it was in boiling water, likewise.
        #[arg(long, value_name = "S", requires = "journal")]
        boiling_at: Option<f64>,
        #[command(flatten)]
        pace: Pace,
        #[command(flatten)]
        air: Air,
    },
    /// A tachometer against a generator's frequency, or a trusted indicator.
    Tach {
        #[command(flatten)]
        target: Target,
        /// Which shaft.
        shaft: Shaft,
        #[command(flatten)]
        from: TachFrom,
        #[command(flatten)]
        pace: Pace,
        /// The moment in the record, seconds of the board's clock.
        #[arg(long, value_name = "S", requires = "journal")]
        at: Option<f64>,
        /// The generator's frequency.
        #[arg(long)]
        hz: Option<f64>,
        /// What the trusted indicator shows.
        #[arg(long)]
        percent: Option<f64>,
        /// Pulses of the pickup in a turn, if that is to be changed.
        #[arg(long)]
        cycles: Option<u16>,
    },
    /// How far the bow is ahead of the antenna: by tape, or by the bow at one mark on two opposite headings.
    Antenna {
        #[command(flatten)]
        target: Target,
        /// By tape: metres along the keel.
        #[arg(long, value_name = "M", allow_hyphen_values = true, required_unless_present = "journal")]
        tape: Option<f64>,
        /// One standard deviation of that.
        #[arg(long, value_name = "M", default_value_t = 0.02)]
        sd: f64,
        /// A record in which the bow was held at one mark.
        #[arg(long, value_name = "FILE", requires = "first", requires = "second", conflicts_with = "tape")]
        journal: Option<PathBuf>,
        /// When it was there on one heading, seconds of the board's clock.
        #[arg(long, value_name = "S")]
        first: Option<f64>,
        /// When it was there on the opposite heading.
        #[arg(long, value_name = "S")]
        second: Option<f64>,
    },
    /// How late the thumb is: forty presses.
    Thumb {
        #[command(flatten)]
        target: Target,
        #[command(flatten)]
        from: ThumbFrom,
        #[command(flatten)]
        pace: Pace,
        /// The shortest wait between two cues of the board; the longest is four times that.
        #[arg(long, value_name = "MS", default_value_t = 1_000, hide = true)]
        between_ms: u64,
    },
    /// How fast the board's crystal is, by the receiver's pulse.
    Crystal {
        #[command(flatten)]
        target: Target,
        #[command(flatten)]
        from: CrystalFrom,
        #[command(flatten)]
        pace: Pace,
    },
}

/// Where a thermocouple's readings come from.
#[derive(Args, Debug)]
#[group(required = true, multiple = false)]
pub(super) struct ProbeFrom {
    /// At the board, with you: the board at this serial port, or tcp:ADDRESS:PORT of an emulated one.
    #[arg(long)]
    pub(super) port: Option<String>,
    /// The same; the board is looked for.
    #[arg(long)]
    pub(super) board: bool,
    /// What it shows in melting ice, degrees Celsius, written down beforehand; with --boiling.
    #[arg(long, value_name = "DEGREES", allow_hyphen_values = true)]
    pub(super) ice: Option<f64>,
    /// A record that holds both, with --ice-at and --boiling-at.
    #[arg(long, value_name = "FILE", requires = "ice_at", requires = "boiling_at")]
    pub(super) journal: Option<PathBuf>,
}

/// Where a count comes from.
#[derive(Args, Debug)]
#[group(required = true, multiple = false)]
pub(super) struct TachFrom {
    /// Counted now by the board at this serial port, or tcp:ADDRESS:PORT of an emulated one.
    #[arg(long)]
    pub(super) port: Option<String>,
    /// The same; the board is looked for.
    #[arg(long)]
    pub(super) board: bool,
    /// Pulses a second, as the board has counted them.
    #[arg(long, value_name = "HZ")]
    pub(super) counted: Option<f64>,
    /// A record in which they were counted, and the moment in it (--at).
    #[arg(long, value_name = "FILE", requires = "at")]
    pub(super) journal: Option<PathBuf>,
}

/// Where presses come from.
#[derive(Args, Debug)]
#[group(required = true, multiple = false)]
pub(super) struct ThumbFrom {
    /// At lamp and beeper of the board at this serial port, or tcp:ADDRESS:PORT of an emulated one.
    #[arg(long)]
    pub(super) port: Option<String>,
    /// The same; the board is looked for.
    #[arg(long)]
    pub(super) board: bool,
    /// Records of heats with a wired gun, in which contacts and presses stand together; may be given more than once.
    #[arg(long, value_name = "FILE")]
    pub(super) journal: Vec<PathBuf>,
    /// Delays in seconds, one a line, that somebody wrote down.
    #[arg(long, value_name = "FILE")]
    pub(super) delays: Option<PathBuf>,
    /// Here and now: press Enter at each signal. A keyboard is late itself, and so much is taken off.
    #[arg(long)]
    pub(super) here: bool,
}

/// Where a crystal's error comes from.
#[derive(Args, Debug)]
#[group(required = true, multiple = false)]
pub(super) struct CrystalFrom {
    /// What the board at this serial port has measured, or tcp:ADDRESS:PORT of an emulated one.
    #[arg(long)]
    pub(super) port: Option<String>,
    /// The same; the board is looked for.
    #[arg(long)]
    pub(super) board: bool,
    /// A record with at least a minute of pulses, better ten.
    #[arg(long, value_name = "FILE")]
    pub(super) journal: Option<PathBuf>,
}

/// The pressure of the air, one way or another.
#[derive(Args, Debug)]
#[group(required = true, multiple = false)]
pub(super) struct Air {
    /// The pressure of the air where the water boils, hectopascal: a station's own, not reduced to sea level.
    #[arg(long, value_name = "HPA")]
    pub(super) hpa: Option<f64>,
    /// The same in inches of mercury.
    #[arg(long, value_name = "INHG")]
    pub(super) inches: Option<f64>,
    /// Without a barometer: the height above the sea, metres.
    #[arg(long, value_name = "M", allow_hyphen_values = true)]
    pub(super) height: Option<f64>,
}

impl Air {
    /// Hectopascal, and whether they were guessed from the height.
    pub(super) fn hpa(&self) -> (f64, bool) {
        let inches = self.inches.map(|inches| inches * steam::INCH_OF_MERCURY_HPA);
        match (self.hpa.or(inches), self.height) {
            (Some(hpa), _) => (hpa, false),
            (None, height) => (steam::standard_hpa(height.unwrap_or(0.0)), true),
        }
    }
}

fn date(text: &str) -> Result<Date, String> {
    let midnight = from_rfc3339(&format!("{text}T00:00:00Z"));
    let days = midnight.and_then(|utc| u16::try_from(utc.as_unix_micros() / 86_400_000_000).ok());
    days.map(Date).ok_or_else(|| "write a day: 2031-05-17".to_owned())
}
