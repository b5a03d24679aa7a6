//! Standard output, and what it means when it fails: one rule for every command.
//!
//! A reader that has heard enough and closed the pipe is no failure; anything else is the machine's.

use std::io::{self, BufWriter, StdoutLock, Write};

/// What went wrong in a command: its exit status, and words.
pub type Wrong = (u8, String);

/// Writes to standard output.
///
/// # Errors
/// 3, and words, when it cannot be written to.
pub fn to_stdout(write: impl FnOnce(&mut BufWriter<StdoutLock<'_>>) -> io::Result<()>) -> Result<(), Wrong> {
    let mut out = BufWriter::new(io::stdout().lock());
    match write(&mut out).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err((3, format!("error: cannot write to standard output: {error}")))
        }
        _ => Ok(()),
    }
}
