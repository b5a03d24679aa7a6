//! One page on its socket: what it says goes to its session, what the session shows goes to it, sixty times a second.
//!
//! Here the host's clock paces a session's virtual time, and nowhere else. A gap in it, as when a lid was closed or a
//! browser stopped reading, pauses the start instead of running on without its driver. What a page may send is bounded
//! in size by the server, and here in number.
//!
//! Knows session, wire, review and store.

use std::time::{Duration, SystemTime, UNIX_EPOCH};

use axum::body::Bytes;
use axum::extract::ws::{CloseFrame, Message, WebSocket, close_code};
use firmware::units::Span;
use tokio::sync::watch;
use tokio::time::{Instant, Interval, MissedTickBehavior, interval, timeout};

use super::plan::Plan;
use super::review::Start;
use super::server::Shared;
use super::session::Session;
use super::wire::{self, Said, Says, Scene, State, Told};

/// From one picture to the next.
const FRAME: Duration = Duration::from_micros(16_667);
/// A gap longer than this is no slow frame: nobody was driving.
const GAP: Duration = Duration::from_millis(400);
/// A page that takes nothing for so long is gone.
const SEND_MOST: Duration = Duration::from_secs(5);
/// So many messages a second may come for long, and so many at once.
const SAID_PER_S: f64 = 250.0;
const SAID_AT_ONCE: f64 = 250.0;
/// After so many messages that make no sense the page is not ours.
const NONSENSE_MOST: u32 = 20;

/// Why a socket is closed by us.
enum Ends {
    /// The page went, or reads no more.
    Gone,
    /// We say why.
    Because(u16, &'static str),
}

/// Drives one page until it goes.
pub async fn drive(mut socket: WebSocket, shared: Shared) {
    let room = shared.room.clone();
    let Ok(_place) = room.try_acquire() else {
        close(&mut socket, close_code::AGAIN, "too many pages are open; close one and reload this one").await;
        return;
    };
    let mut stops = shared.stops.clone();
    let mut page = Page::new(shared);
    let ends = loop {
        let turn = tokio::select! {
            said = socket.recv() => page.hear(said, &mut socket).await,
            _ = page.frames.tick() => page.frame(&mut socket).await,
            () = stopped(&mut stops) => Err(Ends::Because(close_code::AWAY, "the server was stopped")),
        };
        if let Err(ends) = turn {
            break ends;
        }
    };
    // A start that had its call is kept, whatever became of the page.
    let _ = page.keep().await;
    if let Ends::Because(code, why) = ends {
        close(&mut socket, code, why).await;
    }
}

/// Until the server is to stop.
async fn stopped(stops: &mut watch::Receiver<bool>) {
    let _ = stops.wait_for(|stops| *stops).await;
}

async fn close(socket: &mut WebSocket, code: u16, why: &'static str) {
    let frame = CloseFrame { code, reason: why.into() };
    let _ = timeout(SEND_MOST, socket.send(Message::Close(Some(frame)))).await;
}

/// A page and its start.
struct Page {
    shared: Shared,
    session: Option<Session>,
    told: Told,
    frames: Interval,
    /// The last look at the clock.
    before: Instant,
    paused: bool,
    pressed: u32,
    shown: Vec<u8>,
    allowance: f64,
    allowed_at: Instant,
    nonsense: u32,
}

impl Page {
    fn new(shared: Shared) -> Self {
        let mut frames = interval(FRAME);
        frames.set_missed_tick_behavior(MissedTickBehavior::Skip);
        let now = Instant::now();
        Self {
            shared,
            session: None,
            told: Told::default(),
            frames,
            before: now,
            paused: false,
            pressed: 0,
            shown: Vec::new(),
            allowance: SAID_AT_ONCE,
            allowed_at: now,
            nonsense: 0,
        }
    }

    /// One message of the page.
    async fn hear(
        &mut self,
        said: Option<Result<Message, axum::Error>>,
        socket: &mut WebSocket,
    ) -> Result<(), Ends> {
        let text = match said {
            Some(Ok(Message::Text(text))) => text,
            Some(Ok(Message::Ping(_) | Message::Pong(_))) => return self.allow(),
            Some(Ok(Message::Binary(_))) => {
                return Err(Ends::Because(close_code::UNSUPPORTED, "this server reads text"));
            }
            Some(Ok(Message::Close(_)) | Err(_)) | None => return Err(Ends::Gone),
        };
        self.allow()?;
        match wire::read(&text) {
            Ok(said) => self.act(said, socket).await,
            Err(error) => {
                self.nonsense += 1;
                if self.nonsense > NONSENSE_MOST {
                    return Err(Ends::Because(close_code::POLICY, "too many messages that make no sense"));
                }
                let notice = Says::Notice { about: "refused", text: format!("not understood: {error}") };
                self.send(socket, &notice).await
            }
        }
    }

    /// One message more: may it be?
    fn allow(&mut self) -> Result<(), Ends> {
        let now = Instant::now();
        let earned = now.duration_since(self.allowed_at).as_secs_f64() * SAID_PER_S;
        self.allowed_at = now;
        self.allowance = (self.allowance + earned).min(SAID_AT_ONCE) - 1.0;
        if self.allowance < 0.0 {
            return Err(Ends::Because(close_code::POLICY, "too many messages in a second"));
        }
        Ok(())
    }

    async fn act(&mut self, said: Said, socket: &mut WebSocket) -> Result<(), Ends> {
        match said {
            Said::Begin { length, mode, steered, seed } => {
                let seed = u64::from(seed.unwrap_or_else(drawn));
                self.begin(Plan { length, mode, steered, seed }, socket).await
            }
            Said::Hands { throttle, helm } => {
                self.pace();
                self.session.iter_mut().for_each(|session| session.hands(throttle, helm));
                Ok(())
            }
            Said::Lever { open, id } => {
                if self.paused {
                    return Ok(());
                }
                self.pace();
                self.session.iter_mut().for_each(|session| session.lever(open));
                self.pressed = id;
                self.show(socket).await
            }
            Said::Button { line, down, id } => {
                if self.paused {
                    return Ok(());
                }
                self.pace();
                self.session.iter_mut().for_each(|session| session.button(line.into(), down));
                self.pressed = id;
                self.show(socket).await
            }
            // A board's clock does not wait.
            Said::Pause { on } if on && self.shared.board.is_some() => {
                let text = "With a board as the dash there is no pause: its clock runs on.".to_owned();
                self.send(socket, &Says::Notice { about: "no-pause", text }).await
            }
            Said::Pause { on } => {
                self.pace();
                self.paused = on;
                self.before = Instant::now();
                self.show(socket).await
            }
            Said::End => self.over(socket).await,
        }
    }

    async fn begin(&mut self, plan: Plan, socket: &mut WebSocket) -> Result<(), Ends> {
        if let Some(says) = self.keep().await {
            self.send(socket, &says).await?;
        }
        let (settings, board) = (self.shared.settings.clone(), self.shared.board.clone());
        let made = tokio::task::spawn_blocking(move || Session::on(plan, &settings, board.as_ref())).await;
        let session = match made {
            Ok(Ok(session)) => session,
            Ok(Err(why)) => {
                return self.send(socket, &Says::Notice { about: "no-start", text: why.to_string() }).await;
            }
            Err(_) => return Err(Ends::Because(close_code::ERROR, "the start could not be made")),
        };
        let scene = Says::Scene(Scene::of(&session));
        self.session = Some(session);
        (self.told, self.paused, self.pressed) = (Told::default(), false, 0);
        self.shown.clear();
        self.send(socket, &scene).await?;
        self.before = Instant::now();
        self.show(socket).await
    }

    /// Lets the session's time follow the clock; true when there was a gap in it.
    fn pace(&mut self) -> bool {
        let now = Instant::now();
        let gone = now.duration_since(self.before);
        self.before = now;
        if self.paused || self.session.is_none() {
            return false;
        }
        if gone > GAP && self.shared.board.is_none() {
            self.paused = true;
            return true;
        }
        let gone = Span::from_micros(i64::try_from(gone.as_micros()).unwrap_or(0));
        self.session.iter_mut().for_each(|session| session.advance(session.now() + gone));
        false
    }

    /// A frame is due.
    async fn frame(&mut self, socket: &mut WebSocket) -> Result<(), Ends> {
        if self.pace() {
            let text = "Paused: for a moment nobody was driving. The computer slept, or was busy.".to_owned();
            self.send(socket, &Says::Notice { about: "gap", text }).await?;
        }
        self.show(socket).await?;
        if self.session.as_ref().is_some_and(Session::is_over) {
            return self.over(socket).await;
        }
        Ok(())
    }

    /// Tells the page how things are.
    async fn show(&mut self, socket: &mut WebSocket) -> Result<(), Ends> {
        let Some(session) = self.session.as_mut() else { return Ok(()) };
        let news = self.told.news(session);
        let seen = session.dash_is_seen();
        let (state, look) = State::of(session, self.paused, self.pressed);
        let board = session.board().and_then(|board| board.picture);
        for says in &news {
            self.send(socket, says).await?;
        }
        let own = look.frame.bytes();
        let picture = board.as_deref().unwrap_or(own);
        if seen && self.shown != picture {
            self.shown = picture.to_vec();
            self.transmit(socket, Message::Binary(Bytes::copy_from_slice(picture))).await?;
        }
        self.send(socket, &Says::State(state)).await
    }

    /// The start is over: it is kept, and the page is told under which number.
    async fn over(&mut self, socket: &mut WebSocket) -> Result<(), Ends> {
        match self.keep().await {
            Some(says) => self.send(socket, &says).await,
            None => Ok(()),
        }
    }

    /// Keeps the start that is under way, if its driver got as far as a call or has run out of time.
    async fn keep(&mut self) -> Option<Says> {
        let session = self.session.take()?;
        if !session.is_made() && !session.is_over() {
            return Some(Says::Notice {
                about: "dropped",
                text: "No start yet, so nothing was kept.".to_owned(),
            });
        }
        let finished = session.finish();
        let at_ms = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |it| it.as_millis());
        let at_ms = i64::try_from(at_ms).unwrap_or(i64::MAX);
        let reviewed = tokio::task::spawn_blocking(move || Start::of(finished)).await;
        let kept = match reviewed {
            Ok(Ok(start)) => {
                let kept = self.shared.ask(move |store| store.keep(&start, at_ms)).await;
                kept.map_err(|failed| format!("{failed:?}"))
            }
            Ok(Err(why)) => Err(why.to_string()),
            Err(_) => Err("the start could not be reviewed".to_owned()),
        };
        Some(match kept {
            Ok(id) => Says::Kept { id },
            Err(text) => Says::Notice { about: "not-kept", text },
        })
    }

    async fn send(&self, socket: &mut WebSocket, says: &Says) -> Result<(), Ends> {
        let text = serde_json::to_string(says).unwrap_or_default();
        self.transmit(socket, Message::Text(text.into())).await
    }

    async fn transmit(&self, socket: &mut WebSocket, message: Message) -> Result<(), Ends> {
        match timeout(SEND_MOST, socket.send(message)).await {
            Ok(Ok(())) => Ok(()),
            Ok(Err(_)) | Err(_) => Err(Ends::Gone),
        }
    }
}

/// A seed that was not asked for.
fn drawn() -> u32 {
    let mut bytes = [0_u8; 4];
    match getrandom::fill(&mut bytes) {
        Ok(()) => u32::from_le_bytes(bytes) >> 1,
        Err(_) => 1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::practice::guard::Guard;
    use crate::practice::plan::REACH;
    use crate::practice::store::Store;

    fn page() -> Page {
        let (_, stops) = watch::channel(false);
        let guard = Guard::new(([127, 0, 0, 1], 1).into(), None);
        let mut page =
            Page::new(Shared::new(guard, Store::in_memory().unwrap(), REACH, "taken".into(), stops));
        page.session = Some(Session::new(Plan { seed: 1, ..Plan::default() }, REACH).unwrap());
        page
    }

    #[tokio::test(start_paused = true)]
    async fn a_session_follows_the_clock_and_a_gap_in_it_pauses_instead_of_running_on() {
        let mut page = page();
        let begins = page.session.as_ref().unwrap().now();
        for _ in 0..10 {
            tokio::time::advance(FRAME).await;
            assert!(!page.pace());
        }
        let now = page.session.as_ref().unwrap().now();
        assert!((now - begins - Span::from_micros(166_670)).abs() < Span::from_millis(15), "{now:?}");
        // A lid was closed for a minute.
        tokio::time::advance(Duration::from_secs(60)).await;
        assert!(page.pace());
        assert!(page.paused);
        assert_eq!(page.session.as_ref().unwrap().now(), now, "nothing ran without its driver");
        tokio::time::advance(FRAME).await;
        assert!(!page.pace());
        assert_eq!(page.session.as_ref().unwrap().now(), now, "and it waits for him");
    }

    #[tokio::test(start_paused = true)]
    async fn a_hand_may_move_with_every_frame_but_a_flood_is_stopped() {
        let mut page = page();
        for _ in 0..1_000 {
            tokio::time::advance(Duration::from_millis(8)).await;
            assert!(page.allow().is_ok());
        }
        let flood = (0..1_000).take_while(|_| page.allow().is_ok()).count();
        assert!((200..300).contains(&flood), "{flood}");
    }

    #[tokio::test(start_paused = true)]
    async fn a_start_without_a_call_is_not_kept_and_one_with_a_call_is() {
        let mut page = page();
        assert!(matches!(page.keep().await, Some(Says::Notice { about: "dropped", .. })));
        assert!(page.keep().await.is_none(), "there is none any more");
        let mut session = Session::new(Plan { seed: 1, ..Plan::default() }, REACH).unwrap();
        session.advance(Span::from_secs(41));
        page.session = Some(session);
        assert!(matches!(page.keep().await, Some(Says::Kept { id: 1 })), "over is over, call or none");
        assert_eq!(page.shared.ask(Store::rows).await.unwrap().len(), 1);
    }
}
