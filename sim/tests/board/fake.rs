//! A board of memory: the board's own talk, and what a chip would hold.

use firmware::settings::Settings;
use firmware::talk::{
    Answer, Check, Extent, PROTOCOL, Refusal, Request, Restart, Scheduled, SelfTest, SettingsFrom, Standing,
    Talk,
};
use firmware::units::Utc;
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
            Request::Readings | Request::Cue { .. } => Answer::Refused(Refusal::NotOnTheBench),
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
    }
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
