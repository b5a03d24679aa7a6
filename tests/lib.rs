//! Nothing: the checks are the test programs in `published/` and `properties/`; a package must have a target.
#![forbid(unsafe_code)]
