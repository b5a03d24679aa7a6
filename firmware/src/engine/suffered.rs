//! What the engine suffered: starts, hot starts, time running, time in bands of temperature, limits exceeded.
//!
//! Two accounts are kept: one for this heat, one since the owner set it to nothing. They are plain counters, so that
//! a fresh dash can be told them and goes on ([`crate::input::Input::Suffered`]); the journal holds them each time a
//! count changes and every ten seconds of running, so a cut of power loses no more than that, and of a limit that is
//! being exceeded just then the part after it was called.
//!
//! This file knows the units and the outputs. The engine's state in, counters out; decides nothing.

use serde::{Deserialize, Serialize};

use super::watch::{BANDS_MAX, WatchSettings};
use crate::output::{Output, Outputs, Quantity, Suffering};
use crate::units::{CentiPercent, Instant, MilliCelsius, Span};

/// The record holds an account anew after so much running.
const TOLD_EVERY_MS: u32 = 10_000;

/// One account.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Account {
    /// Time running by itself, milliseconds.
    pub run_ms: u32,
    /// Starts that ended in running by itself or were hot.
    pub starts: u16,
    /// Of these, hot ones: a limit of the starting table was exceeded.
    pub hot_starts: u16,
    /// Time in each band of temperature while it burned, milliseconds; the bands are a setting.
    pub bands_ms: [u32; BANDS_MAX],
    /// Limits exceeded, of EGT, N1 and N2.
    pub excess: [Excess; 3],
}

/// Limits of one quantity exceeded. Each row of a table counts by itself.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Excess {
    /// How often.
    pub count: u16,
    /// The highest value, in the quantity's own unit.
    pub peak: i32,
    /// The longest time above a limit, milliseconds.
    pub longest_ms: u32,
    /// N1 when the highest was called; none where it was not known.
    pub n1: Option<CentiPercent>,
    /// N2 then.
    pub n2: Option<CentiPercent>,
}

/// Both accounts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Accounts {
    /// Of this heat.
    pub heat: Account,
    /// Since the owner set it to nothing.
    pub total: Account,
}

impl Accounts {
    /// Grows with everything that the record must hold at once: a step of it is news.
    #[must_use]
    pub fn step(&self) -> u32 {
        [&self.heat, &self.total].into_iter().fold(0, |sum, account| {
            let counts = account
                .excess
                .iter()
                .fold(0_u32, |n, it| n.wrapping_add(u32::from(it.count)).wrapping_add(it.longest_ms));
            let starts = u32::from(account.starts).wrapping_add(u32::from(account.hot_starts));
            let burnt = account.bands_ms.iter().fold(account.run_ms, |n, ms| n.max(*ms)) / TOLD_EVERY_MS;
            sum.wrapping_mul(31)
                .wrapping_add(counts)
                .wrapping_mul(31)
                .wrapping_add(starts)
                .wrapping_add(burnt)
        })
    }
}

/// What is known of the engine at a moment.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct State {
    pub(super) egt: Option<MilliCelsius>,
    pub(super) n1: Option<CentiPercent>,
    pub(super) n2: Option<CentiPercent>,
    /// It runs by itself.
    pub(super) runs: bool,
    /// It burns.
    pub(super) is_lit: bool,
    /// A limit of the starting table is exceeded.
    pub(super) is_hot: bool,
}

/// Keeps the accounts.
#[derive(Clone, Debug, Default)]
pub(super) struct Keeper {
    accounts: Accounts,
    last: Instant,
    state: State,
    /// Time not yet counted: less than a millisecond.
    rest_us: i64,
    /// N1 was seen below self-sustaining, so that running by itself is a start and no restart of the dash.
    was_at_rest: bool,
    /// This start was hot.
    is_hot: bool,
}

impl Keeper {
    /// A fresh dash is told what the one before it knew, or the owner sets it to nothing.
    pub(super) const fn resume(&mut self, accounts: &Accounts) {
        self.accounts = *accounts;
    }

    /// A new heat.
    pub(super) fn begin_heat(&mut self) {
        self.accounts.heat = Account::default();
    }

    /// The engine is like this from `at` on; `said` is what was decided about its limits just now.
    pub(super) fn see(
        &mut self,
        at: Instant,
        state: State,
        settings: &WatchSettings,
        said: &[Output],
    ) -> Option<Suffering> {
        self.spend(at, settings);
        let mut news = None;
        for output in said {
            if let Output::Exceedance { quantity, peak, above, over, .. } = *output {
                self.each(|account| {
                    account.exceed(quantity, peak, above, (!over).then_some((state.n1, state.n2)))
                });
                news = Some(Suffering::Exceeded(quantity));
            }
        }
        self.is_hot |= state.is_hot && !state.runs;
        let begins = state.runs && !self.state.runs && self.was_at_rest;
        if begins || (self.is_hot && !state.is_lit && !state.runs) {
            let hot = core::mem::take(&mut self.is_hot);
            self.note_start(hot);
            news = Some(if hot { Suffering::HotStarts } else { Suffering::Starts });
        }
        if state.runs {
            (self.was_at_rest, self.is_hot) = (false, false);
        } else {
            self.was_at_rest |= state.n1.is_some() || state.egt.is_some();
        }
        self.state = state;
        news
    }

    /// A start is over: it runs, or was hot.
    pub(super) fn note_start(&mut self, hot: bool) {
        self.each(|account| {
            account.starts = account.starts.saturating_add(1);
            account.hot_starts = account.hot_starts.saturating_add(u16::from(hot));
        });
    }

    /// Both accounts up to what was seen last.
    pub(super) const fn accounts(&self) -> &Accounts {
        &self.accounts
    }

    fn each(&mut self, change: impl Fn(&mut Account)) {
        change(&mut self.accounts.heat);
        change(&mut self.accounts.total);
    }

    /// The time since the last look belongs to what was seen then.
    fn spend(&mut self, at: Instant, settings: &WatchSettings) {
        let us = at.since(self.last).as_micros().max(0).saturating_add(self.rest_us);
        self.last = at;
        self.rest_us = us % 1_000;
        let ms = u32::try_from(us / 1_000).unwrap_or(u32::MAX);
        let State { egt, runs, is_lit, .. } = self.state;
        let band = egt
            .filter(|_| runs || is_lit)
            .map(|egt| settings.bands.iter().filter(|edge| egt >= **edge).count());
        self.each(|account| {
            if runs {
                account.run_ms = account.run_ms.saturating_add(ms);
            }
            if let Some(time) = band.and_then(|band| account.bands_ms.get_mut(band)) {
                *time = time.saturating_add(ms);
            }
        });
    }
}

impl Account {
    /// A limit was exceeded, with both shafts then; or that is over.
    fn exceed(
        &mut self,
        quantity: Quantity,
        peak: i32,
        above: Span,
        began: Option<(Option<CentiPercent>, Option<CentiPercent>)>,
    ) {
        let Some(excess) = self.excess.get_mut(quantity as usize) else { return };
        let ms = u32::try_from(above.as_micros() / 1_000).unwrap_or(u32::MAX);
        excess.longest_ms = excess.longest_ms.max(ms);
        if let Some(shafts) = began {
            if excess.count == 0 || peak > excess.peak {
                (excess.n1, excess.n2) = shafts;
            }
            excess.count = excess.count.saturating_add(1);
        }
        excess.peak = if excess.count <= 1 && excess.peak == 0 { peak } else { excess.peak.max(peak) };
    }

    /// The number that is told of one thing: a count, or whole seconds.
    #[must_use]
    pub fn figure(&self, what: Suffering) -> u32 {
        let seconds = |ms: u32| ms / 1_000;
        match what {
            Suffering::RunSeconds => seconds(self.run_ms),
            Suffering::Starts => u32::from(self.starts),
            Suffering::HotStarts => u32::from(self.hot_starts),
            Suffering::BandSeconds(band) => self.bands_ms.get(usize::from(band)).copied().map_or(0, seconds),
            Suffering::Exceeded(quantity) => {
                self.excess.get(quantity as usize).map_or(0, |excess| u32::from(excess.count))
            }
        }
    }
}

/// Tells one thing of both accounts.
pub(super) fn tell(accounts: &Accounts, what: Suffering, out: &mut Outputs) {
    let (heat, total) = (accounts.heat.figure(what), accounts.total.figure(what));
    out.push(Output::Suffered { what, heat, total });
}
