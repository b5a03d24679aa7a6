//! The run-in of a program that has none: it can never be made, so all that would be done with it is left out.

use super::{Aim, Outcome, RunInFault, RunInSettings};
use crate::course::StartLine;
use crate::crossing::CrossingSettings;
use crate::gnss::Fix;
use crate::units::{Millimetres, Utc};
use crate::view::RunInView;

/// No run-in.
#[derive(Clone, Debug)]
pub enum RunIn {}

impl RunIn {
    /// Refuses, and leaves the room as it is.
    ///
    /// # Errors
    /// Always [`RunInFault::NotFitted`].
    pub const fn lay(
        _: &mut Option<Self>,
        _: &RunInSettings,
        _: &CrossingSettings,
        _: StartLine,
        _: Millimetres,
    ) -> Result<(), RunInFault> {
        Err(RunInFault::NotFitted)
    }

    /// Refuses.
    ///
    /// # Errors
    /// Always [`RunInFault::NotFitted`].
    pub const fn check(_: &RunInSettings, _: &StartLine) -> Result<(), RunInFault> {
        Err(RunInFault::NotFitted)
    }

    /// Never called.
    pub const fn fix(&mut self, _: Utc, _: &Fix, _: Option<&Aim>) {
        match *self {}
    }

    /// Never called.
    pub const fn lost(&mut self) {
        match *self {}
    }

    /// Never called.
    pub const fn crossed(&mut self, _: Utc) -> Option<Outcome> {
        match *self {}
    }

    /// Never called.
    #[must_use]
    pub const fn view(&self, _: Utc, _: Option<&Aim>) -> RunInView {
        match *self {}
    }

    /// Never called.
    #[must_use]
    pub const fn blind(&self) -> RunInView {
        match *self {}
    }
}
