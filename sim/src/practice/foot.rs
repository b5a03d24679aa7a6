//! What the driver's foot did: when he went for good, and where he eased on the way.
//!
//! Recorded hands in, moments out. Knows the truth's steps.

use firmware::units::Span;
use serde::{Deserialize, Serialize};

use crate::scenario::Heat;
use crate::world::craft::{Hands, Played};
use crate::world::truth::{STEP_S, TrueCrossing, Truth};

/// He eased.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Lift {
    /// From when on.
    pub at_us: i64,
    /// For how long.
    pub for_us: i64,
    /// To how much throttle.
    pub to_pct: f64,
}

/// Above this the throttle is open, below the second one he has eased.
const OPEN: u16 = 950;
const EASED: u16 = 900;

/// The hands at every step of the truth, with the step's moment.
#[must_use]
pub fn hands_by_step(heat: &Heat, truth: &Truth) -> Vec<(Span, Hands)> {
    let Some(drive) = &heat.world.drive else { return Vec::new() };
    let mut played = Played::new(drive);
    let (begins, ends) = truth.extent();
    let step = Span::from_micros((STEP_S * 1e6) as i64);
    std::iter::successors(Some(begins), |t| Some(*t + step))
        .take_while(|t| *t <= ends)
        .map(|t| (t, played.at(t)))
        .collect()
}

/// When he opened the throttle for the last time before he crossed.
#[must_use]
pub fn went(hands: &[(Span, Hands)], crossing: Option<&TrueCrossing>) -> Option<Span> {
    let crossed = crossing?.at;
    let before = hands.iter().filter(|(t, _)| *t < crossed);
    let mut went = None;
    let mut open = false;
    for (t, hands) in before {
        if hands.throttle >= OPEN && !open {
            (open, went) = (true, went.or(Some(*t)));
        } else if hands.throttle < EASED {
            // Closing it is milling again; easing on the way is told as a lift.
            if hands.throttle < OPEN / 2 {
                went = None;
            }
            open = false;
        }
    }
    went
}

/// Where he eased between going and the line.
#[must_use]
pub fn lifts(hands: &[(Span, Hands)], went: Span, crossing: Option<&TrueCrossing>) -> Vec<Lift> {
    let until = crossing.map_or(Span::ZERO, |it| it.at);
    let mut lifts: Vec<Lift> = Vec::new();
    let mut eased = false;
    let step_us = (STEP_S * 1e6) as i64;
    for (t, hands) in hands.iter().filter(|(t, _)| *t >= went && *t < until) {
        if hands.throttle >= EASED {
            eased = false;
            continue;
        }
        let to_pct = f64::from(hands.throttle) / 10.0;
        match lifts.last_mut().filter(|_| eased) {
            Some(lift) => {
                lift.for_us += step_us;
                lift.to_pct = lift.to_pct.min(to_pct);
            }
            None => lifts.push(Lift { at_us: t.as_micros(), for_us: step_us, to_pct }),
        }
        eased = true;
    }
    lifts
}
