//! What the test programs share: where the published data lie.
#![forbid(unsafe_code)]
