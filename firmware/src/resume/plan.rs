//! At boot: where the board's clock goes on, and what the fresh dash is told.
//!
//! Two witnesses, neither of them sure to be there: the scratch words, which know the time of the last kick and
//! zero, and the journal's newest record of what was carried, which knows the race as well but may be older. A pure
//! function weighs them.

use super::{Carried, CarriedZero, ClockCarried, RESUME_WITHIN, Resume, Scratch};
use crate::units::{Instant, Span};

/// How the program came to start.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Boot {
    /// The power came, or had been so low that nothing in the chip can be believed.
    Cold,
    /// With the power on: the watchdog bit, or the program asked for it.
    Soft {
        /// From the last kick to the beginning of the board's counter.
        gap: Span,
        /// One standard deviation of that.
        sd: Span,
    },
}

/// Where to go on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Plan {
    /// The board's time when its counter begins: what must be added to the counter.
    pub base: Instant,
    /// The first input of the fresh dash, if there is anything to tell.
    pub resume: Option<Resume>,
}

/// Two zeros further apart than this are of two starts: one signal moves zero by at most 5 s (rule C5).
const ONE_START: Span = Span::from_secs(5);

/// Weighs what survived (rules P1 to P3).
#[must_use]
pub fn plan(boot: Boot, scratch: Option<Scratch>, journal: Option<Carried>) -> Plan {
    match (boot, scratch) {
        (Boot::Soft { gap, sd }, Some(scratch)) => {
            Plan { base: scratch.kicked.plus(gap), resume: soft(&scratch, journal, sd) }
        }
        _ => cold(journal),
    }
}

/// The clock begins so late that a zero of half an hour ago still has a place on it.
fn cold(journal: Option<Carried>) -> Plan {
    Plan {
        base: journal.map_or(Instant::BOOT, |carried| carried.at.plus(RESUME_WITHIN)),
        resume: journal.map(|carried| Resume { carried, clock: ClockCarried::Unknown }),
    }
}

fn soft(scratch: &Scratch, journal: Option<Carried>, sd: Span) -> Option<Resume> {
    let carried_on = |carried| Some(Resume { carried, clock: ClockCarried::CarriedOn { sd } });
    let by_utc = |carried| Some(Resume { carried, clock: ClockCarried::Unknown });
    let Some(zero) = scratch.zero else {
        // The old dash was still looking for its zero when it was restarted, or has just given it up.
        return journal.and_then(by_utc);
    };
    let Some((carried, written)) = journal.and_then(|carried| Some((carried, carried.known_zero?))) else {
        return carried_on(alone(scratch.kicked, zero));
    };
    if !carried.is_adrift && is_near(zero.at.since(written.at)) {
        let is_later = carried.at >= scratch.kicked || is_same(&zero, &written);
        let known_zero = Some(if is_later { written } else { zero });
        carried_on(Carried { known_zero, ..carried })
    } else if is_one_label(&zero, &written) {
        by_utc(carried)
    } else {
        carried_on(alone(scratch.kicked, zero))
    }
}

/// Zero without a race.
fn alone(at: Instant, zero: CarriedZero) -> Carried {
    Carried { at, known_zero: Some(zero), ..Carried::default() }
}

/// The same zero, of which the journal may say more.
fn is_same(zero: &CarriedZero, written: &CarriedZero) -> bool {
    zero.at == written.at && zero.sigma == written.sigma
}

/// The same start, written down on another clock than the one that carried on.
fn is_one_label(zero: &CarriedZero, written: &CarriedZero) -> bool {
    zero.utc.zip(written.utc).is_some_and(|(one, other)| is_near(one.utc.since(other.utc)))
}

fn is_near(apart: Span) -> bool {
    apart.abs() <= ONE_START
}
