//! The server: the page's own files, the history, and the door to the socket.
//!
//! Everything is answered from this program and from one file on this machine; nothing is fetched from anywhere. Every
//! answer forbids the page to load or to talk to anything else.
//!
//! Requests in, answers out. Knows guard, store and socket.

use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

use axum::body::Body;
use axum::extract::{DefaultBodyLimit, Path, Query, Request, State, WebSocketUpgrade};
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum::{Json, Router};
use serde::{Deserialize, Serialize};
use tokio::sync::{Semaphore, watch};

use super::board::BoardAt;
use super::figures::Figures;
use super::guard::Guard;
use super::plan::Plan;
use super::review::Review;
use super::session::Session;
use super::store::{self, Row, Store};
use super::{socket, wire};

/// So many pages may drive at once; more would only be slow.
const PAGES_MOST: usize = 8;

/// What all requests share.
#[derive(Clone)]
pub struct Shared {
    /// Who may talk.
    pub guard: Arc<Guard>,
    /// The history.
    pub store: Arc<Mutex<Store>>,
    /// The text of the settings that the dash is given.
    pub settings: Arc<str>,
    /// The real board that is the dash, where it can be reached.
    pub board: Option<BoardAt>,
    /// Where starts are taken away to.
    pub taken: Arc<PathBuf>,
    /// Room for pages.
    pub room: Arc<Semaphore>,
    /// True once the server is to stop.
    pub stops: watch::Receiver<bool>,
}

impl Shared {
    /// With room for as many pages as there may be.
    #[must_use]
    pub fn new(
        guard: Guard,
        store: Store,
        settings: &str,
        taken: PathBuf,
        stops: watch::Receiver<bool>,
    ) -> Self {
        Self {
            guard: Arc::new(guard),
            store: Arc::new(Mutex::new(store)),
            settings: settings.into(),
            board: None,
            taken: Arc::new(taken),
            room: Arc::new(Semaphore::new(PAGES_MOST)),
            stops,
        }
    }

    /// Does something with the history where it may take its time.
    ///
    /// # Errors
    /// The history's own.
    pub async fn ask<T: Send + 'static>(
        &self,
        ask: impl FnOnce(&Store) -> Result<T, store::Trouble> + Send + 'static,
    ) -> Result<T, Failed> {
        let store = Arc::clone(&self.store);
        let done =
            tokio::task::spawn_blocking(move || ask(&store.lock().unwrap_or_else(PoisonError::into_inner)));
        match done.await {
            Ok(result) => {
                result.map_err(|trouble| Failed(StatusCode::INTERNAL_SERVER_ERROR, trouble.to_string()))
            }
            Err(_) => {
                Err(Failed(StatusCode::INTERNAL_SERVER_ERROR, "the history could not be asked".to_owned()))
            }
        }
    }
}

/// An answer that is none, in words.
#[derive(Debug)]
pub struct Failed(StatusCode, String);

impl IntoResponse for Failed {
    fn into_response(self) -> Response {
        (self.0, self.1).into_response()
    }
}

impl Failed {
    fn none(id: i64) -> Self {
        Self(StatusCode::NOT_FOUND, format!("there is no start {id} in the history"))
    }
}

/// Everything that is answered.
pub fn router(shared: Shared) -> Router {
    let guarded = middleware::from_fn_with_state(shared.clone(), guarded);
    Router::new()
        .route("/", get(|| async { file("index.html") }))
        .route("/page/{name}", get(|Path(name): Path<String>| async move { file(&name) }))
        .route("/socket", get(open))
        .route("/scene", get(scene))
        .route("/history", get(history))
        .route("/history.csv", get(as_csv))
        .route("/history.json", get(as_json))
        .route("/start/{id}", get(review))
        .route("/start/{id}/{file}", get(start_file))
        .route("/start/{id}/take", post(take))
        .layer(DefaultBodyLimit::max(1_024))
        .layer(guarded)
        .with_state(shared)
}

#[derive(Deserialize)]
struct Token {
    token: Option<String>,
}

/// Asks the guard, lets the token of an address become a cookie, and puts what a browser must know on every answer.
async fn guarded(
    State(shared): State<Shared>,
    Query(given): Query<Token>,
    request: Request,
    next: Next,
) -> Response {
    if let Some(cookie) = given.token.and_then(|token| shared.guard.cookie_for(&token)) {
        return sealed(([(header::SET_COOKIE, cookie)], Redirect::to("/")).into_response());
    }
    let opens = request.uri().path() == "/socket";
    let answer = match shared.guard.check(request.method(), request.headers(), opens) {
        Ok(()) => next.run(request).await,
        Err(refusal) => (StatusCode::FORBIDDEN, refusal.to_string()).into_response(),
    };
    sealed(answer)
}

/// The page may load and talk to this server only, stand in no other page, and is never kept by the browser.
fn sealed(mut answer: Response) -> Response {
    const HEADERS: [(HeaderName, &str); 5] = [
        (
            header::CONTENT_SECURITY_POLICY,
            "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
        ),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::CACHE_CONTROL, "no-store"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    ];
    for (name, value) in HEADERS {
        answer.headers_mut().insert(name, HeaderValue::from_static(value));
    }
    answer
}

/// The page's files, in this program.
const FILES: [(&str, &str, &str); 14] = [
    ("index.html", "text/html; charset=utf-8", include_str!("page/index.html")),
    ("style.css", "text/css; charset=utf-8", include_str!("page/style.css")),
    ("coach.css", "text/css; charset=utf-8", include_str!("page/coach.css")),
    ("main.js", SCRIPT, include_str!("page/main.js")),
    ("link.js", SCRIPT, include_str!("page/link.js")),
    ("hands.js", SCRIPT, include_str!("page/hands.js")),
    ("motion.js", SCRIPT, include_str!("page/motion.js")),
    ("course.js", SCRIPT, include_str!("page/course.js")),
    ("cockpit.js", SCRIPT, include_str!("page/cockpit.js")),
    ("dash.js", SCRIPT, include_str!("page/dash.js")),
    ("sound.js", SCRIPT, include_str!("page/sound.js")),
    ("coach.js", SCRIPT, include_str!("page/coach.js")),
    ("history.js", SCRIPT, include_str!("page/history.js")),
    ("words.js", SCRIPT, include_str!("page/words.js")),
];

const SCRIPT: &str = "text/javascript; charset=utf-8";

fn file(name: &str) -> Response {
    match FILES.iter().find(|(file, ..)| *file == name) {
        Some((_, kind, text)) => ([(header::CONTENT_TYPE, *kind)], *text).into_response(),
        None => (StatusCode::NOT_FOUND, "there is no such file").into_response(),
    }
}

/// The door to the socket: messages are bounded before they are read.
async fn open(State(shared): State<Shared>, upgrade: WebSocketUpgrade) -> Response {
    upgrade
        .max_message_size(wire::SAID_MAX)
        .max_frame_size(wire::SAID_MAX)
        .on_upgrade(move |socket| socket::drive(socket, shared))
}

/// Where starts are run, for a coach that is opened before any start was driven.
async fn scene(State(shared): State<Shared>) -> Result<Json<wire::Scene>, Failed> {
    let made = tokio::task::spawn_blocking(move || Session::new(Plan::default(), &shared.settings));
    match made.await {
        Ok(Ok(session)) => Ok(Json(wire::Scene::of(&session))),
        _ => Err(Failed(StatusCode::INTERNAL_SERVER_ERROR, "the course could not be laid out".to_owned())),
    }
}

/// The history and its figures.
#[derive(Serialize)]
struct History {
    rows: Vec<Row>,
    figures: Figures,
}

async fn history(State(shared): State<Shared>) -> Result<Json<History>, Failed> {
    let rows = shared.ask(Store::rows).await?;
    Ok(Json(History { figures: Figures::of(&rows), rows }))
}

async fn as_csv(State(shared): State<Shared>) -> Result<Response, Failed> {
    let rows = shared.ask(Store::rows).await?;
    Ok(download("text/csv; charset=utf-8", "gunline-practice.csv", store::csv(&rows)))
}

async fn as_json(State(shared): State<Shared>) -> Result<Response, Failed> {
    let rows = shared.ask(Store::rows).await?;
    let text = serde_json::to_string_pretty(&rows).unwrap_or_default();
    Ok(download("application/json", "gunline-practice.json", text))
}

async fn review(State(shared): State<Shared>, Path(id): Path<i64>) -> Result<Json<Review>, Failed> {
    shared.ask(move |store| store.review(id)).await?.map(Json).ok_or(Failed::none(id))
}

/// One file of a start.
async fn start_file(
    State(shared): State<Shared>,
    Path((id, name)): Path<(i64, String)>,
) -> Result<Response, Failed> {
    if name == "start.journal" {
        let journal = shared.ask(move |store| store.journal(id)).await?.ok_or(Failed::none(id))?;
        return Ok(download("application/octet-stream", "start.journal", journal));
    }
    let files = shared.ask(move |store| store.files(id)).await?.ok_or(Failed::none(id))?;
    let found = files.each().into_iter().find(|(file, _)| *file == name);
    let none = || Failed(StatusCode::NOT_FOUND, format!("a start has no file {name}"));
    let (file, text) = found.ok_or_else(none)?;
    Ok(download("text/plain; charset=utf-8", file, text.to_owned()))
}

fn download(kind: &'static str, name: &str, body: impl Into<Body>) -> Response {
    let mut headers = HeaderMap::new();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    if let Ok(value) = HeaderValue::from_str(&format!("attachment; filename=\"{name}\"")) {
        headers.insert(header::CONTENT_DISPOSITION, value);
    }
    (headers, body.into()).into_response()
}

/// Where a start was put.
#[derive(Serialize)]
struct Taken {
    folder: String,
    command: String,
}

/// Puts a start into a folder of its own beside the history, for `gunline run`.
async fn take(State(shared): State<Shared>, Path(id): Path<i64>) -> Result<Json<Taken>, Failed> {
    let folder = shared.taken.join(format!("start-{id:04}"));
    let files = shared.ask(move |store| store.files(id)).await?.ok_or(Failed::none(id))?;
    let journal = shared.ask(move |store| store.journal(id)).await?.ok_or(Failed::none(id))?;
    let write = || {
        std::fs::create_dir_all(&folder)?;
        files.each().into_iter().try_for_each(|(name, text)| std::fs::write(folder.join(name), text))?;
        std::fs::write(folder.join("start.journal"), &journal)
    };
    write().map_err(|error| {
        Failed(StatusCode::INTERNAL_SERVER_ERROR, format!("cannot write to {}: {error}", folder.display()))
    })?;
    let command = format!("gunline run {}", folder.join("heat.toml").display());
    Ok(Json(Taken { folder: folder.display().to_string(), command }))
}
