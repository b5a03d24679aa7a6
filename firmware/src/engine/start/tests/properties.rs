//! Rules that hold for any signal.
