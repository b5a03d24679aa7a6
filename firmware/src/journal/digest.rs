//! One number for all decisions of a heat.

use sha2::{Digest as _, Sha256};

use crate::output::Output;
use crate::units::Instant;

/// A running SHA-256 over every decision and its moment, as postcard writes them.
///
/// Two dashes that took the same decisions at the same board times have the same digest, on every machine.
#[derive(Clone, Debug, Default)]
pub struct Digest(Sha256);

impl Digest {
    /// Adds a decision.
    pub fn add(&mut self, at: Instant, output: &Output) {
        let mut buffer = [0_u8; super::RECORD_MAX];
        if let Ok(bytes) = postcard::to_slice(&(at, output), &mut buffer) {
            self.0.update(bytes);
        }
    }

    /// The digest of all decisions so far.
    #[must_use]
    pub fn value(&self) -> [u8; 32] {
        self.0.clone().finalize().into()
    }
}
