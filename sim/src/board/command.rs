//! What `gunline board` and `gunline pack` run: words in; what is asked for to standard output, the rest to
//! standard error.

use std::collections::BTreeMap;
use std::fs;
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::{Args, Subcommand, ValueEnum};
use firmware::gnss::calendar::{from_rfc3339, rfc3339};
use firmware::settings::{SETTINGS_VERSION, Settings};
use firmware::talk::{Answer, Request, Scheduled};
use firmware::units::{Span, Utc};

use super::conversation::{Patience, Reach, Unanswered};
use super::port::{self, Place};
use super::said::Said;
use super::{Trouble, asked, journal, words};
use crate::outlet::to_stdout;
use crate::pack;
use crate::report::settings::rows;
use crate::scenario::{heat_schema, settings_schema, settings_text};

/// The words after `gunline board`.
#[derive(Args, Debug)]
pub struct BoardWords {
    /// The board's serial port. Without it the board is looked for.
    #[arg(long)]
    port: Option<String>,
    /// How long to wait for an answer before asking again. More for an emulated board.
    #[arg(long, value_name = "MS", default_value_t = 500)]
    answer_ms: u64,
    /// How long to wait for a board whose cable was pulled while its journal was read.
    #[arg(long, value_name = "S", default_value_t = 60)]
    wait_s: u64,
    /// One JSON object instead of words.
    #[arg(long, global = true)]
    json: bool,
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Subcommand, Debug)]
enum Verb {
    /// Lists the ports at which a board is found.
    Find,
    /// Shows who the board is, what it found when it tested itself, and what it has recorded.
    Show,
    /// Sends settings. Refused while a start clock runs; the old ones stay until the new ones are safe.
    Settings {
        /// A settings file, or what `gunline pack` wrote.
        file: PathBuf,
    },
    /// Shows the settings in force on the board.
    SettingsRead {
        /// Writes them as `gunline pack` does, too.
        #[arg(long, value_name = "FILE")]
        out: Option<PathBuf>,
        /// Writes them as a settings file, too, with what each key is for. No file is overwritten.
        #[arg(long, value_name = "FILE")]
        toml: Option<PathBuf>,
    },
    /// Fetches what the board has recorded, for `gunline judge`.
    Journal {
        /// The file to write.
        out: PathBuf,
        /// Begins at this position, which an earlier fetching told, and goes on with what it left.
        #[arg(long, value_name = "POSITION")]
        from: Option<u64>,
    },
    /// Gives the start as the officials have announced it. It sets the start clock at once.
    Schedule {
        /// The moment of zero, such as 2031-05-17T19:05:00Z.
        #[arg(value_parser = utc)]
        zero: Utc,
    },
    /// Tells the board this machine's UTC, for a board whose receiver has not spoken yet.
    Utc {
        /// How well this machine's clock is known, one standard deviation. A machine that keeps its clock by the network
        /// is good to some 50 ms; one that was set by hand is not good to a second.
        #[arg(long, value_name = "MS", default_value_t = 500)]
        clock_sd_ms: u32,
    },
    /// Shows what hot laps have taught the board, to be accepted or refused in the driver's place. Never while a clock runs.
    Learned {
        /// Takes the boat over as measured.
        #[arg(long, conflicts_with = "refuse")]
        accept: bool,
        /// Puts the offer away.
        #[arg(long)]
        refuse: bool,
    },
    /// Shows what the engine has suffered since that was set to nothing.
    Engine,
    /// Sets what the engine has suffered to nothing, after the engine was changed or overhauled. It cannot be brought back.
    EngineReset {
        /// Does it. Without this it only says what would be lost.
        #[arg(long)]
        yes: bool,
    },
    /// Shows what the sensors say now, undecoded too.
    Readings,
    /// Shows the picture that stands on the board's screen.
    Picture,
}

/// The words after `gunline pack`.
#[derive(Args, Debug)]
pub struct PackWords {
    /// The settings file.
    #[arg(required_unless_present = "schema")]
    settings: Option<PathBuf>,
    /// Where to write it; without this, beside the settings file and named `.packed`.
    #[arg(short, long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Checks, and writes nothing.
    #[arg(long, conflicts_with = "out")]
    check: bool,
    /// What is wrong as JSON objects on standard output, one a line.
    #[arg(long)]
    json: bool,
    /// Prints the JSON Schema of settings files or of heat files, for editors, and does nothing else.
    #[arg(long, value_name = "KIND", conflicts_with_all = ["settings", "out", "check", "json"])]
    schema: Option<Kind>,
}

/// Files that have a schema.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum Kind {
    /// What the dash must be told.
    Settings,
    /// What truly happens, for the simulator.
    Heat,
}

fn utc(text: &str) -> Result<Utc, String> {
    from_rfc3339(text).ok_or_else(|| "write it in UTC, like 2031-05-17T19:05:00Z".to_owned())
}

/// Checks settings and writes what a board takes.
///
/// # Errors
/// [`Trouble`].
pub fn pack(words: &PackWords) -> Result<(), Trouble> {
    if let Some(kind) = words.schema {
        return print_schema(kind);
    }
    let Some(file) = &words.settings else { return Ok(()) };
    let settings = settings_of(file).inspect_err(|trouble| {
        if words.json {
            println!("{}", trouble.json_lines().join("\n"));
        }
    })?;
    if words.check {
        eprintln!("{}: nothing is wrong", file.display());
        return Ok(());
    }
    let out = words.out.clone().unwrap_or_else(|| file.with_extension("packed"));
    write_packed(&settings, &out)
}

fn print_schema(kind: Kind) -> Result<(), Trouble> {
    let schema = match kind {
        Kind::Settings => settings_schema(),
        Kind::Heat => heat_schema(),
    };
    to_stdout(|out| writeln!(out, "{schema:#}")).map_err(|(_, says)| Trouble::Broken(says))
}

/// Does what the words after `gunline board` say.
///
/// # Errors
/// [`Trouble`].
pub fn board(words: &BoardWords) -> Result<(), Trouble> {
    let place = words.port.clone().map_or(Place::Anywhere, Place::Named);
    let (answer, board) = (Duration::from_millis(words.answer_ms), Duration::from_secs(words.wait_s));
    let reach = Reach { place, patience: Patience { answer, board } };
    let said = match &words.verb {
        Verb::Find => find(),
        Verb::Show => show(&reach),
        Verb::Settings { file } => send_settings(&reach, file),
        Verb::SettingsRead { out, toml } => read_settings(&reach, out.as_deref(), toml.as_deref()),
        Verb::Journal { out, from } => fetch_journal(&reach, out, *from),
        Verb::Schedule { zero } => schedule(&reach, *zero),
        Verb::Utc { clock_sd_ms } => asked::utc(&reach, Span::from_millis((*clock_sd_ms).into())),
        Verb::Learned { accept, refuse } => asked::learned(&reach, asked::answer(*accept, *refuse)),
        Verb::Engine => asked::engine(&reach),
        Verb::EngineReset { yes } => asked::reset_engine(&reach, *yes),
        Verb::Readings => asked::readings(&reach),
        Verb::Picture => asked::picture(&reach),
    }?;
    said.tell(words.json)
}

/// What the `gunline bench` and other commands need to reach a board.
#[derive(Args, Clone, Debug)]
pub struct ReachWords {
    /// The board's serial port, or tcp:ADDRESS:PORT of an emulated board. Without it the board is looked for.
    #[arg(long)]
    port: Option<String>,
    /// How long to wait for an answer before asking again. More for an emulated board.
    #[arg(long, value_name = "MS", default_value_t = 500)]
    answer_ms: u64,
}

impl ReachWords {
    /// Where the board is.
    #[must_use]
    pub fn reach(&self) -> Reach {
        let place = self.port.clone().map_or(Place::Anywhere, Place::Named);
        let answer = Duration::from_millis(self.answer_ms);
        Reach { place, patience: Patience { answer, board: Duration::ZERO } }
    }
}

fn find() -> Result<Said, Trouble> {
    let found = port::find();
    if found.is_empty() {
        return Err(Trouble::Refused(Trouble::NoBoard.to_string()));
    }
    Ok(Said::new(found.iter().map(|name| format!("{name}\n")).collect(), &found))
}

fn show(reach: &Reach) -> Result<Said, Trouble> {
    let (_, standing) = reach.connect()?;
    Ok(Said::new(words::standing(&standing), &standing))
}

fn send_settings(reach: &Reach, file: &Path) -> Result<Said, Trouble> {
    let mut buffer = [0; Settings::ENCODED_MAX];
    let settings = settings_of(file)?;
    let request = Request::KeepSettings(settings.encode(&mut buffer));
    let (mut board, _) = reach.connect()?;
    board.ask(&request, |answer| match answer {
        Answer::SettingsKept => Ok(()),
        other => Err(words::unexpected(&other)),
    })?;
    eprintln!("the board keeps the settings of {}", file.display());
    Ok(Said::done())
}

fn read_settings(reach: &Reach, out: Option<&Path>, toml: Option<&Path>) -> Result<Said, Trouble> {
    let (mut board, _) = reach.connect()?;
    let (from, settings) = board.ask(&Request::ReadSettings, |answer| match answer {
        Answer::Settings { from, bytes } => {
            Settings::decode(bytes).map(|all| (from, all)).ok_or(match Settings::version_of(bytes) {
                Some(version) if version != SETTINGS_VERSION => Trouble::Version(version),
                _ => Trouble::Nonsense,
            })
        }
        other => Err(words::unexpected(&other)),
    })?;
    eprintln!("settings {}", words::from(from));
    if let Some(toml) = toml {
        write_toml(&settings, toml)?;
    }
    if let Some(out) = out {
        write_packed(&settings, out)?;
    }
    let rows = rows(&settings);
    let text = rows.iter().map(|(name, value)| format!("{name:<42}{value}\n")).collect();
    let values: BTreeMap<_, _> = rows.into_iter().collect();
    Ok(Said::new(text, &(BTreeMap::from([("from", from)]), values)))
}

/// An owner's file with his own comments is worth more than what the board holds: it is never overwritten.
fn write_toml(settings: &Settings, path: &Path) -> Result<(), Trouble> {
    let text = settings_text(settings).ok_or_else(|| {
        Trouble::Refused("no settings file can say these settings: they did not come from one".to_owned())
    })?;
    let file = fs::File::create_new(path).map_err(|why| match why.kind() {
        io::ErrorKind::AlreadyExists => Trouble::InTheWay(path.to_owned()),
        _ => Trouble::file(path)(why),
    });
    file?.write_all(text.as_bytes()).map_err(Trouble::file(path))?;
    eprintln!("settings file: {}", path.display());
    Ok(())
}

fn fetch_journal(reach: &Reach, out: &Path, from: Option<u64>) -> Result<Said, Trouble> {
    let fetched = journal::fetch(reach, out, from)?;
    let size = words::bytes(fetched.bytes);
    eprintln!("journal: {} ({size}, positions {} to {})", out.display(), fetched.from, fetched.next);
    if from.is_some_and(|from| from < fetched.from) || fetched.gaps > 0 {
        eprintln!("some of it could not be read: overwritten by newer records, or torn by a power cut");
    }
    eprintln!("what is recorded from now on: gunline board journal FILE --from {}", fetched.next);
    Ok(Said::new(String::new(), &fetched))
}

fn schedule(reach: &Reach, zero: Utc) -> Result<Said, Trouble> {
    let (mut board, _) = reach.connect()?;
    let fate = board.ask(&Request::Schedule { zero }, |answer| match answer {
        Answer::Scheduled(fate) => Ok(fate),
        other => Err(words::unexpected(&other)),
    });
    match fate {
        Ok(Scheduled::Past) => Err(Trouble::Refused(words::scheduled(Scheduled::Past).to_owned())),
        Ok(fate) => {
            eprintln!("zero at {}: {}", rfc3339(zero), words::scheduled(fate));
            Ok(Said::new(String::new(), &fate))
        }
        Err(Unanswered::For(trouble)) => Err(trouble),
        Err(_) => Err(Trouble::InDoubt),
    }
}

fn settings_of(file: &Path) -> Result<Settings, Trouble> {
    let (settings, notes) =
        pack::read(file).map_err(|why| Trouble::Settings { path: file.to_owned(), why })?;
    let in_colour = io::stderr().is_terminal();
    notes.iter().for_each(|note| eprintln!("{}", note.render_note(in_colour)));
    Ok(settings)
}

fn write_packed(settings: &Settings, out: &Path) -> Result<(), Trouble> {
    let packed = pack::pack(settings);
    fs::write(out, &packed).map_err(Trouble::file(out))?;
    eprintln!("packed: {} ({} bytes)", out.display(), packed.len());
    Ok(())
}
