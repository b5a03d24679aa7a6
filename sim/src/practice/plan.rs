//! What is practised, and the heat file that says so.
//!
//! A start is a heat file from its first moment on: the session loads the one written here, with empty hands, and what
//! is saved afterwards is the same file with the hands and presses that came. So what is replayed is what was driven.
//!
//! A plan in, texts out, and a heat loaded from them.

use std::fmt::Write as _;
use std::io::{Error, ErrorKind};
use std::path::Path;

use firmware::input::Line;
use firmware::units::Span;
use serde::{Deserialize, Serialize};

use crate::scenario::{self, Heat, Report, hands_csv, race_time};
use crate::world::craft::Drive;
use crate::world::draw::{Draw, Purpose};
use crate::world::maths::seconds;
use crate::world::script::Press;

/// The settings that practice uses unless it is given others: an invented course in the open ocean.
pub const REACH: &str = include_str!("../../heats/reach.toml");

/// How long before zero the first gun fires.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Length {
    /// The whole procedure: five-minute gun, one-minute gun, start.
    #[serde(rename = "300")]
    FiveMinutes,
    /// One minute.
    #[default]
    #[serde(rename = "60")]
    OneMinute,
    /// Half a minute.
    #[serde(rename = "30")]
    HalfMinute,
}

/// What makes it harder.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Mode {
    /// The dash as it is.
    #[default]
    Dash,
    /// No dash: a stopwatch that runs from the first press.
    Stopwatch,
    /// The dash is covered in the last 20 s before zero.
    Hidden,
    /// Something goes wrong, and nobody says what or when.
    Faults,
    /// From the dock, with a cold engine.
    Dock,
}

/// One start to be practised.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Plan {
    /// How long it takes.
    pub length: Length,
    /// What makes it harder.
    pub mode: Mode,
    /// The boat keeps herself on the lane that the helm chooses.
    pub steered: bool,
    /// Every draw comes from this.
    pub seed: u64,
}

/// A heat as files.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Files {
    /// `heat.toml`.
    pub heat: String,
    /// `settings.toml`.
    pub settings: String,
    /// `hands.csv`.
    pub hands: String,
}

/// What has been driven so far.
#[derive(Clone, Debug, Default)]
pub struct Driven {
    /// The hands.
    pub drive: Drive,
    /// The presses.
    pub presses: Vec<Press>,
    /// When it ended; none: it has not.
    pub ends: Option<Span>,
}

impl Length {
    /// Seconds from the first gun to zero.
    #[must_use]
    pub const fn seconds(self) -> u16 {
        match self {
            Self::FiveMinutes => 300,
            Self::OneMinute => 60,
            Self::HalfMinute => 30,
        }
    }

    /// The guns, in seconds before zero.
    #[must_use]
    pub const fn signals_s(self) -> &'static [u16] {
        match self {
            Self::FiveMinutes => &[300, 60, 0],
            Self::OneMinute => &[60, 0],
            Self::HalfMinute => &[30, 0],
        }
    }
}

impl Plan {
    /// Where the boat lies before the first gun: so that at an easy speed she would come too early, and must waste time.
    #[must_use]
    pub fn drive(&self) -> Drive {
        let (to_line_m, speed_m_s) = match (self.mode, self.length) {
            (Mode::Dock, _) => (2_200.0, 0.0),
            (_, Length::FiveMinutes) => (2_200.0, 25.0),
            (_, Length::OneMinute) => (3_240.0, 45.0),
            (_, Length::HalfMinute) => (2_000.0, 45.0),
        };
        let engine_runs = self.mode != Mode::Dock;
        Drive { to_line_m, aside_m: 0.0, speed_m_s, engine_runs, hands: Vec::new() }
    }

    /// When the world begins, race time: time to look round, and at the dock to start the engine.
    #[must_use]
    pub fn begins_s(&self) -> i64 {
        let lead = if self.mode == Mode::Dock { 60 } else { 12 };
        -i64::from(self.length.seconds()) - lead
    }

    /// The settings of the dash: the owner's, with the guns of this start.
    ///
    /// # Errors
    /// What is wrong with the owner's text.
    pub fn settings(&self, owner: &str) -> Result<String, toml::de::Error> {
        let mut settings: toml::Table = owner.parse()?;
        let signals: Vec<toml::Value> =
            self.length.signals_s().iter().map(|s| toml::Value::Integer(i64::from(*s))).collect();
        let rules = settings.entry("rules").or_insert_with(|| toml::Table::new().into());
        if let toml::Value::Table(rules) = rules {
            rules.insert("signals_s".to_owned(), signals.into());
        }
        if self.mode == Mode::Dock {
            wire_switches(&mut settings);
        }
        Ok(format!(
            "# Settings of a practice start. Check them before you give them to a board.\n\n{settings}"
        ))
    }

    /// The files of this start, as far as it has been driven.
    #[must_use]
    pub fn files(&self, settings: &str, driven: &Driven) -> Files {
        Files {
            heat: self.heat(driven),
            settings: settings.to_owned(),
            hands: hands_csv::text(&driven.drive.hands),
        }
    }

    fn heat(&self, driven: &Driven) -> String {
        let (drive, faults) = (&driven.drive, self.faults());
        let mut text = format!(
            "# A start from the practice page, driven by hand. Boat, engine and water are invented.\n\n\
             title    = \"Practice start, {length} s, {mode:?}\"\nsettings = \"settings.toml\"\nseed     = {seed}\n\
             begins_s = {begins}\n",
            length = self.length.seconds(),
            mode = self.mode,
            seed = self.seed,
            begins = self.begins_s(),
        );
        if let Some(ends) = driven.ends {
            let _ = writeln!(text, "ends_s   = {:.2}", seconds(ends));
        }
        let _ = write!(
            text,
            "\n[start]\nzero_utc = 2031-05-17T19:05:00.000Z\n\n[boat.hands]\nrecording = \"hands.csv\"\n\
             to_line_m = {}\naside_m = {}\nspeed_m_s = {}\nengine_runs = {}\n\n\
             # The presses below are the driver's own, to the millisecond.\n\
             [thumb]\npresses_at_s = []\nbounce_ms = 0\nbounces = 0\n",
            drive.to_line_m, drive.aside_m, drive.speed_m_s, drive.engine_runs
        );
        if self.mode == Mode::Dock {
            let rich = faults.rich_pct.map_or(1.0, |pct| 1.0 + f64::from(pct) / 100.0);
            let _ = write!(text, "\n[engine]\nstart_fuel = {rich:.2}\n");
        }
        if let Some(late) = faults.late_s {
            let late: Vec<String> = late.iter().map(|late| format!("{late:.3}")).collect();
            let _ = write!(text, "\n[guns]\nlate_s = [{}]\n", late.join(", "));
        }
        if let Some((at_s, for_s)) = faults.lost_fix {
            let _ = write!(text, "\n[[fault]]\nat = {at_s:.2}\nkind = \"gnss-lost\"\nfor_s = {for_s:.2}\n");
        }
        driven.presses.iter().for_each(|one| text.push_str(&press(one)));
        text
    }

    /// What goes wrong, drawn from the seed.
    fn faults(&self) -> Drawn {
        let mut draw = Draw::new(self.seed, Purpose::Practice);
        match self.mode {
            Mode::Faults => match draw.below(3) {
                0 => Drawn { lost_fix: Some(Self::lost_fix(&mut draw)), ..Drawn::default() },
                1 => Drawn { late_s: Some(self.late_guns(&mut draw)), ..Drawn::default() },
                _ => Drawn {
                    lost_fix: Some(Self::lost_fix(&mut draw)),
                    late_s: Some(self.late_guns(&mut draw)),
                    ..Drawn::default()
                },
            },
            // One start in three runs hot.
            Mode::Dock if draw.below(3) == 0 => {
                Drawn { rich_pct: Some(35 + draw.below(25)), ..Drawn::default() }
            }
            _ => Drawn::default(),
        }
    }

    /// The receiver is silent for some seconds of the last half minute.
    fn lost_fix(draw: &mut Draw) -> (f64, f64) {
        (-28.0 + 20.0 * draw.uniform(), 2.0 + 6.0 * draw.uniform())
    }

    /// Every gun but the last is late by up to 0.8 s; zero itself stays where the rules put it.
    fn late_guns(&self, draw: &mut Draw) -> Vec<f64> {
        let guns = self.length.signals_s().len().saturating_sub(1);
        (0..guns).map(|_| 0.2 + 0.6 * draw.uniform()).collect()
    }
}

/// The dash sees every switch of the dock that the page has, whatever the owner's boat has wired.
fn wire_switches(settings: &mut toml::Table) {
    let switches = ["igniter", "starter_low", "starter_high", "start_fuel", "external_power"];
    let all: toml::Table = switches.into_iter().map(|key| (key.to_owned(), true.into())).collect();
    let mut table = settings;
    for key in ["engine", "start"] {
        let inner = table.entry(key).or_insert_with(|| toml::Table::new().into());
        let toml::Value::Table(inner) = inner else { return };
        table = inner;
    }
    table.insert("wired".to_owned(), all.into());
}

/// What was drawn to go wrong.
#[derive(Clone, Debug, Default, PartialEq)]
struct Drawn {
    /// When the receiver falls silent, and for how long.
    lost_fix: Option<(f64, f64)>,
    late_s: Option<Vec<f64>>,
    rich_pct: Option<u32>,
}

/// The words of a heat file for a line.
#[must_use]
pub const fn line_word(line: Line) -> &'static str {
    match line {
        Line::Button | Line::GunContact => "button",
        Line::Acknowledge => "acknowledge",
        Line::Page => "page",
        Line::Igniter => "igniter",
        Line::StarterLow => "starter-low",
        Line::StarterHigh => "starter-high",
        Line::StartFuel => "start-fuel",
        Line::ExternalPower => "external-power",
    }
}

fn press(press: &Press) -> String {
    let held = press.held.unwrap_or_default().as_micros();
    format!(
        "\n[[press]]\nat = \"{}\"\nline = \"{}\"\nheld_s = {}.{:06}\n",
        race_time::text(press.at),
        line_word(press.line),
        held / 1_000_000,
        held % 1_000_000,
    )
}

impl Files {
    /// The heat that they hold.
    ///
    /// # Errors
    /// Everything that is wrong with them.
    pub fn load(&self) -> Result<Heat, Report> {
        scenario::load_from(Path::new("heat.toml"), &|path| {
            let found = self.each().into_iter().find(|(name, _)| path == Path::new(name));
            found.map(|(_, text)| text.as_bytes().to_vec()).ok_or_else(|| Error::from(ErrorKind::NotFound))
        })
    }

    /// Names and texts.
    #[must_use]
    pub fn each(&self) -> [(&'static str, &str); 3] {
        [("heat.toml", &self.heat), ("settings.toml", &self.settings), ("hands.csv", &self.hands)]
    }
}
