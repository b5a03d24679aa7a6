//! What can go wrong with a board, said so that it can be put right.

use std::io;
use std::path::{Path, PathBuf};

use firmware::settings::SETTINGS_VERSION;
use firmware::talk::PROTOCOL;

use crate::pack::NoSettings;

/// Why something was not done.
#[derive(Debug, thiserror::Error)]
pub enum Trouble {
    /// There is no board to be seen.
    #[error(
        "no board found. Is its cable plugged in, and a data cable? Name its port if you know it: \
gunline board --port PORT ..."
    )]
    NoBoard,
    /// More than one is to be seen.
    #[error("there are several boards: {}. Say which: gunline board --port PORT ...", .0.join(", "))]
    Several(Vec<String>),
    /// The port cannot be used.
    #[error("cannot open {port}: {why}{}", hint(.why))]
    Port {
        /// Its name.
        port: String,
        /// What the machine says.
        why: serialport::Error,
    },
    /// It does not answer.
    #[error(
        "the board does not answer. Is this its port? Unplug it and plug it in again; does its screen show anything?"
    )]
    Silent,
    /// The cable or the board went in the middle.
    #[error("the board went away before it was done. Plug it in again and repeat the command")]
    Gone,
    /// It went while something that changes it was on its way.
    #[error(
        "the board went silent before it answered: it may have done what was asked, or not. Look at its screen"
    )]
    InDoubt,
    /// It left the bench in the middle.
    #[error(
        "the board left the bench: its button was held for 2 s, its engine turned, or its cable was silent for 5 s"
    )]
    LeftBench,
    /// Standard output.
    #[error("{0}")]
    Outlet(String),
    /// It speaks another protocol.
    #[error("the board speaks protocol {0} and this program {PROTOCOL}: use programs of the same release")]
    Protocol(u8),
    /// It answers what was not asked.
    #[error("the board answered what was not asked: use programs of the same release")]
    Nonsense,
    /// Its settings are of another version.
    #[error(
        "the board's settings are of version {0}; this program reads version {SETTINGS_VERSION}: use programs of the \
same release"
    )]
    Version(u16),
    /// It said no.
    #[error("{0}")]
    Refused(String),
    /// It cannot do its work.
    #[error("{0}")]
    Broken(String),
    /// Its journal ends before the position that was asked for.
    #[error("the board's journal ends at position {0}: ask from there or before")]
    NoSuchPosition(u64),
    /// The settings given to it are wrong.
    #[error("{}: {why}", path.display())]
    Settings {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        why: NoSettings,
    },
    /// What it holds is not what was fetched so far.
    #[error(
        "this is another board, or its journal was erased: it does not go on where the last piece ended, at \
position {position}. What came before is in {}",
        part.display()
    )]
    OtherJournal {
        /// How far it had come.
        position: u64,
        /// Where that is.
        part: PathBuf,
    },
    /// It did not come back.
    #[error(
        "the board did not come back. What came before is in {}; go on with: gunline board journal {} --from {position}",
        part.display(),
        out.display()
    )]
    Unfinished {
        /// How far it had come.
        position: u64,
        /// Where that is.
        part: PathBuf,
        /// Where the whole would be.
        out: PathBuf,
    },
    /// There is a file that would be lost.
    #[error("{} is there already, and a record is not overwritten: name another file, or move that one away", .0.display())]
    InTheWay(PathBuf),
    /// A file cannot be written.
    #[error("cannot write {}: {why}", path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// What the machine says.
        why: io::Error,
    },
}

impl Trouble {
    /// The program's exit status: 1 the answer is no, 2 the words or the input are wrong, 3 the machine failed us.
    #[must_use]
    pub fn exit_status(&self) -> u8 {
        match self {
            Self::Refused(_) => 1,
            Self::Several(_) | Self::InTheWay(_) | Self::NoSuchPosition(_) => 2,
            Self::Settings { why: NoSettings::Wrong(report), .. } => report.exit_status(),
            Self::Settings { .. } => 2,
            _ => 3,
        }
    }

    /// In words; mistakes in a settings file with the lines in question, in colour for a terminal.
    #[must_use]
    pub fn told(&self, in_colour: bool) -> String {
        match self {
            Self::Settings { why: NoSettings::Wrong(report), .. } => report.render(in_colour),
            trouble => format!("error: {trouble}"),
        }
    }

    /// As JSON objects: what is wrong with a settings file one by one, other trouble as a whole.
    #[must_use]
    pub fn json_lines(&self) -> Vec<String> {
        match self {
            Self::Settings { why: NoSettings::Wrong(report), .. } => {
                report.mistakes().iter().map(|mistake| mistake.json().to_string()).collect()
            }
            trouble => vec![serde_json::json!({ "what": trouble.to_string() }).to_string()],
        }
    }

    /// A file cannot be written.
    pub(super) fn file(path: &Path) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_owned();
        move |why| Self::File { path, why }
    }
}

/// What may help against a port that does not open.
fn hint(why: &serialport::Error) -> &'static str {
    match why.kind() {
        serialport::ErrorKind::Io(io::ErrorKind::PermissionDenied) => {
            ". May you use serial ports? On many Linux machines you must be in the group dialout"
        }
        _ => {
            ". Is the name right (gunline board find lists what is there), and does no other program use it?"
        }
    }
}
