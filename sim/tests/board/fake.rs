//! A board of memory: the board's own talk, and what a chip would hold.

use std::time::Instant as Here;

use firmware::bench::{Bench, TELL_MAX};
use firmware::dash::Dash;
use firmware::engine::suffered::{Account, Accounts};
use firmware::input::{Input, ProbeReading, Pulses};
use firmware::output::{Output, Refused};
use firmware::run_in::learn::Offer;
use firmware::settings::Settings;
use firmware::talk::{
    Answer, Check, Cued, Extent, Fed, PROTOCOL, Readings, Refusal, Request, Restart, Scheduled, SeenEdge,
    SelfTest, SettingsFrom, Standing, Talk, Turning,
};
use firmware::units::{Instant, MmPerSecond, PartsPerBillion, Span, Utc};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// The first position of the journal.
pub const OLDEST: u64 = 700;

/// What the fake's clock says: nothing before it can be scheduled. 2030-01-01T00:00:00Z.
const NOW: Utc = Utc::from_unix_micros(1_893_456_000_000_000);

/// The board.
pub struct Fake {
    talk: Talk,
    pub standing: Standing,
    /// What is on the chip.
    pub settings: Option<Vec<u8>>,
    pub times_kept: u32,
    /// Pages of the journal, the first at [`OLDEST`].
    pub pages: Vec<Vec<u8>>,
    pub schedules: Vec<Utc>,
    /// What was told of UTC: the board's moment, UTC, deviation.
    pub told: Vec<(Instant, Utc, Span)>,
    pub offer: Option<Offer>,
    /// Answers to the offer.
    pub answered: Vec<bool>,
    pub suffered: Accounts,
    pub times_forgotten: u32,
    /// The bench, and the dash on it.
    pub bench: Bench,
    dash: Option<Box<Dash>>,
    /// What the first probe's chip says.
    pub probe: Option<ProbeReading>,
    /// Pulses a second of N1.
    pub n1_hz: u16,
    pub crystal: Option<(PartsPerBillion, PartsPerBillion)>,
    /// So long after each cue the button goes down, in turn.
    pub presses: Vec<Span>,
    pub cues: u32,
    /// The cue after which it says that it is not on the bench.
    pub refuses_cue: Option<u32>,
    cued: Cued,
    /// Its clock goes so many times as fast as time.
    pub speed: i64,
    /// Every so many decisions it tells one that was not decided.
    pub lies_every: Option<usize>,
    decided: usize,
    began: Here,
    /// The cable is pulled after so many questions on the bench.
    pub unplug_bench_after: Option<u32>,
    /// The cable is pulled after so many pieces of journal.
    pub unplug_after: Option<u32>,
    /// The program restarts after so many.
    pub restart_after: Option<u32>,
    /// It hears and never answers.
    pub is_dumb: bool,
    starts: u32,
}

impl Fake {
    /// A board as delivered, with a journal of 60 pages.
    pub fn new() -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        let page = |index: usize| {
            let mut page = vec![0; 244 - index % 7];
            rng.fill_bytes(&mut page);
            page
        };
        let pages: Vec<_> = (0..60).map(page).collect();
        Self {
            talk: Talk::new(1_000),
            standing: standing(OLDEST + pages.len() as u64),
            settings: None,
            times_kept: 0,
            pages,
            schedules: Vec::new(),
            told: Vec::new(),
            offer: None,
            answered: Vec::new(),
            suffered: Accounts::default(),
            times_forgotten: 0,
            bench: Bench::new(),
            dash: None,
            probe: None,
            n1_hz: 0,
            crystal: None,
            presses: Vec::new(),
            cues: 0,
            refuses_cue: None,
            cued: Cued::NONE,
            speed: 1,
            lies_every: None,
            decided: 0,
            began: Here::now(),
            unplug_bench_after: None,
            unplug_after: None,
            restart_after: None,
            is_dumb: false,
            starts: 1,
        }
    }

    /// Takes what came over the line, does its work, and gives what it says.
    pub fn turn(&mut self, heard: &[u8]) -> Vec<u8> {
        let mut says = Vec::new();
        for byte in heard {
            self.talk.push(*byte);
            if !self.talk.wants_bytes() {
                self.work();
                says.extend(self.talk.to_send());
                self.talk.sent(usize::MAX);
            }
        }
        if self.is_dumb { Vec::new() } else { says }
    }

    fn work(&mut self) {
        let now = self.now();
        self.feed_bench(now);
        let Some(request) = self.talk.next_request(self.standing.clock_runs) else { return };
        let bytes;
        let answer = match request {
            Request::Hello => Answer::Hello(self.standing),
            Request::KeepSettings(bytes) => {
                self.settings = Some(bytes.to_vec());
                self.times_kept += 1;
                Answer::SettingsKept
            }
            Request::ReadSettings => {
                let mut buffer = [0; Settings::ENCODED_MAX];
                let defaults = Settings::bare().encode(&mut buffer).to_vec();
                let from = if self.settings.is_some() { SettingsFrom::Chip } else { SettingsFrom::Defaults };
                bytes = self.settings.clone().unwrap_or(defaults);
                Answer::Settings { from, bytes: &bytes }
            }
            Request::ReadJournal { from, .. } if from > self.standing.journal.acknowledged => {
                Answer::Refused(Refusal::NoSuchPosition { acknowledged: self.standing.journal.acknowledged })
            }
            Request::ReadJournal { from, most } => {
                let (next, piece) = piece(&self.pages, from.max(OLDEST), most.into());
                bytes = piece;
                Answer::Journal { from: from.max(OLDEST), next, bytes: &bytes }
            }
            Request::Schedule { zero } => {
                self.schedules.push(zero);
                Answer::Scheduled(if zero < NOW { Scheduled::Past } else { Scheduled::WaitsForUtc })
            }
            Request::Readings => Answer::Readings(self.readings(now)),
            Request::Utc { at, utc, sd } => {
                self.told.push((at, utc, sd));
                Answer::Done
            }
            Request::Learned => Answer::Learned(self.offer),
            Request::Offer { .. } if self.offer.is_none() => {
                Answer::Refused(Refusal::Dash(Refused::NothingOffered))
            }
            Request::Offer { accept } => {
                self.answered.push(accept);
                Answer::Done
            }
            Request::Suffered => Answer::Suffered(self.suffered),
            Request::ForgetSuffered if self.standing.clock_runs => Answer::Refused(Refusal::ClockRuns),
            Request::ForgetSuffered => {
                self.suffered = Accounts::default();
                self.times_forgotten += 1;
                Answer::Done
            }
            Request::EnterBench(bytes) => {
                let settings = Settings::decode(bytes).unwrap_or_else(Settings::bare);
                self.dash = Some(Box::new(Dash::new(&settings)));
                self.bench.begin(now);
                Answer::Done
            }
            Request::LeaveBench => {
                self.bench.end();
                Answer::Done
            }
            Request::Cue { .. } | Request::Feed { .. } if !self.bench.is_on() => {
                Answer::Refused(Refusal::NotOnTheBench)
            }
            Request::Cue { .. } if self.refuses_cue == Some(self.cues) => {
                Answer::Refused(Refusal::NotOnTheBench)
            }
            Request::Cue { sound } => {
                if sound {
                    self.cue(now);
                }
                Answer::Cued(self.cued)
            }
            Request::Feed { base, inputs } => match self.bench.take(base, inputs) {
                Ok(()) => {
                    bytes = fed(&mut self.bench);
                    let room = self.bench.room() as u16;
                    let (waiting, lost) = (self.bench.waiting(), self.bench.lost());
                    self.unplug_bench_after = self.unplug_bench_after.map(|left| left.saturating_sub(1));
                    Answer::Fed(Fed { now, room, waiting, lost, told: &bytes })
                }
                Err(why) => Answer::Refused(Refusal::Bench(why)),
            },
            Request::Picture => {
                bytes = vec![0x0F; 1_024];
                Answer::Picture(&bytes)
            }
        };
        let is_piece = matches!(answer, Answer::Journal { .. });
        self.talk.answer(&answer);
        if is_piece {
            self.unplug_after = self.unplug_after.map(|left| left.saturating_sub(1));
            self.restart_after = self.restart_after.map(|left| left.saturating_sub(1));
        }
        if self.restart_after == Some(0) {
            self.restart_after = None;
            self.starts += 1;
            self.talk = Talk::new(1_000 * self.starts);
        }
    }

    /// True once, when the cable is to be pulled.
    pub fn is_to_be_unplugged(&mut self) -> bool {
        self.unplug_after.take_if(|left| *left == 0).is_some()
            || self.unplug_bench_after.take_if(|left| *left == 0).is_some()
    }

    fn now(&self) -> Instant {
        let micros = i64::try_from(self.began.elapsed().as_micros()).unwrap();
        Instant::BOOT.plus(Span::from_micros(5_000_000 + micros * self.speed))
    }

    /// A report each 50 ms of the board's clock, the last one.
    fn readings(&self, at: Instant) -> Readings {
        let report = at.as_micros() / 50_000 * 50_000;
        let n1 = (self.n1_hz > 0).then(|| Turning {
            at: Instant::BOOT.plus(Span::from_micros(i64::try_from(report).unwrap())),
            pulses: Pulses { count: self.n1_hz / 20, span: Span::from_millis(50) },
            total: u32::try_from(report * u64::from(self.n1_hz) / 1_000_000).unwrap(),
        });
        let probes = [self.probe, None, None, None];
        Readings { at, probes, n1, n2: None, fix: None, pulse: None, crystal: self.crystal }
    }

    /// The next press, of which it tells at once.
    fn cue(&mut self, at: Instant) {
        let press = self.presses.get(self.cues as usize % self.presses.len().max(1));
        let press = press.map(|late| SeenEdge { at: at.plus(*late), active: true });
        self.cues += 1;
        // The finger of the press before goes up first.
        let up = SeenEdge { at: at.plus(Span::from_millis(1)), active: false };
        self.cued = Cued { at: Some(at), ..Cued::NONE };
        self.cued.edges[0] = Some(up);
        self.cued.edges[1] = press;
    }

    /// What a board does in each turn of its loop.
    fn feed_bench(&mut self, now: Instant) {
        let Some(mut dash) = self.dash.take() else { return };
        while let Some((at, input)) = self.bench.due(now) {
            self.pass(&mut dash, at);
            self.feed(&mut dash, at, input);
            self.bench.fed(now.since(at));
        }
        self.pass(&mut dash, now);
        self.dash = Some(dash);
    }

    fn pass(&mut self, dash: &mut Dash, now: Instant) {
        while let Some(wake) = dash.next_wake().filter(|wake| *wake <= now) {
            self.feed(dash, wake, Input::Tick);
        }
    }

    fn feed(&mut self, dash: &mut Dash, at: Instant, input: Input) {
        for output in dash.feed(at, input).as_slice() {
            self.decided += 1;
            let lies = self.lies_every.is_some_and(|every| self.decided.is_multiple_of(every));
            let output = if lies { Output::Cleared } else { *output };
            self.bench.decided(at, Span::from_micros(300), output);
        }
    }
}

fn fed(bench: &mut Bench) -> Vec<u8> {
    let mut buffer = [0; TELL_MAX];
    bench.told(&mut buffer).to_vec()
}

/// What hot laps may have taught.
pub const OFFER: Offer = Offer {
    pull_now_mm_s2: 5_000,
    pull_learned_mm_s2: 5_500,
    bend_now: MmPerSecond::from_mm_s(40_000),
    bend_learned: MmPerSecond::from_mm_s(42_000),
    forecasts: 3,
    bias_ms: -20,
    spread_ms: 60,
};

/// An engine that has run for an hour.
pub fn an_hour() -> Accounts {
    let account = Account { run_ms: 3_600_000, starts: 12, hot_starts: 1, ..Account::default() };
    Accounts { heat: Account::default(), total: account }
}

/// As many whole pages from a position on as fit, and where the next one begins.
fn piece(pages: &[Vec<u8>], from: u64, most: usize) -> (u64, Vec<u8>) {
    let mut bytes = Vec::new();
    let mut next = from;
    for page in pages.iter().skip((from - OLDEST) as usize) {
        if bytes.len() + page.len() > most {
            break;
        }
        bytes.extend(page);
        next += 1;
    }
    (next, bytes)
}

fn standing(acknowledged: u64) -> Standing {
    Standing {
        protocol: PROTOCOL,
        firmware: [0, 1, 0],
        program: 0x1234_5678,
        clock_runs: false,
        settings: SettingsFrom::Defaults,
        self_test: SelfTest {
            receiver: Check::Good,
            pulse: Check::Silent,
            probes: [Check::Good, Check::NotFitted, Check::NotFitted, Check::NotFitted],
            n1: Check::Silent,
            n2: Check::Silent,
            chip: Some(0x00EF_4018),
            overflows: 0,
            restarted: Restart::Power,
        },
        journal: Extent { oldest: OLDEST, acknowledged, room: 1_572_864, lost: 0, torn: 0 },
    }
}
