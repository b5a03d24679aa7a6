//! An oval on invented water: two bends, straights of 1,380 m, a line 900 m after the last bend. The boat is a
//! formula; what the run-in makes of it is held against plane geometry and mechanics.

use super::lane::{Bend, Cut, LaneFault, Turns};
use super::stations::RingFault;
use super::tracker::OnLane;
use super::*;
use crate::course::CourseSettings;
use crate::gnss::Position;
use crate::units::{CentiDegrees, MmPerSecond, NanoDegrees};
use std::f64::consts::PI;
use std::vec::Vec;

const BUOYS_M: f64 = 200.0;
const STRAIGHT_M: f64 = 1_380.0;
const BEND_TO_LINE_M: f64 = 900.0;
const LINE_M: f64 = 157.7;
const WIDTH_M: f64 = 20.0;

/// East and north of the line's left end; the line runs east, boats cross northwards.
fn position(east_m: f64, north_m: f64) -> Position {
    // Metres per degree at latitude 45 on WGS 84 by the usual series: 111,131.8 north, 78,846.8 east.
    let nano = |degrees: f64| NanoDegrees::from_nano((degrees * 1e9).round() as i64);
    Position { lat: nano(45.0 + north_m / 111_131.8), lon: nano(-30.0 + east_m / 78_846.8) }
}

fn line() -> StartLine {
    StartLine::new(&CourseSettings {
        line_left: position(0.0, 0.0),
        line_right: position(LINE_M, 0.0),
        line_sd: Millimetres::ZERO,
        end_tolerance: Millimetres::ZERO,
        lap_length: Millimetres::from_mm(4_000_000),
    })
    .unwrap()
}

fn mm(metres: f64) -> Millimetres {
    Millimetres::from_mm((metres * 1e3).round() as i64)
}

fn bend(east_m: f64, north_m: f64, radius_m: f64) -> Bend {
    Bend { centre: position(east_m, north_m), radius: mm(radius_m) }
}

/// Lane 1 of a left-hand course runs through the middle of the line.
fn lane() -> LaneSettings {
    let inside = LINE_M / 2.0 - BUOYS_M - WIDTH_M / 2.0;
    LaneSettings {
        bends: [bend(inside, STRAIGHT_M - BEND_TO_LINE_M, BUOYS_M), bend(inside, -BEND_TO_LINE_M, BUOYS_M)]
            .into_iter()
            .collect(),
        turns: Turns::Left,
        lane: 1,
        lane_width: mm(WIDTH_M),
        cut: None,
        entrance: None,
        tolerance: mm(30.0),
    }
}

/// The demonstration with the lag of the boat that these tests run.
fn boat() -> BoatModel {
    BoatModel { lag: Span::from_millis(1_300), ..BoatModel::demonstration() }
}

fn settings() -> RunInSettings {
    RunInSettings {
        lane: lane(),
        boat: boat(),
        risk_ppm: 10_000,
        response: Span::ZERO,
        sigma_most: Span::from_millis(500),
        speaks: true,
    }
}

fn receiver() -> CrossingSettings {
    crate::settings::Settings::bare().crossing
}

fn run_in(settings: &RunInSettings) -> RunIn {
    RunIn::new(settings, &receiver(), line(), Millimetres::ZERO).unwrap()
}

fn close(value: Millimetres, metres: f64, within_m: f64) {
    assert!((value.as_mm() as f64 / 1e3 - metres).abs() < within_m, "{value:?} is not {metres}");
}

/// Radius of a lane.
fn radius(lane: u8) -> f64 {
    BUOYS_M + WIDTH_M * (f64::from(lane) - 0.5)
}

/// East, north and compass course of a boat in lane 1, so far along it before the line.
fn on_lane(to_line: f64) -> (f64, f64, f64) {
    let (r, x) = (radius(1), LINE_M / 2.0);
    let bend = PI * r;
    let lap = 2.0 * (STRAIGHT_M + bend);
    let s = (-to_line).rem_euclid(lap);
    let north = STRAIGHT_M - BEND_TO_LINE_M;
    if s < north {
        (x, s, 0.0)
    } else if s < north + bend {
        let turned = (s - north) / r;
        (x - r + r * turned.cos(), north + r * turned.sin(), -turned.to_degrees())
    } else if s < north + bend + STRAIGHT_M {
        (x - 2.0 * r, north - (s - north - bend), 180.0)
    } else if s < lap - BEND_TO_LINE_M {
        let turned = (s - north - bend - STRAIGHT_M) / r;
        (x - r - r * turned.cos(), -BEND_TO_LINE_M - r * turned.sin(), 180.0 - turned.to_degrees())
    } else {
        (x, s - lap, 0.0)
    }
}

fn centi(degrees: f64) -> CentiDegrees {
    CentiDegrees::from_centi((degrees.rem_euclid(360.0) * 100.0).round() as i32 % 36_000)
}

fn at(s: f64) -> Utc {
    Utc::from_unix_micros(1_900_000_000_000_000 + (s * 1e6).round() as i64)
}

fn fix(t: f64, (east, north, course): (f64, f64, f64), speed_m_s: f64) -> Fix {
    Fix {
        utc: at(t),
        position: position(east, north),
        speed: MmPerSecond::from_mm_s((speed_m_s * 1e3).round() as i32),
        course: centi(course),
        position_sd: None,
        speed_sd: None,
        hdop_centi: None,
        valid: true,
    }
}

/// The lane and, where there is one, the cut.
fn lay_out(
    lane: &LaneSettings,
    line: &StartLine,
    boat: &BoatModel,
) -> Result<(Ring, Option<Ring>), LaneFault> {
    let laid = |by_cut| {
        let mut ring = Ring::default();
        lane::lay_out(&mut ring, lane, by_cut, line, boat).map(|()| ring)
    };
    let cut = lane.cut.as_ref().map(|cut| laid(Some(cut)));
    Ok((laid(None)?, cut.transpose()?))
}

/// Two straights and two half circles: 2 (L + pi r); a lane further out is 2 pi widths longer.
#[test]
fn a_lap_is_as_long_as_plane_geometry_says() {
    // The line ends 79 m outside the middle of lane 1: the fifth misses it.
    for number in 1..=4 {
        let lane = LaneSettings { lane: number, ..lane() };
        let (ring, cut) = lay_out(&lane, &line(), &boat()).unwrap();
        close(ring.lap(), 2.0 * (STRAIGHT_M + PI * radius(number)), 0.02);
        assert!(cut.is_none());
    }
}

#[test]
fn the_ring_closes_and_runs_over_the_line_in_racing_direction() {
    let (ring, _) = lay_out(&lane(), &line(), &boat()).unwrap();
    let stations = ring.stations();
    let (first, last) = (stations[0], stations[stations.len() - 1]);
    assert_eq!(first.point.past, 0);
    assert_eq!(first.ahead, (0, 1 << 14));
    let gap = f64::from(last.point.past).hypot(f64::from(last.point.along - first.point.along));
    assert!((gap - last.to_line.as_mm() as f64).abs() < 2.0, "{gap}");
    assert!(stations.windows(2).all(|pair| pair[0].to_line > pair[1].to_line));
}

/// The same list of bends, the line's ends exchanged: the course run the other way round is as long.
#[test]
fn the_same_bends_serve_both_ways_round() {
    let back = StartLine::new(&CourseSettings {
        line_left: position(LINE_M, 0.0),
        line_right: position(0.0, 0.0),
        line_sd: Millimetres::ZERO,
        end_tolerance: Millimetres::ZERO,
        lap_length: Millimetres::from_mm(4_000_000),
    })
    .unwrap();
    let right = LaneSettings { turns: Turns::Right, ..lane() };
    let (ring, _) = lay_out(&right, &back, &boat()).unwrap();
    close(ring.lap(), 2.0 * (STRAIGHT_M + PI * radius(1)), 0.02);
    // After the line comes the way that was the last 900 m.
    close(ring.stretches().unwrap()[0].length, BEND_TO_LINE_M, 0.01);
    let wrong = LaneSettings { turns: Turns::Left, ..lane() };
    assert_eq!(lay_out(&wrong, &back, &boat()).map(|_| ()), Err(LaneFault::Ring(RingFault::MissesTheLine)));
}

/// Four bends round a square of 1,000 m: the cut's bend stands 300 m inside one corner in both directions, so two
/// sides of 1,000 m become two of root(700^2 + 300^2) = 761.577 m. All turns together are a full circle.
#[test]
fn a_cut_is_a_ring_of_its_own_and_shorter() {
    let (r, x) = (radius(1), LINE_M / 2.0);
    let square = [(x - r, 500.0), (x - r - 1_000.0, 500.0), (x - r - 1_000.0, -500.0), (x - r, -500.0)];
    let inside = [bend(x - r - 700.0, 200.0, BUOYS_M)].into_iter().collect();
    let lane = LaneSettings {
        bends: square.into_iter().map(|(e, n)| bend(e, n, BUOYS_M)).collect(),
        cut: Some(Cut { first: 1, last: 1, bends: inside }),
        ..lane()
    };
    let (ring, cut) = lay_out(&lane, &line(), &boat()).unwrap();
    close(ring.lap(), 4_000.0 + 2.0 * PI * r, 0.1);
    close(cut.unwrap().lap(), 2_000.0 + 2.0 * 761.577 + 2.0 * PI * r, 0.1);
}

/// On the cut the boat is on the cut; where both run side by side it is on the lane.
#[test]
fn a_boat_on_the_cut_is_seen_there() {
    let (r, x) = (radius(1), LINE_M / 2.0);
    let square = [(x - r, 500.0), (x - r - 1_000.0, 500.0), (x - r - 1_000.0, -500.0), (x - r, -500.0)];
    let mut settings = settings();
    settings.lane.bends = square.into_iter().map(|(e, n)| bend(e, n, BUOYS_M)).collect();
    settings.lane.cut =
        Some(Cut { first: 1, last: 1, bends: [bend(x - r - 700.0, 200.0, BUOYS_M)].into_iter().collect() });
    let mut run_in = run_in(&settings);
    // Half way along the cut's first straight, a radius outside the middles: course 270 less atan(300 / 700).
    let (sin, cos) = f64::atan2(300.0, 700.0).sin_cos();
    let half = (x - r - 350.0 - r * sin, 350.0 + r * cos, 270.0 - 23.2);
    assert!(track(&mut run_in, 0.0, half, 50.0).unwrap().on_cut);
    assert!(!track(&mut run_in, 60.0, (x, -200.0, 0.0), 50.0).unwrap().on_cut);
}

#[test]
fn lanes_that_cannot_be_are_named() {
    let fault = |change: fn(&mut LaneSettings)| {
        let mut lane = lane();
        change(&mut lane);
        let fault = lay_out(&lane, &line(), &boat()).map(|_| ()).unwrap_err();
        let settings = RunInSettings { lane, ..settings() };
        assert_eq!(RunIn::check(&settings, &line()), Err(RunInFault::Lane(fault)));
        fault
    };
    assert_eq!(fault(|l| l.lane = 7), LaneFault::Lane);
    assert_eq!(fault(|l| l.bends.truncate(1)), LaneFault::Bends);
    assert_eq!(fault(|l| l.bends[0].radius = Millimetres::ZERO), LaneFault::Ring(RingFault::MissesTheLine));
    assert_eq!(fault(|l| l.bends[0].radius = mm(6_000.0)), LaneFault::Radius);
    assert_eq!(fault(|l| l.bends[1] = l.bends[0]), LaneFault::TooClose);
    let cut = |first, last| Some(Cut { first, last, bends: Default::default() });
    let mut lane = lane();
    lane.cut = cut(1, 4);
    assert_eq!(lay_out(&lane, &line(), &boat()).map(|_| ()), Err(LaneFault::Bends));
}

fn track(run_in: &mut RunIn, t: f64, place: (f64, f64, f64), speed: f64) -> Option<OnLane> {
    run_in.place(at(t), &fix(t, place, speed))
}

/// All round the lane, on it and 20 m beside it. An arc's chord is turned by up to 3 degrees against the arc, so
/// beside it the place is off by 20 m times their tangent, 1.05 m.
#[test]
fn a_boat_is_placed_all_round_the_lane() {
    let mut run_in = run_in(&settings());
    let lap = run_in.lane.ring.lap().as_mm() as f64 / 1e3;
    for k in 0..800 {
        let to_line = 4_000.0 - f64::from(k) * 5.0;
        let (east, north, course) = on_lane(to_line);
        let aside = [0.0, 20.0, -20.0][k as usize % 3];
        let (sin, cos) = course.to_radians().sin_cos();
        let place = (east + aside * cos, north - aside * sin, course + [0.0, 25.0][k as usize % 2]);
        let found = track(&mut run_in, f64::from(k) * 0.1, place, 50.0).unwrap();
        let off = (found.to_line.as_mm() as f64 / 1e3 - to_line.rem_euclid(lap)).abs();
        let allowed = if aside == 0.0 { 0.05 } else { 1.1 };
        assert!(off.min(lap - off) < allowed, "{to_line}: {found:?}");
    }
}

/// The legs lie 420 m apart here; on a narrow course of 44 m they are within each other's tolerance, and only the
/// boat's course tells which is which.
#[test]
fn two_legs_side_by_side_are_told_apart_by_the_course() {
    let mut narrow = settings();
    let x = LINE_M / 2.0;
    narrow.lane.bends = [bend(x - 22.0, 480.0, 12.0), bend(x - 22.0, -900.0, 12.0)].into_iter().collect();
    narrow.lane.tolerance = mm(60.0);
    let mut run_in = run_in(&narrow);
    let bend = PI * 22.0;
    for (k, east) in [x, x - 44.0, x - 20.0].into_iter().enumerate() {
        let t = k as f64 * 10.0;
        close(track(&mut run_in, t, (east, -300.0, 0.0), 50.0).unwrap().to_line, 300.0, 0.05);
        run_in.tracker = Tracker::new(mm(60.0), None);
        // Southwards 300 m south of the line: half the back straight, a bend and 900 m to go.
        let left = 600.0 + bend + 900.0;
        close(track(&mut run_in, t, (east, -300.0, 180.0), 50.0).unwrap().to_line, left, 0.05);
        run_in.tracker = Tracker::new(mm(60.0), None);
    }
}

#[test]
fn off_course_for_more_than_a_second_there_is_no_place() {
    let mut run_in = run_in(&settings());
    let x = LINE_M / 2.0;
    assert!(track(&mut run_in, 0.0, (x, -500.0, 0.0), 50.0).is_some());
    // Turning away by 61 degrees: carried on for a second, 5 m a fix, then nothing.
    for k in 1..=10 {
        let found = track(&mut run_in, f64::from(k) * 0.1, (x, -500.0, 61.0), 50.0).unwrap();
        close(found.to_line, 500.0 - f64::from(k) * 5.0, 0.05);
    }
    assert_eq!(track(&mut run_in, 1.1, (x, -500.0, 61.0), 50.0), None);
    // Back within 60 degrees is not enough, within 45 it is; nor is 25 m aside, but 20 m.
    assert_eq!(track(&mut run_in, 1.2, (x, -450.0, 59.0), 50.0), None);
    assert_eq!(track(&mut run_in, 1.3, (x + 25.0, -450.0, 0.0), 50.0), None);
    assert!(track(&mut run_in, 1.4, (x + 20.0, -450.0, 40.0), 50.0).is_some());
}

#[test]
fn a_boat_adrift_or_against_the_course_or_in_the_middle_of_it_has_no_place() {
    let x = LINE_M / 2.0;
    for (place, speed) in [
        ((x, -500.0, 0.0), 1.9),
        ((x, -500.0, 180.0), 50.0),
        ((x - 210.0, -200.0, 0.0), 50.0),
        ((x + 30_000.0, 0.0, 0.0), 50.0),
    ] {
        assert_eq!(track(&mut run_in(&settings()), 0.0, place, speed), None, "{place:?}");
    }
}

#[test]
fn before_the_entrance_mark_a_boat_may_be_three_times_as_far_aside() {
    let mut marked = settings();
    // The mark lies at the exit of the last bend, 900 m before the line.
    marked.lane.entrance = Some(position(LINE_M / 2.0 + 40.0, -BEND_TO_LINE_M));
    let x = LINE_M / 2.0;
    let place = |aside: f64, north: f64| track(&mut run_in(&marked), 0.0, (x + aside, north, 0.0), 50.0);
    assert!(place(60.0, 300.0).is_some(), "after the line lanes are free again");
    assert!(place(60.0, -500.0).is_none());
    assert!(place(20.0, -500.0).is_some());
}

/// A boat that holds 48 m/s on the home straight; constant speed until he goes.
fn holding(run_in: &mut RunIn, until: f64, aim: Option<&Aim>) -> f64 {
    let mut t = 0.0;
    while t <= until {
        run_in.fix(at(t), &fix(t, on_lane(850.0 - 48.0 * t), 48.0), aim);
        t += 0.1;
    }
    t - 0.1
}

/// The forecast is the planner's own for the bow; its crossing less zero is the margin.
#[test]
fn the_margin_is_the_crossing_less_zero() {
    let mut run_in = run_in(&settings());
    run_in.receiver.antenna_to_bow = mm(5.0);
    let aim = Aim { zero: at(14.0), sigma: Span::from_millis(45) };
    let t = holding(&mut run_in, 2.0, Some(&aim));
    let standing = planner::Standing {
        to_line: mm(850.0 - 48.0 * t - 5.0),
        speed: MmPerSecond::from_mm_s(48_000),
        open_for: Span::ZERO,
    };
    let expected = t + run_in.lane.planner.forecast(&standing).time.as_micros() as f64 / 1e6 - 14.0;
    let view = run_in.view(at(t), Some(&aim));
    let margin = view.margin.unwrap().as_micros() as f64 / 1e6;
    assert!((margin - expected).abs() < 2e-3, "{margin} {expected}");
    // Worked out by finite differences of the boat's equation: a pull 1 % greater saves 17.1 ms, a lag 0.1 s longer
    // costs 35.3 ms, a metre is 11.6 ms. With 3 %, 0.15 s, 1 m and a zero of 45 ms: root of 51^2 + 53^2 + 12^2 + 45^2.
    let sigma = view.sigma.unwrap().as_micros() as f64 / 1e3;
    assert!((sigma - 87.0).abs() < 5.0, "{sigma}");
    // Far from the line: 2.327 times the root of 45^2 + 12^2, zero and place alone.
    let hold = view.hold.as_micros() as f64 / 1e3;
    assert!((hold - 108.4).abs() < 2.0, "{hold}");
    assert!(view.demonstration);
}

/// Waits as long as he is told, then goes: the forecast then is zero and the margin to hold.
#[test]
fn the_time_he_may_wait_brings_him_to_zero_and_the_margin_to_hold() {
    for zero_s in [12.5, 13.5, 14.5, 15.5] {
        let mut run_in = run_in(&settings());
        let aim = Aim { zero: at(zero_s), sigma: Span::from_millis(45) };
        holding(&mut run_in, 0.5, Some(&aim));
        let view = run_in.view(at(0.5), Some(&aim));
        let wait = view.wait.unwrap().as_micros() as f64 / 1e6;
        assert!(wait > 0.1, "{zero_s}: {view:?}");
        assert_eq!(view.advice, Advice::Hold);
        let standing = planner::Standing {
            to_line: mm(850.0 - 48.0 * (0.5 + wait)),
            speed: MmPerSecond::from_mm_s(48_000),
            open_for: Span::ZERO,
        };
        let crosses = 0.5 + wait + run_in.lane.planner.forecast(&standing).time.as_micros() as f64 / 1e6;
        let meant = zero_s + view.hold.as_micros() as f64 / 1e6;
        assert!((crosses - meant).abs() < 5e-3, "{zero_s}: {crosses} {meant}");
    }
}

/// Way over time.
#[test]
fn the_steady_speed_brings_him_to_the_line_at_zero_and_the_margin_to_hold() {
    let mut run_in = run_in(&settings());
    let aim = Aim { zero: at(17.0), sigma: Span::from_millis(45) };
    holding(&mut run_in, 1.0, Some(&aim));
    let view = run_in.view(at(1.0), Some(&aim));
    let left = 17.0 - 1.0 + view.hold.as_micros() as f64 / 1e6;
    let steady = f64::from(view.steady.unwrap().as_mm_s()) / 1e3;
    assert!((steady - (850.0 - 48.0) / left).abs() < 0.02, "{steady}");
}

/// Between fixes the margin goes on as the next fix will have it.
#[test]
fn while_he_waits_the_margin_grows_as_the_next_fixes_say() {
    let mut run_in = run_in(&settings());
    let aim = Aim { zero: at(14.0), sigma: Span::from_millis(45) };
    holding(&mut run_in, 2.0, Some(&aim));
    let carried = run_in.view(at(3.0), Some(&aim)).margin.unwrap();
    holding(&mut run_in, 3.0, Some(&aim));
    let seen = run_in.view(at(3.0), Some(&aim)).margin.unwrap();
    assert!((carried - seen).abs() < Span::from_millis(15), "{carried:?} {seen:?}");
}

#[test]
fn each_reason_for_no_number_has_its_word() {
    let mut run_in = run_in(&settings());
    let aim = Aim { zero: at(14.0), sigma: Span::from_millis(45) };
    assert_eq!(run_in.view(at(0.0), None).advice, Advice::NoClock);
    assert_eq!(run_in.view(at(0.0), Some(&aim)).advice, Advice::OffCourse);
    assert_eq!(run_in.blind().advice, Advice::NoFix);
    holding(&mut run_in, 1.0, Some(&aim));
    let unsure = Aim { sigma: Span::from_millis(600), ..aim };
    let view = run_in.view(at(1.0), Some(&unsure));
    assert_eq!((view.advice, view.margin), (Advice::TooUncertain, None));
}

/// The boat of the default settings run by its own equation in small steps of floating point: from 48 m/s, flat out
/// behind a first-order lag. Returns speeds and ways at each tenth of a second.
fn pulled(share_of_pull: f64, seconds: f64) -> Vec<(f64, f64)> {
    let (mut v, mut x, mut t) = (48.0_f64, 0.0_f64, 0.0_f64);
    let mut seen = Vec::new();
    while t < seconds {
        if ((t * 1e3).round() as i64) % 100 == 0 {
            seen.push((v, x));
        }
        let pull = share_of_pull * 9.0 * (1.0 - (v / 96.0).powi(2)) * (1.0 - f64::exp(-t / 1.3));
        x += v * 1e-3 + pull * 0.5e-6;
        v += pull * 1e-3;
        t += 1e-3;
    }
    seen
}

/// When he has gone, the forecast of that moment is kept, and comes true within its own error bar.
#[test]
fn a_run_flat_out_ends_as_was_forecast_when_he_went() {
    let mut run_in = run_in(&settings());
    let run = pulled(1.0, 20.0);
    let mut crossed = 0.0;
    for (k, (v, x)) in run.iter().enumerate() {
        let t = k as f64 * 0.1;
        run_in.fix(at(t), &fix(t, on_lane(800.0 - x), *v), None);
        let next = run[k + 1];
        if next.1 >= 800.0 {
            crossed = t + (800.0 - x) / (next.1 - x) * 0.1;
            break;
        }
    }
    let outcome = run_in.crossed(at(crossed)).unwrap();
    let off = outcome.forecast.since(at(crossed)).as_micros() as f64 / 1e6;
    assert!(off.abs() < 2.0 * outcome.sigma.as_micros() as f64 / 1e6, "{off} {:?}", outcome.sigma);
    assert!(off.abs() < 0.1, "{off}");
    assert_eq!(run_in.track_record().map(|record| record.count), Some(1));
}

/// A boat that pulls 20 % more than its figures: three hot laps show it, to 3 %.
#[test]
fn hot_laps_show_the_boat_as_it_is() {
    let mut run_in = run_in(&settings());
    let mut t = 0.0;
    assert!(run_in.proposal().is_none());
    for _ in 0..4 {
        for (v, x) in pulled(1.2, 14.0) {
            run_in.fix(at(t), &fix(t, on_lane(1_300.0 - x), v), None);
            t += 0.1;
        }
        run_in.lost();
        t += 10.0;
    }
    let boat = run_in.proposal().unwrap();
    assert_eq!(boat.check(), Ok(()));
    assert!(!boat.demonstration);
    for v in [52.0, 60.0, 68.0, 76.0, 84.0_f64] {
        let truth = 1.2 * 9_000.0 * (1.0 - (v / 96.0).powi(2));
        let seen = f64::from(boat.acceleration_mm_s2(MmPerSecond::from_mm_s((v * 1e3) as i32)));
        assert!((seen / truth - 1.0).abs() < 0.04, "{v}: {seen} {truth}");
    }
}

#[test]
fn settings_out_of_reach_are_refused() {
    let check = |change: fn(&mut RunInSettings)| {
        let mut settings = settings();
        change(&mut settings);
        RunIn::new(&settings, &receiver(), line(), Millimetres::ZERO).map(|_| ()).unwrap_err()
    };
    assert_eq!(check(|s| s.risk_ppm = 999), RunInFault::Risk);
    assert_eq!(check(|s| s.response = Span::from_secs(11)), RunInFault::Risk);
    assert_eq!(check(|s| s.boat.pulls.clear()), RunInFault::Boat(BoatFault::Speeds));
    assert_eq!(check(|s| s.lane.lane = 0), RunInFault::Lane(LaneFault::Lane));
}
