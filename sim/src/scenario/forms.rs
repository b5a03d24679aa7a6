//! Forms of settings files: which this program reads, and what keys were called in older ones.
//!
//! A file may say which form it is written in (`form = 1`); without that it is the newest. A newer form is refused
//! whole, for it may mean something else by the same words. An older one is read: each key that has been renamed
//! is taken under its new name, and that is told.
//!
//! To rename a key: raise [`FORM`], and write down here what it was called.

/// The form that this program writes, and the newest that it reads.
pub const FORM: i64 = 1;

/// A key that had another name, or another unit, in older forms.
#[derive(Clone, Copy, Debug)]
pub struct Renamed {
    /// The last form in which it had.
    pub until: i64,
    /// What it was called: tables and name.
    pub was: &'static str,
    /// What it is called now.
    pub is: &'static str,
    /// The unit in which its number stood; empty when that is still the key's own.
    pub unit: &'static str,
}

/// All of them, the newest last. There is only one form yet.
pub const RENAMED: &[Renamed] = &[];
