//! Dated scripts: what a crew does, what the dash must say.
