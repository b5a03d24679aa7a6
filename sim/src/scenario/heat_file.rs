//! A heat file becomes a heat: the world's settings, the dash's, and the recordings.
//!
//! What the settings file says is true in the world too, unless the heat file says otherwise. The world's own
//! check has the last word; what it finds is told at the key that caused it.
//!
//! Knows the keys, the reader, the world's settings and the core's. Text in, a heat out.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use firmware::input::Line;
use firmware::settings::Settings;
use firmware::units::Span;

use super::files::{self, Files};
use super::keys::heat::KEYS;
use super::reader::{Reading, shown};
use super::report::{Mistake, Source};
use super::{BoatSource, EngineSource, Heat, engine_csv, hands_csv, race_time, settings_file, truth};
use crate::world::WorldSettings;
use crate::world::craft::Drive;
use crate::world::faults::{Fault, FaultKind};
use crate::world::maths::span;
use crate::world::script::Press;

/// How long a contact that the heat orders stays closed.
const CONTACT_CLOSED: Span = Span::from_millis(300);

/// The heat that a file holds, and what is wrong with it and with the files that it names.
#[must_use]
pub fn read(source: &Arc<Source>, path: &Path, files: Files<'_>) -> (Heat, Vec<Mistake>) {
    let folder = path.parent().unwrap_or(Path::new(""));
    let mut open = Open { reading: Reading::new(source, KEYS), folder, files, others: Vec::new() };
    let settings = open.settings();
    let mut heat = Heat {
        title: "untitled".to_owned(),
        seed: 0,
        scheduled: false,
        world: truth::as_the_settings_say(&settings),
        boat: open.boat(),
        engine: open.engine(),
        settings,
    };
    heat.world.drive = open.hands();
    let Open { mut reading, others, .. } = open;
    reading.set("title", &mut heat.title);
    reading.set("seed", &mut heat.seed);
    reading.set("start.scheduled", &mut heat.scheduled);
    play(&mut reading, &mut heat);
    if reading.is_right() && others.is_empty() {
        check(&mut reading, &heat);
    }
    let mut mistakes = reading.take_mistakes();
    mistakes.extend(others);
    (heat, mistakes)
}

/// Fills in the world.
fn play(reading: &mut Reading, heat: &mut Heat) {
    let world = &mut heat.world;
    truth::read(reading, world);
    world.feeds.receiver = heat.boat == BoatSource::World;
    world.feeds.shafts = heat.engine == EngineSource::World;
    world.feeds.probe = world.feeds.shafts && heat.settings.engine.probes > 0;
    world.presses = presses(reading);
    world.faults = faults(reading);
    let others_act = heat.scheduled || heat.boat != BoatSource::World || !world.presses.is_empty();
    if others_act && !reading.has("thumb.presses_at_s") {
        world.thumb.presses_at_s.clear();
    }
}

/// A heat file being read, and where it finds others.
struct Open<'a> {
    reading: Reading,
    folder: &'a Path,
    files: Files<'a>,
    /// What is wrong with the other files.
    others: Vec<Mistake>,
}

impl Open<'_> {
    fn settings(&mut self) -> Settings {
        let Some(path) = self.path("settings") else { return Settings::bare() };
        match files::text(&path, self.files) {
            Ok(source) => {
                let (settings, told) = settings_file::read(&source);
                self.others.extend(told.mistakes);
                settings
            }
            Err(unusable) => {
                self.unusable("settings", &path, &unusable);
                Settings::bare()
            }
        }
    }

    fn boat(&mut self) -> BoatSource {
        self.choose_boat();
        let Some(path) = self.path("boat.recording") else { return BoatSource::World };
        match files::bytes(&path, self.files) {
            Ok(bytes) if bytes.is_empty() => {
                let what = format!("{}: the file is empty", path.display());
                self.reading.blame("boat.recording", what, "name a receiver's recording, NMEA 0183");
                BoatSource::World
            }
            Ok(bytes) => BoatSource::Recording { path, bytes },
            Err(unusable) => {
                self.unusable("boat.recording", &path, &unusable);
                BoatSource::World
            }
        }
    }

    /// Either a recording or a boat to play, not both and not neither.
    fn choose_boat(&mut self) {
        let reading = &mut self.reading;
        if reading.has("boat.hands") && reading.has("boat.drive") {
            let right = "a driver or recorded hands, not both";
            reading.blame("boat.hands", "`boat.hands` is given beside `boat.drive`", right);
        }
        if !reading.has("boat.recording") {
            if !reading.has("boat.drive")
                && !reading.has("boat.hands")
                && !reading.means("boat.drive")
                && reading.is_toml()
            {
                let right =
                    "write a table [boat.drive], which may be empty, or: [boat] recording = \"track.nmea\"";
                reading.blame("boat", "the heat has no boat", right);
            }
            return;
        }
        let keys = reading.written_in("boat").find(|path| *path != "boat.recording").map(str::to_owned);
        let tables = ["boat.drive", "boat.hands"].into_iter().find(|table| reading.has(table));
        let other = keys.or(tables.map(str::to_owned));
        if let Some(other) = other {
            let what = format!("`{other}` is given beside `boat.recording`");
            let right = "give a recording, or the table [boat.drive] and the boat's figures, not both";
            reading.blame(&other, what, right);
        }
    }

    /// The drive of recorded hands, where the heat has one.
    fn hands(&mut self) -> Option<Drive> {
        let path = self.path("boat.hands.recording")?;
        let mut drive = Drive::default();
        self.reading.set("boat.hands.to_line_m", &mut drive.to_line_m);
        self.reading.set("boat.hands.aside_m", &mut drive.aside_m);
        self.reading.set("boat.hands.speed_m_s", &mut drive.speed_m_s);
        self.reading.set("boat.hands.engine_runs", &mut drive.engine_runs);
        match files::text(&path, self.files).map(|source| hands_csv::read(&source)) {
            Ok(Ok(rows)) => drive.hands = rows,
            Ok(Err(mistakes)) => self.others.extend(mistakes),
            Err(unusable) => self.unusable("boat.hands.recording", &path, &unusable),
        }
        Some(drive)
    }

    fn engine(&mut self) -> EngineSource {
        let Some(path) = self.path("engine.recording") else { return EngineSource::World };
        let other =
            self.reading.written_in("engine").find(|path| *path != "engine.recording").map(str::to_owned);
        if let Some(other) = other {
            let what = format!("`{other}` is given beside `engine.recording`");
            self.reading.blame(&other, what, "give a recording, or the simulated engine's figures, not both");
        }
        match files::text(&path, self.files) {
            Ok(source) => match engine_csv::read(&source) {
                Ok(rows) => return EngineSource::Recording(rows),
                Err(mistakes) => self.others.extend(mistakes),
            },
            Err(unusable) => self.unusable("engine.recording", &path, &unusable),
        }
        EngineSource::World
    }

    /// The file that a key names, relative to this one.
    fn path(&self, key: &str) -> Option<PathBuf> {
        self.reading.get::<String>(key).map(|name| self.folder.join(name))
    }

    fn unusable(&mut self, key: &str, path: &Path, unusable: &files::Unusable) {
        let mistake = unusable.named_at(|what, right| self.reading.mistake(key, what, right), path);
        self.others.push(mistake);
    }
}

/// Presses and contacts in the order of the file.
fn presses(reading: &Reading) -> Vec<Press> {
    let press = |row: &String| {
        let line = match reading.get::<String>(&format!("{row}.line")).as_deref() {
            Some("acknowledge") => Line::Acknowledge,
            Some("page") => Line::Page,
            Some("igniter") => Line::Igniter,
            Some("starter-low") => Line::StarterLow,
            Some("starter-high") => Line::StarterHigh,
            Some("start-fuel") => Line::StartFuel,
            Some("external-power") => Line::ExternalPower,
            _ => Line::Button,
        };
        Some(Press {
            at: reading.get(&format!("{row}.at"))?,
            line,
            held: reading.get(&format!("{row}.held_s")),
        })
    };
    let contact = |row: &String| {
        let at = reading.get(&format!("{row}.at"))?;
        Some(Press { at, line: Line::GunContact, held: Some(CONTACT_CLOSED) })
    };
    let (buttons, contacts) = (reading.rows("press"), reading.rows("contact"));
    buttons.iter().filter_map(press).chain(contacts.iter().filter_map(contact)).collect()
}

fn faults(reading: &mut Reading) -> Vec<Fault> {
    let rows = reading.rows("fault");
    rows.iter().filter_map(|row| fault(reading, row)).collect()
}

fn fault(reading: &mut Reading, row: &str) -> Option<Fault> {
    let kind: FaultKind = reading.get(&format!("{row}.kind"))?;
    let key = format!("{row}.for_s");
    let lasts = reading.get::<Span>(&key).filter(|lasts| *lasts != Span::ZERO);
    let lasts = match (kind, lasts) {
        (FaultKind::StrayPress | FaultKind::WatchdogReset, Some(_)) => {
            let why = match kind {
                FaultKind::StrayPress => "a stray press is over at once",
                _ => "how long a restart takes is the board's",
            };
            reading.blame(&key, format!("`{}` is given, but {why}", shown(&key)), "take it out");
            Span::ZERO
        }
        (FaultKind::StrayPress | FaultKind::WatchdogReset, None) => Span::ZERO,
        (FaultKind::GunMissed | FaultKind::PowerBlip, None) => {
            let right = match kind {
                FaultKind::PowerBlip => "say how long the board is off, such as: for_s = 2",
                _ => "guns due from `at` on, for so long, do not fire, such as: for_s = 2",
            };
            reading.blame(&key, format!("`{}` is missing", shown(&key)), right);
            Span::ZERO
        }
        (_, lasts) => lasts.unwrap_or(Span::MAX),
    };
    Some(Fault { at: reading.get(&format!("{row}.at"))?, kind, lasts })
}

/// What only the whole heat can tell: the world's own check, and presses outside of the world's time.
fn check(reading: &mut Reading, heat: &Heat) {
    let world = &heat.world;
    if let Err(unfit) = world.check() {
        let path = truth::path_of(unfit.key);
        let (low, high) = unfit.range;
        let what = format!("`{path}` is {}, which does not fit the rest", unfit.value);
        reading.blame(&path, what, format!("with the rest as it is, it must be from {low} to {high}"));
    }
    if heat.boat == BoatSource::World {
        check_times(reading, world);
    }
}

fn check_times(reading: &mut Reading, world: &WorldSettings) {
    let begins = span(world.begins_s);
    let ends = world.ends_s.map_or(Span::MAX, span);
    let rows = [reading.rows("press"), reading.rows("contact")].concat();
    for row in rows {
        let path = format!("{row}.at");
        let Some(at) = reading.get::<Span>(&path) else { continue };
        if at < begins || at > ends {
            let [from, to, at] = [begins, ends, at].map(|time| race_time::text(time).to_string());
            let what = match world.ends_s {
                Some(_) => format!("`{}` is {at}, but the world lasts from {from} to {to}", shown(&path)),
                None => format!("`{}` is {at}, but the world begins at {from}", shown(&path)),
            };
            reading.blame(&path, what, "move it, or set begins_s and ends_s at the top of the file");
        }
    }
}
