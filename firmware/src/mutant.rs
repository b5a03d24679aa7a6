//! Faults planted on purpose, to show that the proof of the timing logic finds them.
//!
//! Only a build with the feature `mutants` can plant one; everywhere else [`planted`] is a constant `false` and the
//! compiler takes the whole matter out. Each mutant is one slip that a person could make in one rule.
//!
//! Knows nobody.

/// A slip in one rule of the law book.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Mutant {
    /// C1: every edge of a bouncing contact is a press.
    BounceCounts = 1,
    /// C2: the thumb's mean lateness stays in.
    LatenessKept,
    /// C3: the last observation counts alone.
    LastAlone,
    /// C4: nothing is beyond the gate.
    GateOpen,
    /// C5: a thumb overrules a contact and a schedule.
    ThumbOverrules,
    /// C6: the same line may take the same signal again.
    SignalTwice,
    /// C7: holding the button clears the clock and leaves the heat.
    HeatKept,
    /// C8: a press agrees with a schedule and is averaged with it.
    ScheduleAveraged,
    /// C9: the page button may rename a signal at any time.
    PageAlways,
    /// C11: zero moves and nobody is told.
    SilentZero,
    /// C12: a count sounds again after zero moved.
    CountAgain,
    /// S2: any crossing before zero is an early start.
    WindowOpen,
    /// S5: a margin's sign is lost.
    SignLost,
    /// S6: the error bar is not looked at.
    BarIgnored,
    /// S7: a call once made stands, whatever zero does.
    CallStands,
    /// L1: the start counts as a lap.
    StartIsLap,
    /// L2: a crossing right after another ends a lap.
    SoonCounts,
    /// L3: a crossing against the racing direction counts.
    WrongWayCounts,
    /// L4: an early start owes nothing.
    NothingOwed,
    /// S1: a crossing while the clock waits is taken for one the wrong way.
    MillingMisread,
    /// S3: a crossing a second after zero starts nothing any more.
    LateStartsNothing,
    /// S4: a margin of less than five seconds is not legal yet.
    LegalFromFive,
    /// L8: a heat without a penalty ends a lap late.
    FinishLate,
    /// P2: zero comes back from a restart a second late.
    ZeroSlips,
    /// P5: the heat does not come back from a restart.
    HeatForgotten,
}

impl Mutant {
    /// Every one of them.
    pub const ALL: [Self; 25] = [
        Self::BounceCounts,
        Self::LatenessKept,
        Self::LastAlone,
        Self::GateOpen,
        Self::ThumbOverrules,
        Self::SignalTwice,
        Self::HeatKept,
        Self::ScheduleAveraged,
        Self::PageAlways,
        Self::SilentZero,
        Self::CountAgain,
        Self::WindowOpen,
        Self::SignLost,
        Self::BarIgnored,
        Self::CallStands,
        Self::StartIsLap,
        Self::SoonCounts,
        Self::WrongWayCounts,
        Self::NothingOwed,
        Self::MillingMisread,
        Self::LateStartsNothing,
        Self::LegalFromFive,
        Self::FinishLate,
        Self::ZeroSlips,
        Self::HeatForgotten,
    ];

    /// The rule that it breaks.
    #[must_use]
    pub const fn rule(self) -> &'static str {
        match self {
            Self::BounceCounts => "C1",
            Self::LatenessKept => "C2",
            Self::LastAlone => "C3",
            Self::GateOpen => "C4",
            Self::ThumbOverrules => "C5",
            Self::SignalTwice => "C6",
            Self::HeatKept => "C7",
            Self::ScheduleAveraged => "C8",
            Self::PageAlways => "C9",
            Self::SilentZero => "C11",
            Self::CountAgain => "C12",
            Self::WindowOpen => "S2",
            Self::SignLost => "S5",
            Self::BarIgnored => "S6",
            Self::CallStands => "S7",
            Self::StartIsLap => "L1",
            Self::SoonCounts => "L2",
            Self::WrongWayCounts => "L3",
            Self::NothingOwed => "L4",
            Self::MillingMisread => "S1",
            Self::LateStartsNothing => "S3",
            Self::LegalFromFive => "S4",
            Self::FinishLate => "L8",
            Self::ZeroSlips => "P2",
            Self::HeatForgotten => "P5",
        }
    }
}

/// No mutant can be planted in this build.
#[cfg(not(feature = "mutants"))]
#[inline]
#[must_use]
pub const fn planted(_: Mutant) -> bool {
    false
}

#[cfg(feature = "mutants")]
mod bed {
    use super::Mutant;
    use core::sync::atomic::{AtomicU8, Ordering};

    static PLANTED: AtomicU8 = AtomicU8::new(0);

    /// Plants a mutant for the whole program, or takes out the one that stands.
    pub fn plant(mutant: Option<Mutant>) {
        PLANTED.store(mutant.map_or(0, |mutant| mutant as u8), Ordering::SeqCst);
    }

    /// True while this mutant is planted.
    #[must_use]
    pub fn planted(mutant: Mutant) -> bool {
        PLANTED.load(Ordering::SeqCst) == mutant as u8
    }
}

#[cfg(feature = "mutants")]
pub use bed::{plant, planted};
