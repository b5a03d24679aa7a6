//! What a developer sees through a debug probe: why the board started, and each decision of the dash.
//!
//! Only with the feature `log`, which the shipped program does without: a probe that has left with its buffer full
//! could hold the loop up. Nothing is ever logged in a handler, nor before lamp and beeper have been told.

use firmware::output::Output;
use firmware::talk::{Restart, SettingsFrom};
use firmware::units::Instant;

#[cfg(feature = "log")]
use defmt_rtt as _;

/// The board is up.
pub fn started(by: Restart, settings: SettingsFrom, resumes: bool) {
    #[cfg(feature = "log")]
    defmt::info!(
        "started by {}, settings from {}, resumes: {}",
        defmt::Debug2Format(&by),
        defmt::Debug2Format(&settings),
        resumes
    );
    let _ = (by, settings, resumes);
}

/// The dash decided something.
pub fn decided(at: Instant, decision: &Output) {
    #[cfg(feature = "log")]
    defmt::info!("{} {}", at, decision);
    let _ = (at, decision);
}
