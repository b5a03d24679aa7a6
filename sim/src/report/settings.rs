//! The settings a heat was run on, as rows that a person reads.
//!
//! Knows the core's settings and the words. Settings in, rows out.

use firmware::engine::limits::{Limited, Limits};
use firmware::gnss::Position;
use firmware::output::Quantity;
use firmware::settings::Settings;
use firmware::units::{MmPerSecond, Span};

use crate::timeline;
use crate::words::{self, brief};

/// A name and what it is set to.
pub type Row = (&'static str, String);

/// Every setting that a decision hangs on.
#[must_use]
pub fn rows(settings: &Settings) -> Vec<Row> {
    let mut rows = start(settings);
    rows.extend(race(settings));
    rows.extend(boat(settings));
    rows.extend(engine(settings));
    rows
}

fn start(settings: &Settings) -> Vec<Row> {
    let gun = &settings.gun;
    let signals: Vec<_> = gun.signals_s.iter().map(|s| format!("{} ({s} s)", words::signal(*s))).collect();
    let gate = format!("{} sd, at least {}", gun.gate_sigmas, brief(gun.gate_least));
    vec![
        ("signals before zero", signals.join(", ")),
        ("thumb late by", with_sd(gun.reaction_mean, gun.reaction_sd)),
        ("that mean known within", brief(gun.reaction_mean_sd)),
        ("gun contact late by", with_sd(gun.contact_delay, gun.contact_sd)),
        ("a signal agrees within", gate),
        ("a signal replaces zero within", brief(gun.replace_within)),
        ("bounce shorter than", brief(gun.debounce)),
        ("held to clear for", brief(gun.hold_to_clear)),
        ("receiver late by", with_sd(settings.timebase.latency, settings.timebase.latency_sd)),
        ("crystal within", format!("{} ppm", settings.timebase.crystal_sd.as_ppb() as f64 / 1_000.0)),
    ]
}

fn race(settings: &Settings) -> Vec<Row> {
    let race = &settings.race;
    let mut rows = vec![
        ("early window before zero", brief(race.early_window)),
        ("an early start costs", timeline::early_cost(race.early_costs)),
        ("too close to call within", format!("{} sd", race.too_close_sigmas)),
        ("laps to run", race.laps.to_string()),
        ("no lap shorter than", brief(race.lap_shortest)),
        ("crossing missed beyond", format!("{} % of a lap", race.lap_missed_percent)),
        ("line told of ahead by", brief(race.approach)),
    ];
    let Some(course) = &settings.course else {
        rows.push(("course", "not set".into()));
        return rows;
    };
    rows.extend([
        ("lap length", words::length(course.lap_length)),
        ("line, left end", degrees(course.line_left)),
        ("line, right end", degrees(course.line_right)),
        ("line known within", words::length(course.line_sd)),
        ("counted beyond an end up to", words::length(course.end_tolerance)),
    ]);
    rows
}

fn boat(settings: &Settings) -> Vec<Row> {
    let boat = &settings.crossing;
    let (length, length_sd) = (words::length(boat.antenna_to_bow), words::length(boat.antenna_to_bow_sd));
    let mut rows = vec![
        ("antenna to bow", format!("{length} ± {length_sd}")),
        ("position error, where not told", words::length(boat.position_sd)),
        ("speed error, where not told", speed(settings, boat.speed_sd)),
        ("behind the line before it counts again", words::length(boat.hysteresis)),
        ("gap in fixes bridged up to", brief(boat.bridge_max)),
    ];
    match &settings.floor {
        Some(floor) => rows.extend([
            (
                "speed floor",
                format!("{} from {} before zero", speed(settings, floor.speed), brief(floor.from)),
            ),
            ("slower allowed for", brief(floor.grace)),
            ("then each time costs", format!("{}, at most {} times", brief(floor.penalty), floor.units_max)),
        ]),
        None => rows.push(("speed floor", "none".into())),
    }
    rows
}

fn engine(settings: &Settings) -> Vec<Row> {
    let engine = &settings.engine;
    let egt = |limits| table(limits, Quantity::Egt);
    vec![
        ("engine limits", timeline::engine(settings).into()),
        ("EGT probes", engine.probes.to_string()),
        ("EGT limits, starting", egt(&engine.egt_starting)),
        ("EGT limits, running", egt(&engine.egt_running)),
        ("N1 limits", table(&engine.n1, Quantity::N1)),
        ("N2 limits", table(&engine.n2, Quantity::N2)),
        ("N2 overspeed above", words::amount(Quantity::N2, engine.n2_overspeed.as_centi())),
        ("runs without its starter from N1", words::amount(Quantity::N1, engine.self_sustaining.as_centi())),
        ("EGT stale after", brief(engine.egt_stale_after)),
    ]
}

fn table<T: Limited>(limits: &Limits<T>, quantity: Quantity) -> String {
    let row = |threshold: T, allowed: Span| {
        let value = words::amount(quantity, threshold.raw());
        if allowed == Span::ZERO {
            format!("{value} never")
        } else {
            format!("{value} for {}", brief(allowed))
        }
    };
    let rows: Vec<_> = limits.rows.iter().map(|limit| row(limit.threshold, limit.allowed)).collect();
    rows.join("; ")
}

fn with_sd(mean: Span, sd: Span) -> String {
    format!("{} ± {}", brief(mean), brief(sd))
}

fn degrees(position: Position) -> String {
    let degrees = |nano: i64| nano as f64 / 1e9;
    format!("{:.7}, {:.7} degrees", degrees(position.lat.as_nano()), degrees(position.lon.as_nano()))
}

fn speed(settings: &Settings, speed: MmPerSecond) -> String {
    words::speed(speed, settings.screen.units)
}
