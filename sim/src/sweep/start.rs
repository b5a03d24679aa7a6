//! One start: a boat, a driver and his number, from the milling to the line.
//!
//! He mills at the speed he likes until his number says that going now brings him over the line with the margin he
//! wants, less the time his own reflexes take; then he gives all. If the number says that he will be too early after
//! all, he eases until it does not. Whoever drives, these are the same reflexes.

use super::drill::Drill;
use super::mind::{Belief, Mind};
use super::sensors::{DENSE_FROM_S, Sensors};
use super::{ASKED_AT_S, Foretold, Outcome, Plan, Who};
use crate::world::boat::{Boat, BoatSettings};
use crate::world::draw::{Draw, Purpose};
use crate::world::helm::{Helm, LOOK_S, Spool};
use crate::world::truth::STEP_S;

/// How long after seeing a reason a foot moves, and its spread: simple reaction (reference as for the thumb) and the
/// pedal's way; common practice, no source.
pub const REFLEX_S: f64 = 0.25;
const REFLEX_SD_S: f64 = 0.05;
/// Having gone, he lets the engine spool up for so long before he believes that he has to ease.
const SPOOLS_S: f64 = 2.5;
/// So long after he has gone no fix can show it yet: see rule G6.
const UNSEEN_S: f64 = 1.0;
/// How much slower he holds her then.
const EASING_M_S: f64 = 3.0;
/// How thrust, speed in turns and spool lag differ from day to day: standard deviations, as shares. They are what
/// the demonstration boat's own error bars allow for. Common practice, no source.
const THRUST_SD: f64 = 0.01;
const CORNER_SD: f64 = 0.013;
const LAG_SD: f64 = 0.12;
/// Where he is when the last minute and a half begins, against where he would like to be: one standard deviation.
const PLACE_SD_M: f64 = 60.0;
/// He is given up so long after zero.
const GIVEN_UP_S: f64 = 20.0;

/// What the foot does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Foot {
    Milling,
    FlatOut,
    Easing,
}

/// The boat at a moment.
#[derive(Clone, Copy)]
struct Now {
    t: f64,
    s: f64,
    speed: f64,
    power: f64,
}

/// Drives start `number` of a sweep.
#[must_use]
pub fn run(drill: &Drill<'_>, number: u64, who: Who, plan: &Plan) -> Outcome {
    let seed = mixed(drill.seed, number);
    let helm = of_the_day(drill, seed);
    let begins = begin(drill, seed);
    let mut sensors = (who == Who::Dash).then(|| Sensors::warmed_up(drill, seed, begins.s));
    let mut driver = Driver {
        mind: match who {
            Who::Dash => Mind::of_the_dash(),
            Who::Stopwatch => Mind::of_the_stopwatch(drill, seed, plan.stopwatch_aim_s),
        },
        reflex: Draw::new(seed, Purpose::Reflex),
        foot: Foot::Milling,
        wants: None,
        trusts_at: f64::NEG_INFINITY,
        lifted: false,
        looks_at: f64::NEG_INFINITY,
        throttle: 0.0,
        milling_m_s: milling_speed(drill),
    };
    let mut outcome = Outcome {
        start: number,
        who,
        margin_s: None,
        speed_m_s: 0.0,
        behind_m: 0.0,
        foretold: [None; ASKED_AT_S.len()],
    };
    let mut now = begins;
    while now.t < GIVEN_UP_S {
        for (before, foretold) in ASKED_AT_S.iter().zip(&mut outcome.foretold) {
            if (now.t + before).abs() < 0.5 * STEP_S {
                *foretold = sensors.as_ref().and_then(|it| ask(drill, &helm, it, now, &driver));
            }
        }
        let throttle = driver.throttle(drill, &helm, sensors.as_ref(), now);
        let before = now;
        now = step(&helm, now, throttle);
        if let Some(sensors) = sensors.as_mut() {
            sensors.advance(before.t, STEP_S, (before.s, before.speed), (now.s, now.speed));
        }
        if bow(&helm, now) >= 0.0 {
            crossed(drill, &helm, before, now, &mut outcome);
            break;
        }
    }
    outcome
}

/// A seed for each start: the finishing steps of the SplitMix64 generator (public domain), whose every output differs.
pub(crate) fn mixed(seed: u64, number: u64) -> u64 {
    let mut z = seed.wrapping_add(number.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15));
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// The boat as it is today, and how its driver takes turns today. What he knows by heart is of the usual one.
fn of_the_day(drill: &Drill<'_>, seed: u64) -> Helm {
    let mut day = Draw::new(seed, Purpose::Boat);
    let mut share = |sd: f64| 1.0 + day.normal(0.0, sd);
    let usual = &drill.world.boat;
    let boat = Boat::new(&BoatSettings { thrust_n: usual.thrust_n * share(THRUST_SD), ..usual.clone() });
    let corner_m_s = drill.helm.corner_m_s * share(CORNER_SD);
    let spool = Spool { lag_s: drill.helm.spool.lag_s * share(LAG_SD), ..drill.helm.spool };
    drill.helm.today(boat, spool, corner_m_s)
}

/// Where he mills when it begins: so that he leaves the last turn about when he has to go.
fn begin(drill: &Drill<'_>, seed: u64) -> Now {
    let speed = milling_speed(drill);
    let exit = drill.course.turn_to_line_m();
    let goes_at = -drill.by_heart.seconds(exit, speed);
    let off = Draw::new(seed, Purpose::Milling).normal(0.0, PLACE_SD_M);
    let s = -exit - (goes_at - DENSE_FROM_S) * speed + off;
    Now { t: DENSE_FROM_S, s, speed, power: drill.helm.boat.power_to_hold(speed) }
}

fn milling_speed(drill: &Drill<'_>) -> f64 {
    drill.world.driver.milling_speed_m_s.min(0.97 * drill.helm.corner_m_s)
}

/// Metres that the bow is past the line; the start is at path length zero.
fn bow(helm: &Helm, now: Now) -> f64 {
    now.s + helm.boat.antenna_to_bow_m
}

fn step(helm: &Helm, now: Now, throttle: f64) -> Now {
    let power = now.power + helm.spool.share(STEP_S) * (throttle - now.power);
    let (run, speed) = helm.boat.step(now.speed, power, STEP_S);
    Now { t: now.t + STEP_S, s: now.s + run, speed, power }
}

/// What the dash foretells at the set moments, and what the true boat makes of it: he holds his speed for the response
/// that the dash reckons with, unless he has gone already, and then gives all.
fn ask(drill: &Drill<'_>, helm: &Helm, sensors: &Sensors<'_>, now: Now, driver: &Driver) -> Option<Foretold> {
    let seconds = |span: firmware::units::Span| span.as_micros() as f64 * 1e-6;
    let run_in = sensors.view(now.t).run_in?;
    let (margin_s, sigma_s) = (seconds(run_in.margin?), seconds(run_in.sigma?));
    let response = if driver.foot == Foot::FlatOut { 0.0 } else { drill.response_s };
    let mut then = now;
    while then.t < now.t + response - 0.5 * STEP_S {
        then = step(helm, then, helm.hold(now.speed, then.speed));
    }
    let (left, _) = Drill::flat_out(helm, &drill.course, (-bow(helm, then), then.speed, then.power), STEP_S);
    let opening = now.t < driver.trusts_at - SPOOLS_S + UNSEEN_S;
    Some(Foretold { margin_s, sigma_s, true_s: then.t + left, opening })
}

/// The bow is over the line: when, how fast, and what the start has cost.
fn crossed(drill: &Drill<'_>, helm: &Helm, before: Now, now: Now, outcome: &mut Outcome) {
    let past = bow(helm, now);
    let share = past / (past - bow(helm, before)).max(1e-9);
    let margin = now.t - share * STEP_S;
    let (ideal_speed, ideal_s) = drill.ideal;
    let late = margin + Drill::past_the_line(helm, now.speed, now.power) - ideal_s;
    outcome.margin_s = Some(margin);
    outcome.speed_m_s = now.speed;
    outcome.behind_m = late * ideal_speed;
}

/// The driver at the wheel.
struct Driver {
    mind: Mind,
    reflex: Draw,
    foot: Foot,
    /// What he has made up his mind to do, and when his foot will have done it.
    wants: Option<(Foot, f64)>,
    /// Before this he does not ease: the engine is spooling up.
    trusts_at: f64,
    lifted: bool,
    looks_at: f64,
    throttle: f64,
    milling_m_s: f64,
}

impl Driver {
    fn throttle(&mut self, drill: &Drill<'_>, helm: &Helm, sensors: Option<&Sensors<'_>>, now: Now) -> f64 {
        if let Some((foot, _)) = self.wants.filter(|(_, at)| now.t >= *at) {
            if self.foot == Foot::Milling {
                self.trusts_at = now.t + SPOOLS_S;
            }
            (self.foot, self.wants) = (foot, None);
            self.throttle = self.press(drill, helm, now);
        }
        if now.t >= self.looks_at {
            self.looks_at = now.t + LOOK_S - 0.5 * STEP_S;
            let left = -bow(helm, now);
            let belief = self.mind.belief(drill, sensors, (now.t, left, now.speed));
            self.decide(belief, now);
            self.throttle = self.press(drill, helm, now);
        }
        self.throttle
    }

    /// Makes up his mind. Without a number he goes on with what he does.
    fn decide(&mut self, belief: Option<Belief>, now: Now) {
        let Some(Belief { margin_s, hold_s, noise_s }) = belief else { return };
        if self.wants.is_some() {
            return;
        }
        let goes = margin_s >= hold_s;
        let wants = match self.foot {
            Foot::Milling | Foot::Easing if goes => Foot::FlatOut,
            Foot::FlatOut if now.t >= self.trusts_at && margin_s < hold_s - noise_s => Foot::Easing,
            foot => foot,
        };
        if wants != self.foot {
            let after = self.reflex.normal(REFLEX_S, REFLEX_SD_S).max(0.1);
            self.wants = Some((wants, now.t + after));
        }
    }

    /// Where the foot is.
    fn press(&mut self, drill: &Drill<'_>, helm: &Helm, now: Now) -> f64 {
        match self.foot {
            Foot::Milling => helm.hold(self.milling_m_s, now.speed),
            Foot::Easing => helm.hold(now.speed - EASING_M_S, now.speed),
            Foot::FlatOut => helm.flat_out(&drill.course, now.s, now.speed, &mut self.lifted),
        }
    }
}
