//! The tables of keys against the core, the world and the reader: no key without effect, no range too wide.

use firmware::settings::Settings;

use super::{REACH, heat};
use crate::scenario::keys::{Key, Otherwise, Takes, bound, heat as heat_keys, settings as settings_keys};
use crate::scenario::number::Decimal;
use crate::scenario::parse_settings;
use crate::world::boat::BoatSettings;
use crate::world::course::CourseSettings;
use crate::world::craft::Drive;
use crate::world::crystal::CrystalSettings;
use crate::world::driver::DriverSettings;
use crate::world::engine::{DockSettings, EngineSettings};
use crate::world::faults::FaultKind;
use crate::world::guns::GunSettings;
use crate::world::pickup::PickupSettings;
use crate::world::probe::ProbeSettings;
use crate::world::receiver::ReceiverSettings;
use crate::world::thumb::ThumbSettings;

/// A course and nothing else.
const BARE: &str = "course.line_left = [45.0, -30.0]
course.line_right = [45.0, -29.998]
course.lap_length_m = 4023.36
";

/// What `BARE` must become: the core's defaults with a course.
fn bare() -> Settings {
    parse_settings("bare.toml", BARE).unwrap()
}

/// A value that is right and is not the default.
pub(super) fn another(key: &Key) -> String {
    let default = key.example();
    let pick = |values: &[String]| values.iter().find(|value| **value != default).unwrap().clone();
    match key.takes {
        Takes::Number { from, to, .. } => {
            // The default may be written 2.0 and the bound 2.
            let differs = |text: &&&str| Decimal::parse(text) != Decimal::parse(&default);
            (*[to, from].iter().find(differs).unwrap()).to_owned()
        }
        Takes::Whole { from, to, .. } => pick(&[to.to_string(), from.to_string()]),
        Takes::Word(words) => pick(&words.iter().map(|word| format!("\"{word}\"")).collect::<Vec<_>>()),
        Takes::Flag => pick(&["true".to_owned(), "false".to_owned()]),
        // The boat's speeds and pulls; any other list is of seconds, which fall.
        Takes::List { .. } if key.path.starts_with("run_in.boat.") => "[0.5, 4]".to_owned(),
        Takes::List { .. } => "[9, 4]".to_owned(),
        Takes::Bends { .. } => "[[45.004, -30.001, 150.0], [44.992, -30.001, 150.0]]".to_owned(),
        Takes::Place => "[45.0005, -29.9985]".to_owned(),
        Takes::Text => "\"Another heat\"".to_owned(),
        Takes::Day => "2032-01-01".to_owned(),
        Takes::Moment => "2032-01-01T00:00:00Z".to_owned(),
        Takes::RaceTime => "\"-1:00.000\"".to_owned(),
        Takes::File => panic!("{} has its own tests", key.path),
    }
}

/// Is the key one of a row in a list of tables? Those have their own tests.
fn is_in_rows(key: &&Key) -> bool {
    key.path.contains("[]")
}

fn all_keys() -> impl Iterator<Item = &'static Key> {
    settings_keys::KEYS.iter().chain(heat_keys::KEYS)
}

#[test]
fn every_bound_and_every_default_is_one_and_each_default_is_within_its_bounds() {
    for key in all_keys() {
        let (from, to) = match key.takes {
            Takes::Number { from, to, .. } => {
                assert!(Decimal::parse(from).is_some() && Decimal::parse(to).is_some(), "{}", key.path);
                (bound(from), bound(to))
            }
            Takes::Whole { from, to, .. } => (Decimal::whole(from), Decimal::whole(to)),
            _ => continue,
        };
        assert!(from <= to, "{}", key.path);
        assert!((from..=to).contains(&Decimal::parse(&key.example()).unwrap()), "{}", key.path);
    }
}

#[test]
fn a_key_ends_with_its_unit() {
    let endings = [
        ("s", "_s"),
        ("m", "_m"),
        ("m/s", "_m_s"),
        ("m/s2", "_m_s2"),
        ("degrees C", "_c"),
        ("degrees C of difference", "_c"),
        ("%/m", "_pct_per_m"),
        ("ppm", "_ppm"),
        ("ms", "_ms"),
        ("us", "_us"),
        ("ns", "_ns"),
        ("kg", "_kg"),
        ("g", "_g"),
        ("V", "_v"),
        ("milliohm", "_mohm"),
        ("N", "_n"),
        ("ppb/s", "_ppb_per_s"),
        ("degrees", "_deg"),
        ("degrees C/s", "_c_s"),
        ("kJ/K", "_kj_k"),
        ("W/K", "_w_k"),
    ];
    for key in all_keys() {
        let Takes::Number { unit, .. } = key.takes else { continue };
        if let Some((_, ending)) = endings.iter().find(|(of, _)| *of == unit) {
            assert!(key.name().ends_with(ending), "{} in {unit}", key.path);
        } else {
            assert!(matches!(unit, "" | "%" | "Hz"), "{} in {unit}", key.path);
        }
    }
}

/// Who reads a default must know what it is worth.
#[test]
fn every_default_figure_of_a_settings_file_says_where_it_comes_from() {
    let marks = [
        "no source",
        "from memory",
        "handbook",
        "notice",
        "yearbook",
        "IEC",
        "manual",
        "texts",
        "notes",
        "nameplate",
        "training",
        "flash cards",
        "invented",
        "demonstration",
        "As above",
        "Half the difference",
        "Measure it",
        "Measured switches",
    ];
    // Said once for several keys: "like the three below", "like all of `watch`"; and what stands in nobody's way.
    let elsewhere = ["rules.floor.", "engine.watch.", "engine.start.starter_"];
    for key in settings_keys::KEYS {
        let (Otherwise::Is(_), Takes::Number { .. } | Takes::Whole { .. } | Takes::List { .. }) =
            (key.otherwise, key.takes)
        else {
            continue;
        };
        let is_said = marks.iter().any(|mark| key.why.contains(mark))
            || elsewhere.iter().any(|table| key.path.starts_with(table))
            || matches!(key.path, "form" | "run_in.lane" | "gun.contact_delay_s");
        assert!(is_said, "{}", key.path);
    }
}

/// The defaults that the table states are the core's: a file that writes them all out changes nothing.
#[test]
fn the_stated_defaults_of_a_settings_file_are_those_of_the_core() {
    let stated = |key: &Key| match key.otherwise {
        Otherwise::Is(value)
            if !["rules.floor", "gun.heard", "run_in"].iter().any(|table| key.path.starts_with(table)) =>
        {
            Some(format!("{} = {value}\n", key.path))
        }
        _ => None,
    };
    let all: String = settings_keys::KEYS.iter().filter_map(stated).collect();
    assert_eq!(parse_settings("all.toml", &format!("{BARE}{all}")).unwrap(), bare());
    assert_eq!(Settings { course: None, ..bare() }, Settings::bare());
}

/// The same for the tables that are off without a key of theirs.
#[test]
fn the_stated_defaults_of_optional_tables_are_what_they_get_without() {
    for (table, needed) in [
        ("rules.floor", "rules.floor.speed_m_s = 44.704\n"),
        ("gun.heard", "gun.heard.distance_m = 800\n"),
        ("run_in", &run_in("")),
        ("run_in.boat", &run_in("")),
    ] {
        let given = format!("{BARE}{needed}");
        let stated = |key: &Key| match key.otherwise {
            Otherwise::Is(value) if key.table() == table => Some(format!("{} = {value}\n", key.path)),
            _ => None,
        };
        let all: String = settings_keys::KEYS.iter().filter_map(stated).collect();
        assert!(!all.is_empty());
        assert_eq!(
            parse_settings("all.toml", &(given.clone() + &all)).unwrap(),
            parse_settings("few.toml", &given).unwrap()
        );
    }
}

/// Bends round which every lane from 1 to 6 crosses the line of `BARE`, and more keys of the run-in.
fn run_in(more: &str) -> String {
    let bends = "[[45.0043, -30.0015, 138.0], [44.9919, -30.0015, 138.0]]";
    format!("run_in.turns = \"left\"\nrun_in.bends = {bends}\n{more}")
}

/// `BARE` without this key, and with what else must stand in a file that has it.
pub(super) fn beside(key: &Key) -> String {
    let rest = match key.path {
        "rules.early_time_s" => "rules.early_costs = \"time\"\n".to_owned(),
        "engine.cold_below_c" => "engine.lit_above_c = 600\n".to_owned(),
        "engine.lit_above_c" => "engine.start.cool_below_c = 50\n".to_owned(),
        "engine.self_sustaining_pct" => "engine.start.fuel_from_pct = 5\n".to_owned(),
        "engine.start.fuel_from_pct" => "engine.start.cranking_from_pct = 2\n".to_owned(),
        "engine.start.starter_rest_s" => "engine.start.starter_off_s = 0\n".to_owned(),
        "run_in.cut_first" => run_in(
            "run_in.cut_last = 2\nrun_in.cut_bends = [[45.0, -30.001, 150.0], [44.992, -30.001, 150.0]]\n",
        ),
        "run_in.cut_last" => run_in(
            "run_in.cut_first = 1\nrun_in.cut_bends = [[45.0, -30.001, 150.0], [44.992, -30.001, 150.0]]\n",
        ),
        "run_in.cut_bends" => run_in("run_in.cut_first = 1\nrun_in.cut_last = 2\n"),
        "run_in.boat.speeds_m_s" => run_in("run_in.boat.pulls_m_s2 = [9, 0]\n"),
        "run_in.boat.pulls_m_s2" => run_in("run_in.boat.speeds_m_s = [0, 90]\n"),
        path if path.starts_with("rules.floor.") => "rules.floor.speed_m_s = 44.704\n".to_owned(),
        path if path.starts_with("gun.heard.") => "gun.heard.distance_m = 800\n".to_owned(),
        path if path.starts_with("run_in.") => run_in(""),
        _ => String::new(),
    };
    let own = |line: &&str| !line.starts_with(&format!("{} ", key.path));
    let lines = BARE.lines().chain(rest.lines());
    lines.filter(own).map(|line| format!("{line}\n")).collect()
}

/// A key that is read but goes nowhere would be the worst of settings. The engine's limits have their own test.
#[test]
fn every_key_of_a_settings_file_changes_the_settings() {
    for key in settings_keys::KEYS.iter().filter(|key| !is_in_rows(key)) {
        let others = beside(key);
        if matches!(
            key.path,
            "form" | "engine.demonstration" | "engine.n2_overspeed_pct" | "engine.start.demonstration"
        ) {
            continue;
        }
        let with = |value: &str| {
            let text = format!("{others}{} = {value}\n", key.path);
            parse_settings("with.toml", &text).unwrap_or_else(|report| panic!("{text}\n{report}"))
        };
        let (written, default) = match key.path {
            "rules.early_costs" => ("\"nothing\"".to_owned(), "\"lap\"".to_owned()),
            "rules.early_time_s" => ("30".to_owned(), "31".to_owned()),
            // The lane of a right-hand race needs the line's ends exchanged: that has its own test.
            "run_in.turns" => continue,
            "run_in.cut_first" => ("1".to_owned(), "2".to_owned()),
            "run_in.cut_last" => ("1".to_owned(), "2".to_owned()),
            "run_in.cut_bends" => {
                (another(key), "[[45.002, -30.001, 120.0], [44.99, -30.001, 120.0]]".to_owned())
            }
            "run_in.entrance" => (another(key), "[44.99, -30.0]".to_owned()),
            "run_in.boat.speeds_m_s" => ("[0, 90]".to_owned(), "[0, 80]".to_owned()),
            "run_in.boat.pulls_m_s2" => ("[9, 0]".to_owned(), "[8, 0]".to_owned()),
            "engine.bands_c" => ("[650, 750]".to_owned(), key.example()),
            _ => (another(key), key.example()),
        };
        assert_ne!(with(&written), with(&default), "{} = {written} has no effect", key.path);
    }
}

/// The ends of every range pass the core's own check: what the reader lets through, the dash takes.
#[test]
fn no_range_of_a_settings_file_is_wider_than_the_cores() {
    for key in settings_keys::KEYS.iter().filter(|key| !is_in_rows(key)) {
        let ends = match key.takes {
            Takes::Number { from, to, .. } => [from.to_owned(), to.to_owned()],
            Takes::Whole { from, to, .. } => [from.to_string(), to.to_string()],
            _ => continue,
        };
        for end in ends {
            // Overspeed and the cut hang on other keys.
            if matches!(key.path, "engine.n2_overspeed_pct" | "run_in.cut_first" | "run_in.cut_last") {
                continue;
            }
            let text = format!("{}{} = {end}\n", beside(key), key.path);
            if let Err(report) = parse_settings("end.toml", &text) {
                panic!("{text}\n{report}");
            }
        }
    }
}

/// The same for a heat: what is stated of the world is the world's own default.
#[test]
fn the_stated_defaults_of_a_heat_file_are_those_of_the_world() {
    let stated = |key: &Key| match key.otherwise {
        Otherwise::Is(value) if !key.path.contains("[]") && !of_hands(key) && key.path != "title" => {
            Some(format!("{} = {value}\n", key.path))
        }
        _ => None,
    };
    // Dotted keys and headers may not name the same table, so the heat is dotted too.
    let dotted = "settings = \"reach.toml\"\nstart.zero_utc = 2031-05-17T19:05:00.000Z\n";
    let all: String = heat_keys::KEYS.iter().filter_map(stated).collect();
    let heat_of =
        |lines: &str| heat(&format!("{dotted}{lines}")).unwrap_or_else(|report| panic!("{lines}\n{report}"));
    let few = "boat.drive.target_margin_s = 0.2\n";
    assert_eq!(heat_of(&all), heat_of(few));
}

#[test]
fn every_key_of_a_heat_file_changes_the_heat() {
    let needed = [
        ("settings", "\"reach.toml\""),
        ("start.zero_utc", "2031-05-17T19:05:00.000Z"),
        ("boat.drive.timing_sd_s", "0.05"),
        ("crystal.boots_at_s", "-4000"),
        // Room for the ends of other ranges.
        ("course.turn_radius_m", "100"),
    ];
    let plain = |key: &&Key| !is_in_rows(key) && !of_hands(key) && !matches!(key.takes, Takes::File);
    for key in heat_keys::KEYS.iter().filter(plain) {
        let with = |value: Option<&str>| {
            let others = needed.iter().filter(|(path, _)| *path != key.path || value.is_none());
            let lines: String = others.map(|(path, value)| format!("{path} = {value}\n")).collect();
            let own = value.map_or(String::new(), |value| format!("{} = {value}\n", key.path));
            heat(&(lines + &own))
        };
        let value = match key.path {
            "begins_s" => "-600".to_owned(),
            "thumb.cue" => "\"sound\"".to_owned(),
            "boat.drive.leaves_dock_s" => "-200".to_owned(),
            "boat.drive.dock_to_line_m" => "3000".to_owned(),
            "boat.drive.milling_speed_m_s" => "40".to_owned(),
            "boat.antenna_to_bow_m" => "20".to_owned(),
            "engine.idle_egt_c" => "500".to_owned(),
            "course.turn_radius_m" => "150".to_owned(),
            "receiver.white_sd_m" => "0.5".to_owned(),
            "crystal.boots_at_s" => "-5000".to_owned(),
            _ => another(key),
        };
        let heat = with(Some(&value)).unwrap_or_else(|report| panic!("{} = {value}\n{report}", key.path));
        assert_ne!(heat, with(None).unwrap(), "{} = {value} has no effect", key.path);
    }
}

/// Keys that stand instead of the driver's.
fn of_hands(key: &Key) -> bool {
    key.path.starts_with("boat.hands.")
}

#[test]
fn recorded_hands_drive_instead_of_the_driver_and_every_key_of_theirs_counts() {
    let needed = "settings = \"reach.toml\"\nstart.zero_utc = 2031-05-17T19:05:00.000Z\n\
                  boat.hands.recording = \"hands.csv\"\n";
    let drive = |lines: &str| {
        let read = heat(&format!("{needed}{lines}")).unwrap_or_else(|report| panic!("{lines}\n{report}"));
        read.world.drive.unwrap()
    };
    let bare = drive("");
    assert_eq!(bare, Drive { hands: bare.hands.clone(), ..Drive::default() });
    assert_eq!(bare.hands.len(), 2);
    for key in heat_keys::KEYS.iter().filter(|key| of_hands(key) && !matches!(key.takes, Takes::File)) {
        let value = another(key);
        assert_ne!(drive(&format!("{} = {value}\n", key.path)), bare, "{}", key.path);
    }
    let both = heat(&format!("{needed}boat.drive.race_laps = 1\n")).unwrap_err().to_string();
    assert!(both.contains("`boat.hands` is given beside `boat.drive`"), "{both}");
}

/// Asks serde which fields a struct has: it lists them when it meets one that it does not know.
fn fields<T: serde::de::DeserializeOwned>() -> Vec<String> {
    let error = toml::from_str::<T>("no_such_field = 1").err().unwrap().to_string();
    let names = error.split('`').skip(1).step_by(2).map(str::to_owned);
    names.filter(|name| name != "no_such_field" && !name.contains(' ')).collect()
}

#[test]
fn everything_that_can_be_set_about_the_world_has_a_key() {
    let tables = [
        ("course", fields::<CourseSettings>()),
        ("boat", fields::<BoatSettings>()),
        ("boat.drive", fields::<DriverSettings>()),
        ("engine", fields::<EngineSettings>()),
        ("engine.dock", fields::<DockSettings>()),
        ("thumb", fields::<ThumbSettings>()),
        ("guns", fields::<GunSettings>()),
        ("crystal", fields::<CrystalSettings>()),
        ("receiver", fields::<ReceiverSettings>()),
        ("probe", fields::<ProbeSettings>()),
        ("pickups", fields::<PickupSettings>()),
    ];
    for (table, fields) in tables {
        assert!(fields.len() > 2, "{table}: {fields:?}");
        let mut known: Vec<_> =
            heat_keys::KEYS.iter().filter(|key| key.table() == table).map(Key::name).collect();
        known.retain(|name| *name != "recording");
        assert_eq!(known, fields, "[{table}]");
    }
}

#[test]
fn the_kinds_of_faults_are_those_of_the_world() {
    #[derive(serde::Deserialize)]
    struct One {
        #[allow(dead_code)]
        kind: FaultKind,
    }
    let error = toml::from_str::<One>("kind = 'none-such'").err().unwrap().to_string();
    let known: Vec<_> = error.split('`').skip(1).step_by(2).filter(|word| *word != "none-such").collect();
    assert_eq!(known, heat_keys::FAULTS);
}

#[test]
fn the_example_of_the_settings_file_is_one() {
    assert!(parse_settings("reach.toml", REACH).is_ok());
}
