//! Files as the scenario reads them: from the disk, or from wherever a caller keeps them.
//!
//! Paths in, sources out, or why there are none.

use std::io::{Error, ErrorKind};
use std::path::Path;
use std::sync::Arc;

use super::report::{Mistake, Source};

/// Gives the bytes of a file: the disk does, and so does a test's table.
pub type Files<'a> = &'a dyn Fn(&Path) -> Result<Vec<u8>, Error>;

/// The disk.
///
/// # Errors
/// The machine's own.
pub fn disk(path: &Path) -> Result<Vec<u8>, Error> {
    if path.is_dir() { Err(ErrorKind::IsADirectory.into()) } else { std::fs::read(path) }
}

/// Why a file cannot be used: what is wrong, what would be right, and whether it is the machine's doing.
#[derive(Debug)]
pub struct Unusable {
    what: String,
    right: &'static str,
    machine: bool,
}

impl Unusable {
    /// As a mistake of the file itself.
    #[must_use]
    pub fn file(&self, path: &Path) -> Mistake {
        let source = Source { name: path.display().to_string(), text: String::new() };
        self.marked(Mistake::of(&Arc::new(source), self.what.as_str(), self.right))
    }

    /// As a mistake at the place that named the file.
    #[must_use]
    pub fn named_at(&self, place: impl FnOnce(String, &'static str) -> Mistake, path: &Path) -> Mistake {
        self.marked(place(format!("{}: {}", path.display(), self.what), self.right))
    }

    fn marked(&self, mistake: Mistake) -> Mistake {
        if self.machine { mistake.by_the_machine() } else { mistake }
    }
}

/// The bytes of a file.
///
/// # Errors
/// Why there are none.
pub fn bytes(path: &Path, files: Files<'_>) -> Result<Vec<u8>, Unusable> {
    files(path).map_err(|error| {
        let (what, right, machine) = match error.kind() {
            ErrorKind::NotFound => {
                ("there is no such file".to_owned(), "is the name right, and the folder?", false)
            }
            ErrorKind::IsADirectory => ("this is a folder".to_owned(), "name a file in it", false),
            _ => (format!("cannot be read: {error}"), "the machine refused; may you read it?", true),
        };
        Unusable { what, right, machine }
    })
}

/// The text of a file.
///
/// # Errors
/// Why there is none.
pub fn text(path: &Path, files: Files<'_>) -> Result<Arc<Source>, Unusable> {
    let text = String::from_utf8(bytes(path, files)?).map_err(|error| {
        let good = error.utf8_error().valid_up_to();
        let line = error.as_bytes().iter().take(good).filter(|byte| **byte == b'\n').count() + 1;
        let what = format!("this is not text in UTF-8: line {line} has a byte that no such text has");
        Unusable { what, right: "save it as UTF-8", machine: false }
    })?;
    Ok(Arc::new(Source { name: path.display().to_string(), text }))
}
