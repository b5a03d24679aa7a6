//! A whole heat of the world model: what its sensors say against its own truth, its repeatability, its driver.

use firmware::gnss::{Decoder, Heard};
use firmware::units::{Instant, Span};
use gunline::world::course::Turns;
use gunline::world::draw::{Draw, Purpose};
use gunline::world::faults::{Fault, FaultKind};
use gunline::world::receiver::Protocol;
use gunline::world::{SensorEvent, TrueCrossing, World, WorldSettings};

/// All events of a heat as text, to compare heats by.
fn events(settings: &WorldSettings, seed: u64) -> Vec<String> {
    World::new(settings, seed).map(|event| format!("{event:?}")).collect()
}

fn start_of(world: &World) -> Option<TrueCrossing> {
    world.truth().crossings().into_iter().find(|crossing| crossing.at > Span::from_secs(-10))
}

fn span(seconds: f64) -> Span {
    Span::from_micros((seconds * 1e6).round() as i64)
}

#[test]
fn events_come_in_time_order_and_the_end_comes_last() {
    let all: Vec<_> = World::new(&WorldSettings::default(), 1).collect();
    assert!(all.windows(2).all(|pair| pair[0].0 <= pair[1].0));
    assert_eq!(all.iter().filter(|(_, event)| *event == SensorEvent::End).count(), 1);
    assert_eq!(all.last().unwrap().1, SensorEvent::End);
}

#[test]
fn one_seed_gives_the_same_events_and_another_seed_others() {
    let settings = WorldSettings::default();
    let first = events(&settings, 7);
    assert_eq!(first, events(&settings, 7));
    assert_ne!(first, events(&settings, 8));
}

#[test]
fn a_fault_of_one_sensor_moves_no_other_sensors_draws() {
    let whole: std::collections::HashSet<String> = events(&WorldSettings::default(), 7).into_iter().collect();
    for kind in [FaultKind::GnssLost, FaultKind::PpsLost, FaultKind::ThermocoupleSilent, FaultKind::N1Lost] {
        let fault = Fault { at: Span::from_secs(-30), kind, lasts: Span::from_secs(4) };
        let faulty = events(&WorldSettings { faults: vec![fault], ..WorldSettings::default() }, 7);
        let changed = faulty.iter().filter(|event| !whole.contains(*event)).count();
        // At most the 80 shaft reports of four seconds, and the first whole one after it.
        assert!(changed <= 81, "{kind:?}: {changed}");
    }
}

/// The reference is a plain scan in steps of a millisecond over latitude and longitude, by cross product.
#[test]
fn true_crossings_agree_with_a_fine_scan() {
    let mut settings = WorldSettings::default();
    settings.course.line_right = [45.000_3, -29.998]; // slanted
    settings.course.skew_deg = 4.0;
    settings.course.turns = Turns::Right;
    let world = World::new(&settings, 3);
    let (truth, bow_m) = (world.truth(), settings.boat.antenna_to_bow_m);
    let plane = |(lat, lon): (f64, f64)| (lon * 45.0_f64.to_radians().cos(), lat);
    let (a, b) = (plane((45.0, -30.0)), plane((45.000_3, -29.998)));
    let side = |t: Span| {
        let (east, north) = truth.at(t).place.ahead(bow_m);
        let p = plane(truth.course().degrees(east, north));
        let across = (b.0 - a.0) * (p.1 - a.1) - (b.1 - a.1) * (p.0 - a.0);
        let along = (p.0 - a.0) * (b.0 - a.0) + (p.1 - a.1) * (b.1 - a.1);
        (across, along / ((b.0 - a.0).powi(2) + (b.1 - a.1).powi(2)))
    };
    let (mut t, ends) = truth.extent();
    let mut scanned = Vec::new();
    let (mut before, _) = side(t);
    while t < ends {
        let (after, u) = side(t + Span::from_millis(1));
        if (before < 0.0) != (after < 0.0) && (0.0..=1.0).contains(&u) {
            scanned.push((t + span(1e-3 * before / (before - after)), after >= 0.0));
        }
        (t, before) = (t + Span::from_millis(1), after);
    }
    let found = truth.crossings();
    assert!(found.len() >= 5);
    assert_eq!(found.len(), scanned.len());
    for (found, (at, forward)) in found.iter().zip(scanned) {
        assert!((found.at - at).abs() < Span::from_micros(20), "{found:?} {at:?}");
        assert_eq!(found.forward, forward);
    }
}

/// Boats and courses drawn at random, all of them ones that a person could have in mind. He reckons with an even lag; from
/// low milling speeds the fuel schedule holds the engine back for up to 0.4 s more.
#[test]
fn without_human_error_the_driver_crosses_where_he_means_to_on_any_course() {
    let mut draw = Draw::new(99, Purpose::Driver);
    let mut between = |low: f64, high: f64| low + (high - low) * draw.uniform();
    for k in 0..60 {
        let mut settings = WorldSettings::default();
        let (course, boat, driver) = (&mut settings.course, &mut settings.boat, &mut settings.driver);
        course.lap_length_m = between(1_500.0, 5_000.0);
        course.turn_radius_m = between(60.0, 0.095 * course.lap_length_m);
        let straight = course.lap_length_m / 2.0 - core::f64::consts::PI * course.turn_radius_m;
        course.turn_to_line_m = straight * between(0.2, 0.9);
        boat.mass_kg = between(1_500.0, 4_000.0);
        boat.top_speed_m_s = between(70.0, 105.0);
        boat.settled_drag_ratio = between(1.0, 4.0);
        boat.cornering_m_s2 = between(8.0, 25.0);
        settings.engine.spool_lag_s = between(0.3, 2.5);
        driver.dock_to_line_m = course.turn_to_line_m + course.lap_length_m * between(0.0, 0.5);
        driver.leaves_dock_s = between(-300.0, -100.0);
        driver.milling_speed_m_s = between(20.0, 60.0);
        (driver.target_margin_s, driver.timing_sd_s) = (between(-1.0, 1.0), 0.0);
        let target = span(driver.target_margin_s);
        assert_eq!(settings.check(), Ok(()));
        let start = start_of(&World::new(&settings, k)).unwrap();
        assert!(
            start.forward && (start.at - target).abs() < Span::from_millis(400),
            "{settings:?}: {start:?}"
        );
    }
}

#[test]
fn after_the_start_he_races_the_laps_he_was_asked_for_and_cools_down() {
    let mut settings = WorldSettings::default();
    settings.driver.race_laps = 4;
    let world = World::new(&settings, 1);
    let start = start_of(&world).unwrap().at;
    assert_eq!(world.truth().crossings().iter().filter(|crossing| crossing.at > start).count(), 5);
}

/// The checksum rule of NMEA 0183: exclusive or of all between dollar and star.
#[test]
fn every_sentence_carries_its_checksum_and_comes_within_its_latency() {
    let settings = WorldSettings::default();
    let (mut sentences, zero) = (0, settings.zero_utc);
    for (at, event) in World::new(&settings, 5) {
        let SensorEvent::ReceiverBytes(bytes) = event else { continue };
        let text = core::str::from_utf8(&bytes).unwrap();
        let (body, sum) = text.trim_end().strip_prefix('$').unwrap().split_once('*').unwrap();
        assert_eq!(body.bytes().fold(0, |sum, byte| sum ^ byte), u8::from_str_radix(sum, 16).unwrap());
        let label = body.split(',').nth(1).unwrap();
        let part = |range: core::ops::Range<usize>| label[range].parse::<i64>().unwrap();
        let of_day = (part(0..2) * 3_600 + part(2..4) * 60 + part(4..6)) * 1_000_000 + part(7..9) * 10_000;
        let late = (zero.plus(at).as_unix_micros() - of_day).rem_euclid(86_400_000_000);
        // 60 ms with three deviations of 8 ms each way, and up to 14 ms for two sentences at 115,200 baud.
        assert!((36_000..98_000).contains(&late), "{late}");
        sentences += 1;
    }
    assert!(sentences > 12_000, "{sentences}");
}

/// The dash's own decoder is the reader here: 145 fixes of the fault's time come without a voucher.
#[test]
fn the_dash_understands_either_tongue_and_sees_when_the_receiver_vouches_for_nothing() {
    for protocol in [Protocol::Nmea, Protocol::Ubx] {
        let mut settings = WorldSettings::default();
        settings.receiver.protocol = protocol;
        let invalid = Fault {
            at: Span::from_secs(-60),
            kind: FaultKind::GnssInvalid,
            lasts: Span::from_millis(14_500),
        };
        settings.faults = vec![invalid];
        let mut decoder = Decoder::default();
        let mut fixes = Vec::new();
        for (_, event) in World::new(&settings, 4) {
            let SensorEvent::ReceiverBytes(bytes) = event else { continue };
            for heard in bytes.iter().filter_map(|byte| decoder.push(*byte)) {
                match heard {
                    Heard::Fix(fix) => fixes.push(fix),
                    Heard::Rejected(why) => panic!("{why:?}"),
                }
            }
        }
        assert!(fixes.len() > 5_800, "{protocol:?}: {}", fixes.len());
        let doubtful = fixes.iter().filter(|fix| !fix.valid).count();
        assert!(doubtful <= 145 && fixes.len() + 145 >= 6_000 + doubtful, "{protocol:?}: {doubtful}");
        let utc = fixes.iter().map(|fix| fix.utc.as_unix_micros());
        assert!(utc.clone().zip(utc.skip(1)).all(|(a, b)| b - a >= 100_000));
    }
}

#[test]
fn with_a_hung_start_the_boat_stays_at_the_dock() {
    let mut settings = WorldSettings::default();
    settings.engine.start_fuel = 0.6;
    let world = World::new(&settings, 1);
    assert!(world.truth().crossings().is_empty());
    assert_eq!(world.truth().at(Span::ZERO).speed_m_s, 0.0);
}

/// Standard error of a deviation over 6,000 values is 1 %; the white part is all there is here.
#[test]
fn positions_and_speeds_scatter_round_the_truth_as_stated() {
    let mut settings = WorldSettings::default();
    settings.receiver.white_sd_m = settings.receiver.position_sd_m;
    settings.receiver.protocol = Protocol::Ubx;
    let world = World::new(&settings, 5);
    let (truth, zero) = (world.truth().clone(), settings.zero_utc);
    let (mut places, mut speeds) = (Vec::new(), Vec::new());
    for (at, event) in world {
        let SensorEvent::ReceiverBytes(bytes) = event else { continue };
        let int = |at: usize| f64::from(i32::from_le_bytes(bytes[at..at + 4].try_into().unwrap()));
        // Ten epochs a second: the last one before the arrival. Payload offsets of UBX-NAV-PVT, 6 bytes on.
        let epoch = zero.plus(at).as_unix_micros() / 100_000 * 100_000;
        let state = truth.at(Span::from_micros(epoch - zero.as_unix_micros()));
        let (lat, _) = truth.course().degrees(state.place.east_m, state.place.north_m);
        places.push((int(6 + 28) * 1e-7 - lat) * 111_131.75); // metres per degree of latitude at 45 north, WGS 84
        if state.speed_m_s > 20.0 {
            speeds.push(int(6 + 60) * 1e-3 - state.speed_m_s);
        }
    }
    let sd = |values: &[f64]| (values.iter().map(|x| x * x).sum::<f64>() / values.len() as f64).sqrt();
    assert!((sd(&places) / 0.8 - 1.0).abs() < 0.05, "{}", sd(&places));
    assert!((sd(&speeds) / 0.05 - 1.0).abs() < 0.05, "{}", sd(&speeds));
}

#[test]
fn pulses_mark_whole_utc_seconds_even_when_zero_is_not_one() {
    let mut settings = WorldSettings::default();
    settings.zero_utc = settings.zero_utc.plus(Span::from_millis(250));
    let zero = settings.zero_utc;
    let pulses: Vec<i64> = World::new(&settings, 2)
        .filter(|(_, event)| *event == SensorEvent::PpsEdge)
        .map(|(at, _)| zero.plus(at).as_unix_micros())
        .collect();
    assert!(pulses.len() > 590);
    assert!(pulses.iter().all(|pulse| (pulse + 1).rem_euclid(1_000_000) <= 2));
    assert!(pulses.windows(2).all(|pair| (pair[1] - pair[0] - 1_000_000).abs() <= 2));
}

/// At idle, 62 % of 70 Hz is 43.4 Hz; a clock 900 ppm fast sees it 900 ppm slow.
#[test]
fn shaft_reports_add_up_to_the_shafts_turning_on_the_boards_clock() {
    let mut settings = WorldSettings::default();
    (settings.crystal.error_ppm, settings.crystal.error_sd_ppm) = (900.0, 0.0);
    settings.crystal.drift_ppb_per_s = 0.0;
    let (mut count, mut micros) = (0, 0);
    for (at, event) in World::new(&settings, 2) {
        let SensorEvent::ShaftPulses { n1, .. } = event else { continue };
        if at > Span::from_secs(-308) && at < Span::from_secs(-300) {
            count += i64::from(n1.count);
            micros += n1.span.as_micros();
        }
    }
    let hz = count as f64 * 1e6 / micros as f64;
    assert!((hz * 1.000_9 - 43.4).abs() < 0.002, "{hz}");
}

#[test]
fn while_the_board_is_off_nothing_reaches_it_and_its_clock_begins_anew() {
    let mut settings = WorldSettings::default();
    let (off, back) = (Span::from_secs(-100), Span::from_millis(-99_600));
    settings.faults = vec![Fault { at: off, kind: FaultKind::PowerBlip, lasts: back - off }];
    let world = World::new(&settings, 2);
    assert_eq!(world.crystal().rebooted(back).board_at(back), Instant::BOOT);
    let all: Vec<_> = world.collect();
    assert!(all.contains(&(off, SensorEvent::PowerBlip { off: back - off })));
    assert!(!all.iter().any(|(at, _)| *at > off && *at < back));
}

#[test]
fn what_was_drawn_is_told_and_repeats() {
    let settings = WorldSettings::default();
    let world = World::new(&settings, 9);
    assert_eq!(world.drawn(), World::new(&settings, 9).drawn());
    assert_ne!(world.drawn(), World::new(&settings, 10).drawn());
    assert!(world.drawn().iter().any(|(name, _)| name.starts_with("reaction at the signal 300")));
}
