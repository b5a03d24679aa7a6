//! The board's clock: 64 bits of microseconds, and the two alarms that end a sleep.
//!
//! The RP2040's timer counts from reset. A base is added to it, so that after a soft reset the dash's time goes on
//! where it was. Handlers stamp with the bare timer, [`raw`]; the loop adds the base when it takes the stamp.
//!
//! Knows the timer's registers. Readings out, alarms in.

use firmware::units::{Instant, Span};
use rp2040_hal::pac;

/// The timer, and what its zero means.
#[derive(Clone, Copy)]
pub struct Clock {
    base: Instant,
}

impl Clock {
    /// A clock that stood at `base` when the timer stood at zero.
    pub const fn new(base: Instant) -> Self {
        Self { base }
    }

    /// Now.
    pub fn now(self) -> Instant {
        self.at(raw())
    }

    /// The moment at which the timer stood so.
    pub fn at(self, raw: u64) -> Instant {
        self.base.plus(Span::from_micros(i64::try_from(raw).unwrap_or(i64::MAX)))
    }

    /// Sets the alarm that ends a sleep. False when that moment has come already: then there is no alarm, which
    /// fires on equality and would be 71 minutes late.
    pub fn wake_at(self, when: Instant) -> bool {
        // Half the range of the 32 bits that an alarm compares: to wake too early is no harm.
        const FURTHEST: u64 = 1 << 31;
        let wanted = u64::try_from(when.since(self.base).as_micros()).unwrap_or(0);
        let at = wanted.min(raw().saturating_add(FURTHEST));
        // SAFETY: any 32 bits are a moment.
        timer().alarm0().write(|w| unsafe { w.bits(at as u32) });
        raw() < at
    }
}

/// Lets the alarms through to their interrupts.
pub fn enable_alarms() {
    timer().inte().write(|w| w.alarm_0().set_bit().alarm_1().set_bit());
}

/// Ends the alarm that [`Clock::wake_at`] set.
#[inline(always)]
pub fn silence() {
    timer().intr().write(|w| w.alarm_0().clear_bit_by_one());
}

/// Sets the second alarm: so many microseconds after `raw`, a reading just made.
#[inline(always)]
pub fn quiet_after(raw: u64, micros: u32) {
    // SAFETY: any 32 bits are a moment.
    timer().alarm1().write(|w| unsafe { w.bits((raw as u32).wrapping_add(micros)) });
}

/// Ends the second alarm.
#[inline(always)]
pub fn silence_quiet() {
    timer().intr().write(|w| w.alarm_1().clear_bit_by_one());
}

/// The timer itself. Read high, low, high, so that no carry is missed whatever interrupts.
#[inline(always)]
pub fn raw() -> u64 {
    let timer = timer();
    let mut high = timer.timerawh().read().bits();
    loop {
        let low = timer.timerawl().read().bits();
        let again = timer.timerawh().read().bits();
        if again == high {
            return u64::from(high) << 32 | u64::from(low);
        }
        high = again;
    }
}

#[inline(always)]
fn timer() -> &'static pac::timer::RegisterBlock {
    // SAFETY: after bring-up only this file writes the timer's registers, each whole and from one side: ALARM0 and
    // INTE from the loop, ALARM1 from a handler, and of INTR each bit is cleared by one handler. Reading the raw
    // counter has no side effects.
    unsafe { &*pac::TIMER::ptr() }
}
