//! The words of `gunline practice`: where to listen, what to keep where, which settings.
//!
//! Words in, a running server, and an exit status with what to say when it cannot run.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::time::Duration;

use axum::serve::ListenerExt;
use etcetera::{BaseStrategy, choose_base_strategy};
use firmware::units::Span;
use tokio::net::TcpListener;
use tokio::sync::watch;

use super::board::BoardAt;
use super::guard::{Guard, fresh_token};
use super::plan::{Plan, REACH};
use super::server::{Shared, router};
use super::session::Session;
use super::store::Store;
use crate::board::Trouble;
use crate::board::conversation::{Patience, Reach};
use crate::board::port::Place;

/// Words of `gunline practice`.
#[derive(clap::Args)]
pub struct PracticeWords {
    /// The port of the page; 0 takes any that is free.
    #[arg(long, default_value_t = 8_425)]
    port: u16,
    /// Listens on this address instead of this machine alone. Whoever opens the page then needs the token.
    #[arg(long, value_name = "ADDRESS")]
    listen: Option<IpAddr>,
    /// The token for that; one is drawn without it.
    #[arg(long, value_name = "TEXT", requires = "listen", value_parser = token)]
    token: Option<String>,
    /// Keeps the history in this folder.
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
    /// Practises with these settings of the dash instead of the invented course's.
    #[arg(long, value_name = "SETTINGS.toml")]
    settings: Option<PathBuf>,
    /// A real board is the dash: it stands on its bench (BENCH ONLY, boat out of gear, engine cold), at this serial port, or
    /// tcp:ADDRESS:PORT of an emulated one. Without a name it is looked for.
    #[arg(long, value_name = "PORT", num_args = 0..=1)]
    board: Option<Option<String>>,
    /// How long to wait for the board's answer before asking again. More for an emulated board.
    #[arg(long, value_name = "MS", default_value_t = 500, requires = "board")]
    answer_ms: u64,
    /// How far behind the page the board lives. More for an emulated board, or a machine with much else to do.
    #[arg(long, value_name = "MS", default_value_t = 80, requires = "board", value_parser = clap::value_parser!(u16).range(20..=2_000))]
    behind_ms: u16,
}

/// A token goes into an address and a cookie, and must not be guessed.
fn token(text: &str) -> Result<String, String> {
    let plain = text.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-');
    if plain && (16..=64).contains(&text.len()) {
        Ok(text.to_owned())
    } else {
        Err("16 to 64 letters, digits or hyphens".to_owned())
    }
}

/// Exit status and words.
type Failure = (u8, String);

/// Serves until it is told to stop.
///
/// # Errors
/// 2 for wrong words or settings, 3 when the machine refuses.
pub fn run(words: &PracticeWords) -> Result<(), Failure> {
    let settings = settings(words.settings.as_deref())?;
    let folder = folder(words.data.as_deref())?;
    let machine = |what: &str, error: &dyn std::fmt::Display| (3, format!("error: {what}: {error}"));
    std::fs::create_dir_all(&folder).map_err(|error| machine(&folder.display().to_string(), &error))?;
    let path = folder.join("practice.sqlite");
    let store = Store::open(&path).map_err(|error| machine(&path.display().to_string(), &error))?;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|error| machine("cannot begin", &error))?;
    runtime.block_on(serve(words, (settings, store), &folder))
}

async fn serve(
    words: &PracticeWords,
    (settings, store): (String, Store),
    folder: &Path,
) -> Result<(), Failure> {
    let address = SocketAddr::new(words.listen.unwrap_or(IpAddr::V4(Ipv4Addr::LOCALHOST)), words.port);
    let refused = |error: std::io::Error| {
        (3, format!("error: cannot listen on {address}: {error}. --port 0 takes any that is free"))
    };
    let listener = TcpListener::bind(address).await.map_err(refused)?;
    let at = listener.local_addr().map_err(refused)?;
    let token = match (&words.token, words.listen) {
        (Some(token), _) => Some(token.clone()),
        (None, Some(_)) => Some(fresh_token().map_err(|error| (3, format!("error: no token: {error}")))?),
        (None, None) => None,
    };
    let guard = Guard::new(at, token);
    let address = guard.address();
    let (stop, stops) = watch::channel(false);
    let shared = Shared::new(guard, store, &settings, folder.join("taken"), stops);
    let shared = Shared { board: reach(words)?, ..shared };
    println!("practice: {address}");
    eprintln!("history: {} (nothing leaves this machine)", folder.join("practice.sqlite").display());
    eprintln!("Practice only: the race officials decide, the engine maker's manual rules. Stop with Ctrl-C.");
    let told = async move {
        told_to_stop().await;
        let _ = stop.send(true);
    };
    // A state is small and must not wait for the one before it to be acknowledged.
    let at_once = listener.tap_io(|stream| {
        let _ = stream.set_nodelay(true);
    });
    axum::serve(at_once, router(shared))
        .with_graceful_shutdown(told)
        .await
        .map_err(|error| (3, format!("error: {error}")))
}

/// Where the board is that is to be the dash; asked who it is at once, so that a wrong name is told before the page is.
fn reach(words: &PracticeWords) -> Result<Option<BoardAt>, Failure> {
    let Some(port) = &words.board else { return Ok(None) };
    let place = port.clone().map_or(Place::Anywhere, Place::Named);
    let patience = Patience { answer: Duration::from_millis(words.answer_ms), board: Duration::ZERO };
    let reach = Reach { place, patience };
    let asked = reach.connect().map_err(Trouble::from);
    asked.map_err(|trouble| (trouble.exit_status(), trouble.told(false)))?;
    eprintln!("the board is the dash, on its bench: BENCH ONLY, boat out of gear, engine cold");
    Ok(Some(BoardAt { reach, lead: Span::from_millis(i64::from(words.behind_ms)) }))
}

/// Until Ctrl-C, or a polite kill.
async fn told_to_stop() {
    let interrupted = tokio::signal::ctrl_c();
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut asked) = signal(SignalKind::terminate()) {
            tokio::select! {
                _ = interrupted => {}
                _ = asked.recv() => {}
            }
            return;
        }
    }
    let _ = interrupted.await;
}

/// The settings' text, of which a start can be made.
fn settings(path: Option<&Path>) -> Result<String, Failure> {
    let Some(path) = path else { return Ok(REACH.to_owned()) };
    let wrong = |says: String| (2, format!("error: {says}"));
    let text =
        std::fs::read_to_string(path).map_err(|error| wrong(format!("{}: {error}", path.display())))?;
    crate::scenario::parse_settings(&path.display().to_string(), &text)
        .map_err(|report| (report.exit_status(), report.render(false)))?;
    Session::new(Plan::default(), &text).map_err(|why| wrong(format!("{}: {why}", path.display())))?;
    Ok(text)
}

/// Where the history is kept.
fn folder(given: Option<&Path>) -> Result<PathBuf, Failure> {
    let own = given
        .map(Path::to_path_buf)
        .or_else(|| Some(choose_base_strategy().ok()?.data_dir().join("gunline")));
    own.ok_or((2, "error: this machine names no folder for data; give one: --data DIR".to_owned()))
}
