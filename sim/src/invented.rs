//! Invented heats for tests: a small one for golden texts, and an oval one for pictures and waves.
//!
//! Written by hand, without a dash or a world: what is made from a log is tested against what stands here.

use firmware::course::CourseSettings;
use firmware::gnss::Position;
use firmware::input::Line;
use firmware::output::{
    AlertId, AlertState, Call, Counted, Gauges, Level, Output, Quantity, Reading, Refused, Stray, Tie, Tone,
    ZeroSource,
};
use firmware::settings::Settings;
use firmware::units::{
    CentiPercent, Instant, MilliCelsius, Millimetres, MmPerSecond, NanoDegrees, PartsPerBillion, Span, Utc,
};
use firmware::view::{AlertView, CallView, Phase, View};

use crate::log::{BoatState, Decided, EdgeSeen, EngineState, Log, ReceiverCounts, Sample, TrueCrossing};

/// The dash's zero is 12 ms after the true one.
const ZERO_LATE: Span = Span::from_millis(12);

/// The board started 400 s before the true zero.
const BOOTED: Span = Span::from_secs(-400);

fn span(seconds: f64) -> Span {
    Span::from_micros((seconds * 1e6).round() as i64)
}

fn at(t: f64) -> Instant {
    Instant::BOOT.plus(span(t) - BOOTED)
}

/// A decision at a true race time, made by an armed dash.
pub fn decided(t: f64, output: Output) -> Decided {
    Decided { t: span(t), at: at(t), race: Some(span(t) - ZERO_LATE), output }
}

fn zero(before_s: u16, moved_ms: Option<i64>, sigma_ms: i64) -> Output {
    Output::Zero {
        source: ZeroSource::Press { before_s },
        at: at(0.012),
        moved: moved_ms.map(Span::from_millis),
        sigma: Span::from_millis(sigma_ms),
    }
}

fn crossing(crossed: f64, counted: Counted) -> Output {
    Output::Crossing {
        at: at(crossed),
        sigma: Span::from_millis(9),
        forward: true,
        place: Millimetres::from_mm(79_000),
        counted,
    }
}

fn alert(id: AlertId, level: Level, state: AlertState) -> Output {
    Output::Alert { id, level, state }
}

fn lap(lap: u16, time: f64) -> Output {
    let speed = MmPerSecond::from_mm_s((4_023_360.0 / time).round() as i32);
    Output::Lap { lap, time: span(time), speed, sigma: Span::from_millis(13) }
}

fn egt_exceedance(peak: i32, above: f64, over: bool) -> Output {
    Output::Exceedance { quantity: Quantity::Egt, threshold: 820_000, peak, above: span(above), over }
}

/// A heat of one lap with one of everything that is told.
pub fn small() -> Log {
    let mut settings = settings();
    settings.race.laps = 1;
    let clock =
        |tie| Output::Clock { tie, drift: PartsPerBillion::from_ppb(-4_200), sigma: Span::from_micros(40) };
    let call = Output::Call {
        call: Call::Legal,
        margin: Span::from_micros(213_400),
        sigma: Span::from_micros(20_600),
        revised: false,
    };
    let finish = Output::Finish { laps: 1, time: span(59.125), penalty: Span::ZERO };
    let decisions = vec![
        Decided { race: None, ..decided(-310.0, clock(Tie::Pps)) },
        decided(-299.730, zero(300, None, 43)),
        decided(-299.730, Output::Cue(Tone::Taken)),
        decided(-250.0, Output::Stray { contact: false, why: Stray::NoSignalDue }),
        decided(-200.2, crossing(-200.3, Counted::Milling)),
        decided(-120.0, Output::Refused(Refused::Repeated)),
        decided(-119.5, Output::Refused(Refused::Repeated)),
        decided(-119.0, Output::Refused(Refused::Repeated)),
        decided(-59.812, zero(60, Some(-30), 31)),
        decided(
            -40.0,
            Output::Zero {
                source: ZeroSource::Drift,
                at: at(0.012),
                moved: Some(Span::from_millis(2)),
                sigma: Span::from_millis(31),
            },
        ),
        decided(
            -35.0,
            Output::Zero {
                source: ZeroSource::Drift,
                at: at(0.012),
                moved: Some(Span::from_millis(-1)),
                sigma: Span::from_millis(31),
            },
        ),
        decided(0.35, crossing(0.2254, Counted::Start)),
        decided(0.35, call),
        decided(12.0, alert(AlertId::FixLost, Level::Caution, AlertState::Raised)),
        decided(14.5, alert(AlertId::FixLost, Level::Caution, AlertState::Cleared)),
        decided(30.0, egt_exceedance(843_200, 20.0, false)),
        decided(34.1, egt_exceedance(846_000, 24.1, true)),
        decided(59.3, crossing(59.1374, Counted::Lap)),
        decided(59.3, lap(1, 58.912)),
        decided(59.3, finish),
        decided(59.3, alert(AlertId::Finished, Level::Advisory, AlertState::Raised)),
    ];
    Log {
        decisions,
        samples: vec![Sample {
            t: Span::ZERO,
            boat: None,
            engine: None,
            view: view(0.0, Phase::Late, 0.0, None),
        }],
        true_crossings: vec![
            TrueCrossing { t: span(-200.31), forward: true },
            TrueCrossing { t: span(0.205), forward: true },
        ],
        ..empty("Invented heat", settings)
    }
}

/// A heat on an oval: milling, a run-in, a legal start, three laps, an EGT too high for too long.
pub fn oval() -> Log {
    let path = path();
    let start = moment(&path, 0.0);
    let lap_ends: Vec<f64> = (1..=3).map(|n| moment(&path, f64::from(n) * LAP_M)).collect();
    let mut decisions = vec![
        decided(-299.7, zero(300, None, 43)),
        decided(-180.0, crossing(-180.1, Counted::Milling)),
        decided(-59.8, zero(60, Some(-30), 31)),
        decided(start + 0.15, crossing(start + 0.02, Counted::Start)),
        decided(
            start + 0.15,
            Output::Call {
                call: Call::Legal,
                margin: span(start + 0.008),
                sigma: Span::from_millis(31),
                revised: false,
            },
        ),
        decided(100.0, egt_exceedance(843_200, 20.0, false)),
        decided(112.0, egt_exceedance(846_000, 32.0, true)),
    ];
    let mut last = start;
    for (number, end) in (1..).zip(&lap_ends) {
        decisions.push(decided(end + 0.1, crossing(*end, Counted::Lap)));
        decisions.push(decided(end + 0.1, lap(number, end - last)));
        last = *end;
    }
    decisions.push(decided(last + 0.1, Output::Finish { laps: 3, time: span(last), penalty: Span::ZERO }));
    decisions.sort_by_key(|decided| decided.t);
    let edge = |t: f64, active| EdgeSeen { t: span(t), line: Line::Button, active };
    Log {
        decisions,
        samples: path.iter().map(|p| sample(p, start, last)).collect(),
        edges: vec![edge(-299.75, true), edge(-299.6, false), edge(-59.85, true), edge(-59.7, false)],
        true_crossings: vec![TrueCrossing { t: span(start), forward: true }],
        drawn: vec![("thumb".into(), "0.213 s".into()), ("crystal".into(), "+12.3 ppm".into())],
        ..empty("Invented heat on an oval", settings())
    }
}

fn empty(title: &str, settings: Settings) -> Log {
    Log {
        title: title.into(),
        seed: 7,
        drawn: Vec::new(),
        settings,
        zero_utc: Utc::from_unix_micros(1_936_811_100_000_000),
        decisions: Vec::new(),
        samples: Vec::new(),
        edges: Vec::new(),
        true_crossings: Vec::new(),
        journal: Vec::new(),
        digest: [0xA5; 32],
        receiver: ReceiverCounts { fixes: 3_590, rejected: 2, ignored: 11 },
    }
}

fn settings() -> Settings {
    let degrees =
        |lat: i64, lon: i64| Position { lat: NanoDegrees::from_nano(lat), lon: NanoDegrees::from_nano(lon) };
    Settings {
        course: Some(CourseSettings {
            line_left: degrees(45_000_000_000, -30_000_000_000),
            line_right: degrees(45_000_000_000, -29_998_000_000),
            line_sd: Millimetres::from_mm(100),
            end_tolerance: Millimetres::from_mm(5_000),
            lap_length: Millimetres::from_mm(4_023_360),
        }),
        ..Settings::bare()
    }
}

const LAP_M: f64 = 4_023.36;
const STRAIGHT_M: f64 = 1_000.0;

struct Point {
    t: f64,
    s: f64,
    speed: f64,
}

/// Ten times a second along the path, zero at the line.
fn path() -> Vec<Point> {
    let (mut points, mut s, mut speed) = (Vec::new(), 0.0, 0.0);
    for k in -3_300..2_100 {
        let t = f64::from(k) / 10.0;
        points.push(Point { t, s, speed });
        let in_turn = !(0.0..0.5 * STRAIGHT_M).contains(&s.rem_euclid(0.5 * LAP_M))
            && s.rem_euclid(0.5 * LAP_M) < 1_511.0;
        let wanted = match t {
            ..-18.0 => 38.0,
            ..178.0 if in_turn => 62.0,
            ..176.0 => 78.0,
            _ => 20.0,
        };
        speed += (wanted - speed) * 0.02;
        s += 0.1 * speed;
    }
    let at_start = points.iter().find(|p| p.t >= 0.2).map_or(0.0, |p| p.s);
    points.into_iter().map(|p| Point { s: p.s - at_start, ..p }).collect()
}

/// When the bow, 5 m ahead of the antenna, was so far along the path.
fn moment(path: &[Point], bow: f64) -> f64 {
    path.iter().find(|p| p.s + 5.0 >= bow).map_or(0.0, |p| p.t - (p.s + 5.0 - bow) / p.speed)
}

/// East and north of the line's left end.
fn place(s: f64, out: f64) -> (f64, f64) {
    let bend = 0.5 * LAP_M - STRAIGHT_M;
    let radius = bend / std::f64::consts::PI;
    let (half, u) = (0.5 * STRAIGHT_M, (s + 0.5 * STRAIGHT_M).rem_euclid(LAP_M));
    let around = |turned: f64, north: f64| {
        let (sin, cos) = turned.sin_cos();
        (79.0 - radius + (radius + out) * cos, north + (radius + out) * sin)
    };
    match u {
        _ if u < STRAIGHT_M => (79.0 + out, u - half),
        _ if u < STRAIGHT_M + bend => around((u - STRAIGHT_M) / radius, half),
        _ if u < 2.0 * STRAIGHT_M + bend => (79.0 - 2.0 * radius - out, half - (u - STRAIGHT_M - bend)),
        _ => around((u - 2.0 * STRAIGHT_M - bend) / radius + std::f64::consts::PI, -half),
    }
}

fn sample(p: &Point, start: f64, finish: f64) -> Sample {
    let milling = p.t < -18.0;
    let (east, north) = place(p.s, if milling { 35.0 } else { 0.0 });
    let (_, bow_past_m) = place(p.s + 5.0, 0.0);
    // Metres per degree at 45 degrees north, good to a metre over the oval.
    let nano = |origin: f64, metres: f64, per_degree: f64| {
        NanoDegrees::from_nano(((origin + metres / per_degree) * 1e9) as i64)
    };
    let position = Position { lat: nano(45.0, north, 111_131.7), lon: nano(-30.0, east, 78_846.8) };
    let phase = match p.t {
        t if t < -299.7 => Phase::Waiting,
        t if t < -60.0 => Phase::Milling,
        t if t < start => Phase::Window,
        t if t < finish => Phase::Racing,
        _ => Phase::Finished,
    };
    let hot = if (80.0..112.0).contains(&p.t) { 60.0 } else { 0.0 };
    let engine = EngineState {
        egt_c: 480.0 + 3.9 * p.speed + hot,
        n1_pct: 60.0 + 0.5 * p.speed,
        n2_pct: 1.25 * p.speed,
    };
    let boat =
        BoatState { position, bow_past_m, bow_along_m: east, speed_m_s: p.speed, run_m: p.s + 12_000.0 };
    Sample {
        t: span(p.t),
        boat: Some(boat),
        engine: Some(engine),
        view: view(p.t, phase, p.speed, Some(engine)),
    }
}

fn view(t: f64, phase: Phase, speed: f64, engine: Option<EngineState>) -> View {
    let waiting = phase == Phase::Waiting;
    let started = matches!(phase, Phase::Racing | Phase::Finished);
    let call = CallView { call: Call::Legal, margin: span(0.208), sigma: Span::from_millis(31) };
    let alert = AlertView { id: AlertId::EgtLimit, level: Level::Warning, acknowledged: false };
    let percent = |value: f64| Reading::Good(CentiPercent::from_centi((value * 100.0) as i32));
    let gauges =
        engine.map_or(Gauges { egt: Reading::Absent, n1: Reading::Absent, n2: Reading::Absent }, |e| {
            Gauges {
                egt: if (20.0..24.0).contains(&t) {
                    Reading::Fault
                } else {
                    Reading::Good(MilliCelsius::from_milli((e.egt_c * 1e3) as i32))
                },
                n1: percent(e.n1_pct),
                n2: percent(e.n2_pct),
            }
        });
    View {
        phase,
        race: (!waiting).then_some(span(t) - ZERO_LATE),
        zero_sigma: (!waiting).then_some(Span::from_millis(31)),
        zero_moved: None,
        call: started.then_some(call),
        laps_done: 0,
        laps_owed: 3,
        last_lap: None,
        speed: Some(MmPerSecond::from_mm_s((speed * 1e3) as i32)),
        tie: Tie::Pps,
        gauges,
        alert: (100.0..112.0).contains(&t).then_some(alert),
        alerts_waiting: 0,
        demo_limits: true,
        run_in: None,
        resumed: false,
        finding_zero: false,
        no_course: false,
        offer: None,
        start: None,
        caution: None,
        ahead: None,
        trust: Default::default(),
        survey: None,
    }
}
