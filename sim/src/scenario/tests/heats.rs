//! Heat files that are right.

use std::path::Path;

use firmware::input::Line;
use firmware::output::{Call, Output};
use firmware::units::{Span, Utc};

use super::{HEAT, REACH, heat, load};
use crate::rig::Rig;
use crate::scenario::{self, BoatSource, EngineSource, Heat};
use crate::world::faults::{Fault, FaultKind};
use crate::world::script::Press;
use crate::world::thumb::Cue;
use crate::world::{TrueCrossing, World};

/// The heat file that checks from outside rely on, word for word.
const EXAMPLE: &str = r#"title    = "Invented heat"
settings = "reach.toml"            # relative to this file
seed     = 7                       # every draw comes from here

[start]
zero_utc = 2031-05-17T19:05:00.000Z   # the true zero
scheduled = false                     # true: the dash was told this UTC zero beforehand and needs no press

[boat]
recording = "track.nmea"           # NMEA 0183, each sentence timed by its own UTC; or, instead, a [boat.drive] table for the world model

[[press]]                          # the dash button; race time as [-]M:SS.mmm
at = "-4:59.730"

[[fault]]                          # what goes wrong, when, for how long
at   = "-0:30.000"
kind = "gnss-lost"
for_s = 4.0
"#;

#[test]
fn the_example_reads_as_written() {
    let heat = load(&[("heat.toml", EXAMPLE), ("reach.toml", REACH), ("track.nmea", "$GPRMC")]).unwrap();
    assert_eq!((heat.title.as_str(), heat.seed, heat.scheduled), ("Invented heat", 7, false));
    // 1,936,811,100 by POSIX.1, "Seconds Since the Epoch": day 136 of 2031 (tm_year 131), 19:05:00.
    let days = (131 - 70) * 365 + (131 - 69) / 4 - (131 - 1) / 100 + (131 + 299) / 400 + 136;
    assert_eq!(heat.world.zero_utc, Utc::from_unix_micros((days * 86_400 + 19 * 3_600 + 5 * 60) * 1_000_000));
    assert_eq!(heat.boat, BoatSource::Recording { path: "track.nmea".into(), bytes: b"$GPRMC".to_vec() });
    assert_eq!(heat.engine, EngineSource::World);
    let at = Span::from_millis(-299_730);
    assert_eq!(heat.world.presses, [Press { at, line: Line::Button, held: None }]);
    let (at, lasts) = (Span::from_secs(-30), Span::from_secs(4));
    assert_eq!(heat.world.faults, [Fault { at, kind: FaultKind::GnssLost, lasts }]);
    assert!(!heat.world.feeds.receiver && heat.world.feeds.probe && heat.world.feeds.shafts);
    assert!(
        heat.world.thumb.presses_at_s.is_empty(),
        "the driver presses as the file orders, and not by himself too"
    );
}

#[test]
fn a_heat_of_few_keys_is_the_world_as_the_settings_say() {
    let told = "\n[gun.heard]\ndistance_m = 650\nair_c = 12.5\n\n[engine.n2_tach]\nrpm_at_100 = 6000\ncycles_per_turn = 2\n";
    let reach = REACH.replace("[45.000000, -29.998000]", "[45.001, -29.998]") + told;
    let world = load(&[("heat.toml", HEAT), ("reach.toml", &reach)]).unwrap().world;
    assert_eq!((world.course.line_left, world.course.line_right), ([45.0, -30.0], [45.001, -29.998]));
    assert_eq!((world.course.lap_length_m, world.boat.antenna_to_bow_m), (4_023.36, 5.0));
    assert_eq!(
        (world.thumb.reaction_mean_s, world.thumb.reaction_sd_s, world.thumb.mean_sd_s),
        (0.25, 0.06, 0.015)
    );
    assert_eq!(world.guns.signals_s, [300.0, 60.0, 0.0]);
    assert_eq!(world.thumb.presses_at_s, [300.0, 60.0]);
    assert_eq!((world.thumb.cue, world.guns.distance_m, world.guns.air_c), (Cue::Sound, 650.0, 12.5));
    // 4,200 and 6,000 turns a minute, one and two cycles a turn.
    assert_eq!((world.pickups.n1_hz_at_100_pct, world.pickups.n2_hz_at_100_pct), (70.0, 200.0));
    assert_eq!(world.driver.race_laps, 3);
    assert!(world.feeds.receiver && world.feeds.pps && world.feeds.probe && world.feeds.shafts);
}

#[test]
fn a_sequence_that_begins_earlier_makes_the_world_begin_earlier() {
    let reach = REACH.replace("[300, 60, 0]", "[600, 300, 0]");
    let world = load(&[("heat.toml", HEAT), ("reach.toml", &reach)]).unwrap().world;
    assert_eq!((world.begins_s, world.crystal.boots_at_s), (-645.0, -660.0));
    let world = heat(HEAT).unwrap().world;
    assert_eq!((world.begins_s, world.crystal.boots_at_s), (-345.0, -360.0));
}

#[test]
fn who_acts_besides_the_driver_keeps_his_thumb_still_unless_the_file_says_otherwise() {
    let presses_of = |lines: &str| heat(&format!("{HEAT}{lines}")).unwrap().world.thumb.presses_at_s;
    assert_eq!(presses_of("[[press]]\nat = -60\n"), [0.0; 0]);
    assert_eq!(presses_of("[[contact]]\nat = -60\n"), [0.0; 0]);
    assert_eq!(presses_of("[[press]]\nat = -60\n[thumb]\npresses_at_s = [300]\n"), [300.0]);
    let scheduled = HEAT.replace("[boat.drive]", "scheduled = true\n[boat.drive]");
    assert_eq!(heat(&scheduled).unwrap().world.thumb.presses_at_s, [0.0; 0]);
}

#[test]
fn presses_contacts_and_faults_come_in_any_order_and_in_both_spellings_of_time() {
    let lines = r#"
[[press]]
at = 12.5
line = "page"
held_s = 1.5
[[press]]
at = "-4:59.730"
line = "acknowledge"
[[contact]]
at = "-1:00.002"
[[fault]]
at = -10
kind = "pps-lost"
[[fault]]
at = -20
kind = "stray-press"
[[fault]]
at = -61
kind = "gun-missed"
for_s = 2
"#;
    let Heat { world, .. } = heat(&format!("{HEAT}{lines}")).unwrap();
    let press = |ms, line, held: Option<i64>| Press {
        at: Span::from_millis(ms),
        line,
        held: held.map(Span::from_millis),
    };
    assert_eq!(
        world.presses,
        [
            press(12_500, Line::Page, Some(1_500)),
            press(-299_730, Line::Acknowledge, None),
            press(-60_002, Line::GunContact, Some(300)),
        ]
    );
    let fault = |s, kind, lasts| Fault { at: Span::from_secs(s), kind, lasts };
    assert_eq!(
        world.faults,
        [
            fault(-10, FaultKind::PpsLost, Span::MAX),
            fault(-20, FaultKind::StrayPress, Span::ZERO),
            fault(-61, FaultKind::GunMissed, Span::from_secs(2)),
        ]
    );
}

#[test]
fn an_engine_recording_turns_the_simulated_engine_off() {
    let text = format!("{HEAT}[engine]\nrecording = \"data/engine.csv\"\n");
    let csv = "t_s,egt_c,n1_pct,n2_pct\n-10,560,62,10\n";
    let heat = load(&[("heat.toml", &text), ("reach.toml", REACH), ("data/engine.csv", csv)]).unwrap();
    let EngineSource::Recording(rows) = heat.engine else { panic!("{:?}", heat.engine) };
    assert_eq!((rows.len(), rows[0].egt_c), (1, 560.0));
    assert!(!heat.world.feeds.probe && !heat.world.feeds.shafts && heat.world.feeds.receiver);
}

#[test]
fn zero_is_kept_to_the_microsecond() {
    let zero = |written: &str| {
        heat(&HEAT.replace("19:05:00.000Z", written)).unwrap().world.zero_utc.as_unix_micros()
    };
    let whole = zero("19:05:00Z");
    assert_eq!(zero("19:05:00.123456Z") - whole, 123_456);
    assert_eq!(zero("19:05:00.1234567Z") - whole, 123_457);
    assert_eq!(
        zero("23:59:60Z") - whole,
        (4 * 3_600 + 55 * 60) * 1_000_000,
        "a leap second counts like the next 00"
    );
}

/// What ships loads, says that it is invented, and is what its name says.
#[test]
fn the_shipped_heats_load_and_say_that_they_are_invented() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("heats");
    let of = |name: &str| scenario::load(&folder.join(name)).unwrap_or_else(|report| panic!("{report}"));
    assert!(of("first.toml").world.faults.is_empty());
    let jumped = of("jumped.toml");
    assert!(jumped.world.driver.target_margin_s < -0.3);
    assert_eq!(jumped.world.driver.race_laps, jumped.settings.race.laps + 1, "he runs the penalty lap");
    assert!(of("half-blind.toml").world.faults.len() >= 7);
    let mut files = 0;
    for file in std::fs::read_dir(&folder).unwrap() {
        let text = std::fs::read_to_string(file.unwrap().path()).unwrap();
        let first = text.lines().next().unwrap_or_default();
        assert!(first.starts_with('#') && first.contains("nvented"), "{first}");
        files += 1;
    }
    assert!(files >= 4);
}

/// Played through, each shipped heat comes to the call that its name promises, and the call's error bar holds the
/// truth: three standard deviations are enough for all but one draw in 370 (any table of the normal distribution).
#[test]
fn the_shipped_heats_end_as_their_names_say() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("heats");
    for (name, expected, laps_run) in
        [("first", Call::Legal, 3), ("jumped", Call::Early, 4), ("half-blind", Call::Legal, 3)]
    {
        let heat = scenario::load(&folder.join(name).with_extension("toml")).unwrap();
        let mut world = World::new(&heat.world, heat.seed);
        let near_zero = |crossing: &&TrueCrossing| crossing.at.abs() < Span::from_secs(5);
        let truth = world.truth().crossings().iter().find(near_zero).unwrap().at;
        let mut rig = Rig::new(&heat.settings, None, *world.crystal());
        rig.play_blind(&mut world);
        let log = rig.into_log(&heat.title, heat.seed, heat.world.zero_utc);
        let outputs: Vec<Output> = log.decisions.iter().map(|decided| decided.output).collect();
        let calls = outputs.iter().filter_map(|output| match output {
            Output::Call { call, margin, sigma, .. } => Some((*call, *margin, *sigma)),
            _ => None,
        });
        let [(call, margin, sigma)] = calls.collect::<Vec<_>>()[..] else { panic!("{name}: not one call") };
        assert_eq!(call, expected, "{name}");
        let off = (margin - truth).abs().as_micros();
        assert!(off < 3 * sigma.as_micros(), "{name}: off by {off} us, sigma {sigma:?}");
        let finish =
            outputs.iter().find(|output| matches!(output, Output::Finish { laps, .. } if *laps == laps_run));
        assert!(finish.is_some(), "{name}: no finish after {laps_run} laps");
    }
}
