//! A real board as the dash of a start: it stands on its bench, is fed what the start's own dash is fed, and its screen is
//! shown on the page.
//!
//! The start's own dash goes on beside it, for history and coach, and both are compared as they decide. A thread of its own
//! talks with the board, so that a page never waits for a cable. When the start is over the board is taken off the bench.
//!
//! Inputs in; the board's picture, and how both agree, out.

use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant as Here};

use firmware::bench::Told;
use firmware::input::Input;
use firmware::settings::Settings;
use firmware::units::{Instant, Span};

use crate::bench::compare::Beside;
use crate::bench::host::{AHEAD, Bench};
use crate::board::Trouble;
use crate::board::conversation::Reach;
use crate::board::port::Line;

/// So long the board is left alone between two questions.
const ASK_EVERY: Duration = Duration::from_millis(15);

/// So often its picture is fetched: as often as it draws one.
const PICTURE_EVERY: Duration = Duration::from_millis(100);

/// Where a board is, and how far behind the page it lives.
#[derive(Clone, Debug)]
pub struct BoardAt {
    /// Where, and how patiently to talk with it.
    pub reach: Reach,
    /// From an input's moment on the page to its moment on the board: what a cable and this machine may take. What comes a
    /// tenth of a second behind that is refused (rule T9).
    pub lead: Span,
}

/// What is known of the board.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Shown {
    /// Its screen, 1,024 bytes in page order; none before the first came.
    pub picture: Option<Vec<u8>>,
    /// Decisions that both made.
    pub alike: u32,
    /// Decisions that one made alone.
    pub different: u32,
    /// Why it is the dash no longer.
    pub trouble: Option<String>,
}

impl Shown {
    /// What the page says of it, loudly.
    #[must_use]
    pub fn says(&self) -> String {
        match (&self.trouble, &self.picture) {
            (Some(trouble), _) => format!("THE BOARD IS NOT THE DASH: {trouble}"),
            (None, None) => "THE BOARD IS THE DASH: waiting for it".to_owned(),
            (None, Some(_)) => {
                format!("THE BOARD IS THE DASH: {} decisions alike, {} different", self.alike, self.different)
            }
        }
    }
}

/// A board beside a start that is under way.
pub struct OnBoard {
    inputs: Sender<(Instant, Input)>,
    shown: Arc<Mutex<Shown>>,
}

impl OnBoard {
    /// Puts a board on the bench, with a fresh dash on these settings.
    ///
    /// # Errors
    /// It is not there, or refuses.
    pub fn begin(at: &BoardAt, settings: &Settings) -> Result<Self, Trouble> {
        let (board, _) = at.reach.connect()?;
        let bench = Bench::enter(board, settings)?;
        let (inputs, received) = channel();
        let shown = Arc::new(Mutex::new(Shown::default()));
        let (theirs, beside, lead) = (Arc::clone(&shown), Beside::new(settings), at.lead);
        thread::spawn(move || {
            if let Err(trouble) = play(bench, beside, (&received, lead), &theirs) {
                tell(&theirs, |shown| shown.trouble = Some(trouble.told(false)));
            }
        });
        Ok(Self { inputs, shown })
    }

    /// The start's dash was fed this.
    pub fn feed(&self, at: Instant, input: Input) {
        // A board that has gone hears nothing; the page says that it has.
        let _ = self.inputs.send((at, input));
    }

    /// How it stands.
    #[must_use]
    pub fn shown(&self) -> Shown {
        self.shown.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }
}

fn tell(shown: &Mutex<Shown>, change: impl FnOnce(&mut Shown)) {
    change(&mut shown.lock().unwrap_or_else(PoisonError::into_inner));
}

/// Feeds the board until the start is over, or it goes.
fn play(
    mut bench: Bench<Box<dyn Line>>,
    mut beside: Beside,
    (inputs, lead): (&Receiver<(Instant, Input)>, Span),
    shown: &Mutex<Shown>,
) -> Result<(), Trouble> {
    let mut now = bench.exchange(Instant::BOOT)?.now;
    let (mut later, mut picture_due) = (None, Here::now());
    loop {
        match inputs.try_recv() {
            Ok((at, input)) => {
                let later: Span = *later.get_or_insert(now.plus(lead).since(at));
                bench.put(at.plus(later), input);
                beside.feed(at.plus(later), input);
                continue;
            }
            Err(TryRecvError::Disconnected) => return bench.leave(),
            Err(TryRecvError::Empty) => {}
        }
        now = bench.exchange(now.plus(AHEAD))?.now;
        while let Some(told) = bench.told() {
            if let Told::Decided { at, output, .. } = told {
                beside.pass(at);
                let different = u32::try_from(beside.hear((at, output)).len()).unwrap_or(u32::MAX);
                tell(shown, |shown| shown.different = shown.different.saturating_add(different));
            }
        }
        tell(shown, |shown| shown.alike = u32::try_from(beside.agreed).unwrap_or(u32::MAX));
        if Here::now() >= picture_due {
            picture_due = Here::now() + PICTURE_EVERY;
            let picture = bench.picture()?;
            tell(shown, |shown| shown.picture = Some(picture));
        }
        thread::sleep(ASK_EVERY);
    }
}
