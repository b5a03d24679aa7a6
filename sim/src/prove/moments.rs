//! When something may happen, and when two stages are the same.
//!
//! Time itself has no end, so the search goes from one moment that matters to the next: each side of every boundary
//! that a rule draws, measured from where zero is now. Two stages are the same when all that the rules look at is the
//! same measured from now and from zero, and nothing is left that a longer wait could change.

use std::hash::{DefaultHasher, Hash, Hasher};

use firmware::gun::Hand;
use firmware::output::Call;
use firmware::resume::CarriedCrossing;

use super::book::{Figures, Seen};
use super::stage::{CROSSING_TAKES, Event, Stage, instant, micros};

/// About the moment at which a press would put zero where it is: far outside, beyond the gate, exact, inside the gate
/// and after a press that was exact, far outside. Half a millisecond off the whole seconds, where counts sound.
/// Microseconds.
const PRESSES: [i64; 5] = [-6_000_000, -1_000_000, 500, 140_500, 6_000_000];

/// The same of a closure.
const CLOSURES: [i64; 4] = [-5_500_000, -1_200_000, 700, 5_500_000];

/// Crossings about zero: outside and inside the window, early, too close, legal. Microseconds.
const CROSSINGS: [i64; 6] = [-60_500_000, -59_500_000, -3_000_000, -20_000, 20_000, 3_000_000];

/// A button held, a pulse that goes or comes back: once in a while, as they matter at any time alike. Off the whole
/// seconds too.
const HOLDS: [i64; 4] = [-200_300_000, -40_300_000, 12_300_000, 25_300_000];
const PULSES: [i64; 2] = [-150_600_000, -32_600_000];
const RESTARTS: [i64; 2] = [-45_700_000, 8_700_000];

/// On either side of a boundary.
const BESIDE: i64 = 200_000;

/// While nothing is due: a second before the first signal, and longer than any lap's shortest time later.
const IDLE_WAITING: i64 = 1_000_000;
const IDLE: i64 = 25_000_000;

/// Longer than any rule looks back: 20 s for a lap, 30 s for the page button.
const LAP_FORGOTTEN: i64 = 21_000_000;
const ARMING_FORGOTTEN: i64 = 31_000_000;
const ZERO_FORGOTTEN: i64 = 40_000_000;

/// Times closer than this are one: the dash rounds to a microsecond, in an order that depends on the way.
const GRAIN: i64 = 100;

/// A moment at which something may happen, and what may.
pub type Moment = (i64, &'static [Event]);

/// What may happen at which boundary. Where nothing is due, everything may.
const AT_A_PRESS: &[Event] = &[Event::Quiet, Event::Press, Event::Bounce, Event::Page];
const AT_A_CLOSURE: &[Event] = &[Event::Quiet, Event::Contact];
const AT_A_CROSSING: &[Event] = &[Event::Quiet, Event::Forward, Event::Backward];
const AT_A_RENAMING: &[Event] = &[Event::Quiet, Event::Page];
const AT_A_HOLD: &[Event] = &[Event::Quiet, Event::Hold];
const AT_A_PULSE: &[Event] = &[Event::Quiet, Event::Pulses];
const AT_A_RESTART: &[Event] = &[Event::Quiet, Event::Restart];

/// Where nothing is due and no pulse comes.
const WITHOUT_PULSES: &[Event] = Event::ALL.split_at(Event::ALL.len() - 1).0;

/// The next moment at which something may happen.
#[must_use]
pub fn next(stage: &Stage, figures: &Figures) -> Moment {
    let mut due: Vec<Moment> = Vec::new();
    if let Some(armed) = &stage.book.clock {
        for signal in figures.signals_s.iter().map(|s| armed.zero - s * 1_000_000) {
            due.extend(PRESSES.map(|off| (signal + figures.thumb_us.0 + off, AT_A_PRESS)));
            due.extend(CLOSURES.map(|off| (signal + figures.contact_us.0 + off, AT_A_CLOSURE)));
        }
        due.extend(CROSSINGS.map(|at| (armed.zero + at - CROSSING_TAKES / 2, AT_A_CROSSING)));
        due.extend(HOLDS.map(|at| (armed.zero + at, AT_A_HOLD)));
        due.extend(PULSES.map(|at| (armed.zero + at, AT_A_PULSE)));
        // Without pulses the tie to UTC would be by arrivals: another error bar, which the book does not know.
        if stage.pulses {
            due.extend(RESTARTS.map(|at| (armed.zero + at, AT_A_RESTART)));
        }
        if let Some(armed_at) = armed.armed_at {
            due.extend([-BESIDE, BESIDE].map(|off| (armed_at + figures.rename_us + off, AT_A_RENAMING)));
        }
    }
    if let Some(heat) = stage.book.heat.filter(|heat| !heat.finished) {
        let end = heat.last + figures.lap_us - CROSSING_TAKES / 2;
        due.extend([-BESIDE, BESIDE].map(|off| (end + off, AT_A_CROSSING)));
    }
    let idle = if stage.book.clock.is_some() { IDLE } else { IDLE_WAITING };
    let first = due.into_iter().filter(|(moment, _)| *moment > stage.now).min_by_key(|(moment, _)| *moment);
    first.unwrap_or((stage.now + idle, if stage.pulses { &Event::ALL } else { WITHOUT_PULSES }))
}

/// What makes a stage the same as another, as one number.
#[must_use]
pub fn key(stage: &Stage, figures: &Figures) -> u128 {
    let mut facts = Vec::with_capacity(64);
    facts.push(i64::from(stage.pulses));
    of_the_dash(stage, figures, &mut facts);
    of_the_book(stage, figures, &mut facts);
    let half = |salt: u64| {
        let mut hasher = DefaultHasher::new();
        (salt, &facts).hash(&mut hasher);
        u128::from(hasher.finish())
    };
    half(1) << 64 | half(2)
}

fn of_the_dash(stage: &Stage, figures: &Figures, facts: &mut Vec<i64>) {
    let (now, clock) = (stage.now, stage.dash.clock());
    facts.push(i64::from(clock.expected_signal_s()));
    let zero = clock.zero().map(|zero| micros(zero.at));
    if let Some(at) = clock.zero() {
        facts.extend([
            grain((now - micros(at.at)).min(ZERO_FORGOTTEN)),
            at.sigma.as_micros() / 1_000,
            i64::from(at.scheduled.is_some()),
        ]);
    }
    facts.push(clock.armed_at().map_or(-1, |at| grain((now - micros(at)).min(ARMING_FORGOTTEN))));
    for (hand, signal, given) in clock.observed() {
        seen(&Seen { hand, signal, given: micros(given) }, zero, figures, facts);
    }
    if let Some(carried) = stage.dash.carried(instant(now)) {
        facts.push(i64::from(carried.taken));
        facts.push(carried.known_zero.map_or(-1, |zero| zero.rests_on as i64));
    }
    let race = stage.dash.race().carried(|utc| utc);
    let at = |crossing: Option<CarriedCrossing>| crossing.map(|crossing| micros(crossing.at));
    let from_zero = at(race.start).zip(zero).map_or(-1, |(start, zero)| grain(start - zero));
    let since = at(race.last_counted).map_or(-1, |last| grain((now - last).min(LAP_FORGOTTEN)));
    let called = race.call.map_or(-1, |view| call(view.call));
    facts.extend([from_zero, since, called, i64::from(race.laps_done), i64::from(race.finished)]);
}

fn of_the_book(stage: &Stage, figures: &Figures, facts: &mut Vec<i64>) {
    facts.push(i64::try_from(stage.book.expected).unwrap_or(-1));
    if let Some(armed) = &stage.book.clock {
        facts.push(i64::from(armed.scheduled));
        armed.seen.iter().for_each(|one| seen(one, Some(armed.zero), figures, facts));
        if let Some((hand, zero, sigma)) = armed.carried {
            facts.extend([i64::from(hand == Hand::Contact), grain(zero - armed.zero), (sigma / 1e3) as i64]);
        }
        // In any order: a set.
        facts.push(
            armed.taken.iter().fold(0, |set, (hand, signal)| {
                set | 1 << (signal + if *hand == Hand::Contact { 8 } else { 0 })
            }),
        );
    }
    if let Some(heat) = &stage.book.heat {
        facts.extend([call(heat.call), i64::from(heat.laps), i64::from(heat.finished)]);
    }
}

fn seen(seen: &Seen, zero: Option<i64>, figures: &Figures, facts: &mut Vec<i64>) {
    let off = zero.map_or(0, |zero| figures.zero_by(seen) - zero);
    facts.extend([
        i64::from(seen.hand == Hand::Contact),
        i64::try_from(seen.signal).unwrap_or(-1),
        grain(off),
    ]);
}

const fn call(call: Call) -> i64 {
    call as i64
}

const fn grain(us: i64) -> i64 {
    us.div_euclid(GRAIN)
}
