//! scratch
use firmware::course::CourseSettings;
use firmware::gnss::Position;
use firmware::output::Output;
use firmware::settings::Settings;
use firmware::units::*;
use gunline::rig::*;
use gunline::world::*;
fn main() {
    let n = |d: f64| NanoDegrees::from_nano((d * 1e9).round() as i64);
    let ws = WorldSettings::default();
    let mut s = Settings::bare();
    let [a, b] = ws.course.line_left;
    let [c, d] = ws.course.line_right;
    s.course = Some(CourseSettings {
        line_left: Position { lat: n(a), lon: n(b) },
        line_right: Position { lat: n(c), lon: n(d) },
        line_sd: Millimetres::ZERO,
        end_tolerance: Millimetres::from_mm(2000),
        lap_length: Millimetres::from_mm((ws.course.lap_length_m * 1e3) as i64),
    });
    s.crossing.antenna_to_bow = Millimetres::from_mm((ws.boat.antenna_to_bow_m * 1e3) as i64);
    s.engine.n2_tach.rpm_at_100 = 4200;
    for seed in 0..1 {
        let t0 = std::time::Instant::now();
        let world = World::new(&ws, seed);
        let t1 = t0.elapsed();
        let cr = *world.crystal();
        let truth = world.truth().clone();
        let mut rig = Rig::new(&s, None, cr);
        rig.play(world, &mut Nobody);
        let log = rig.into_log("x", seed, ws.zero_utc);
        println!(
            "world {:?} all {:?} journal {} decisions {} {:?} rep {:?}",
            t1,
            t0.elapsed(),
            log.journal.len(),
            log.decisions.len(),
            log.receiver,
            truth.extent()
        );
        println!("{:?}", truth.crossings().iter().map(|c| c.at.as_micros() as f64 / 1e6).collect::<Vec<_>>());
        for d in &log.decisions {
            if !matches!(d.output, Output::Cue(_)) && seed == 0 {
                println!("{:?} {:?}", d.race.map(|r| r.as_micros() as f64 / 1e6), d.output);
            }
        }
        let r = gunline::replay::replay(&log.journal).unwrap();
        println!("replay {:?} {:?}", r, r.digest == log.digest);
    }
}
