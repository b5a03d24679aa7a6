//! What must outlive the power: settings and journal on the SPI NOR chip.
//!
//! One short piece of bus work a turn: new settings on their way to the shelf first, then the journal's ring. A board
//! whose chip does not answer is a dash without a record: everything else goes on, and the self-test says so.
//!
//! Knows the chip's driver, the shelf, the ring and the journal's writer. Records in, bytes out and back.

use core::mem::MaybeUninit;

use embedded_hal::delay::DelayNs;
use embedded_hal::spi::SpiDevice;
use firmware::engine::suffered::Accounts;
use firmware::input::Input;
use firmware::io::nor::Nor;
use firmware::journal::ring::{Activity, Cursor, Found, PAGE, PAYLOAD, Ring};
use firmware::journal::{Before, Raw, Sink, Writer, carried_in, suffered_in};
use firmware::output::{Output, Outputs};
use firmware::resume::Carried;
use firmware::settings::{SETTINGS_VERSION, Settings};
use firmware::shelf::{BYTES_MAX, Progress, Refused, Shelf};
use firmware::talk::{Extent, Refusal, SettingsFrom};
use firmware::units::{Instant, Span};

/// Pages that wait in RAM for the chip: two seconds' worth of a heat.
const QUEUE: usize = 8;

/// The newest pages that are looked through for what was carried: it is written again at least once a sector of 16.
const PAGES_BACK: u32 = 48;

/// So old a record may become before it is made due, though it does not fill a page.
const FLUSH_EVERY: Span = Span::from_secs(1);

/// A chip at work is asked again after so long, and after twice that when it still is, and so on up to the longest: a
/// page takes 0.7 ms, an erase 45, typically (W25Q128 data sheet; from memory).
const ASK_AGAIN: Span = Span::from_micros(700);
const ASK_LONGEST: Span = Span::from_millis(10);

/// A chip that failed is tried again after so long.
const TRY_AGAIN: Span = Span::from_millis(500);

/// The ring as a sink, or none: then frames are lost, and the writer counts them.
pub struct Tape(Option<Ring<QUEUE>>);

impl Sink for Tape {
    fn frame(&mut self, frame: &[u8]) -> bool {
        self.0.as_mut().is_some_and(|ring| ring.frame(frame))
    }
}

/// Chip, shelf and journal.
pub struct Store<SPI> {
    chip: Option<Nor<SPI>>,
    shelf: Option<Shelf>,
    journal: Writer<Tape>,
    flush_due: Instant,
    next: Instant,
    patience: Span,
    reading: Cursor,
}

/// What became of new settings.
pub enum Kept {
    /// They are on the chip, whole.
    Yes,
    /// The chip did not take them; the old ones stay.
    No,
}

fn decode(bytes: &[u8]) -> Option<Settings> {
    Settings::decode(bytes).filter(|settings| settings.check().is_ok())
}

/// A stretch of the journal.
pub enum Stretch<'a> {
    /// The chip is at work: ask again.
    Later,
    /// Nothing stands there: ask from the next position on.
    Skipped {
        /// That position.
        next: u64,
    },
    /// What stands there; no bytes at the end of the record.
    Bytes {
        /// The position of the first.
        from: u64,
        /// A stretch of the stream of frames.
        bytes: &'a [u8],
        /// Where the next page begins.
        next: u64,
    },
    /// It cannot be read.
    Refused(Refusal<'static>),
}

/// The position at which a page begins.
fn start_of(page: u32) -> u64 {
    u64::from(page).saturating_mul(PAYLOAD as u64)
}

/// The page in which a position lies.
fn page_of(position: u64) -> u32 {
    u32::try_from(position / PAYLOAD as u64).unwrap_or(u32::MAX)
}

/// How a piece of work went.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Step {
    /// There may be more at once.
    Done,
    /// The chip is at work.
    Wait,
    /// There is nothing to do.
    Rest,
    /// The bus or the chip failed.
    Failed,
}

impl<SPI: SpiDevice> Store<SPI> {
    /// Wakes the chip and finds the end of the record.
    #[inline(never)]
    pub fn mount(
        room: &'static mut MaybeUninit<Self>,
        spi: SPI,
        mut delay: impl DelayNs,
    ) -> &'static mut Self {
        let mut chip = Nor::new(spi, &mut delay).ok();
        let ring = chip.as_mut().and_then(|chip| Ring::mount(chip).ok()).map(|(ring, _)| ring);
        let reading = ring.as_ref().map(Ring::oldest).unwrap_or_default();
        let journal = Writer::new(Tape(ring));
        room.write(Self {
            chip,
            shelf: None,
            journal,
            flush_due: Instant::BOOT,
            next: Instant::BOOT,
            patience: ASK_AGAIN,
            reading,
        })
    }

    /// Reads the settings into their room and says where they come from; without any on the chip, the defaults.
    #[inline(never)]
    pub fn settings<'a>(
        &mut self,
        buffer: &mut [u8; BYTES_MAX],
        room: &'a mut MaybeUninit<Settings>,
    ) -> (&'a mut Settings, SettingsFrom) {
        let length = self.chip.as_mut().map(|chip| Shelf::load(chip, buffer).ok());
        let from = match length {
            Some(Some((shelf, length))) => {
                self.shelf = Some(shelf);
                let bytes = length.map(|length| buffer.get(..length).unwrap_or_default());
                match bytes.map(|bytes| (decode(bytes), Settings::version_of(bytes))) {
                    Some((Some(settings), _)) => return (room.write(settings), SettingsFrom::Chip),
                    Some((None, Some(SETTINGS_VERSION) | None)) => SettingsFrom::DefaultsForDamage,
                    Some((None, Some(_))) => SettingsFrom::DefaultsForVersion,
                    None => SettingsFrom::Defaults,
                }
            }
            _ => SettingsFrom::DefaultsForDamage,
        };
        (room.write(Settings::bare()), from)
    }

    /// What the dash before this one would have a fresh one know.
    #[inline(never)]
    pub fn carried(&mut self) -> Option<Carried> {
        let ring = self.journal.sink_mut().0.as_ref()?;
        let carried = |raw: Raw<'_>| carried_in(raw.record);
        ring.find_newest(self.chip.as_mut()?, PAGES_BACK, carried).ok().flatten().flatten()
    }

    /// The end of the record before this one.
    #[inline(never)]
    fn before(&mut self) -> Option<Before> {
        let ring = self.journal.sink_mut().0.as_ref()?;
        ring.tail(self.chip.as_mut()?, PAGES_BACK).ok().flatten()
    }

    /// What the engine had suffered when the record ended.
    #[inline(never)]
    pub fn newest_suffered(&mut self) -> Option<Accounts> {
        let ring = self.journal.sink_mut().0.as_ref()?;
        let suffered = |raw: Raw<'_>| suffered_in(raw.record);
        ring.find_newest(self.chip.as_mut()?, PAGES_BACK, suffered).ok().flatten()
    }

    /// What the engine has suffered now.
    pub fn suffered(&mut self, accounts: Option<&Accounts>) {
        self.journal.suffered(accounts);
    }

    /// Reads a stretch of the journal, from a position on: at most a page, and nothing while the chip is at work.
    ///
    /// A position is the number of a page in the record times the bytes that a page can hold, and how far into them.
    pub fn read<'b>(&mut self, from: u64, page: &'b mut [u8; PAGE]) -> Stretch<'b> {
        let (Some(chip), Some(ring)) = (self.chip.as_mut(), self.journal.sink_mut().0.as_ref()) else {
            return Stretch::Refused(Refusal::Chip);
        };
        let acknowledged = start_of(ring.end());
        if from > acknowledged {
            return Stretch::Refused(Refusal::NoSuchPosition { acknowledged });
        }
        let (wanted, into) = (page_of(from).max(ring.oldest().page()), from % PAYLOAD as u64);
        // Neighbours are read with one cursor, which sees a page that was written twice.
        if self.reading.page() != wanted {
            self.reading = ring.cursor(wanted);
        }
        let before = start_of(wanted);
        match ring.read_back(chip, &mut self.reading, page) {
            Ok(Found::End) => Stretch::Bytes { from: acknowledged, bytes: &[], next: acknowledged },
            Ok(Found::Busy) => Stretch::Later,
            Ok(Found::Nothing) => Stretch::Skipped { next: before.saturating_add(PAYLOAD as u64) },
            Ok(Found::Piece(piece)) => {
                let into = if from > before { into } else { 0 };
                let bytes = piece.bytes.get(into as usize..).unwrap_or_default();
                let next = start_of(wanted.saturating_add(1));
                Stretch::Bytes { from: before.saturating_add(into), bytes, next }
            }
            Err(_) => Stretch::Refused(Refusal::Chip),
        }
    }

    /// What there is of a journal.
    pub fn extent(&self) -> Extent {
        let Some(ring) = self.journal.sink().0.as_ref() else { return Extent::default() };
        let (oldest, acknowledged) = (start_of(ring.oldest().page()), start_of(ring.end()));
        let counters = ring.counters();
        Extent {
            oldest,
            acknowledged,
            room: ring.room(),
            lost: self.journal.lost(),
            torn: counters.torn_pages,
        }
    }

    /// A number that grows from start to start: each start writes at least a page.
    pub fn runs(&mut self) -> u32 {
        self.journal.sink_mut().0.as_ref().map_or(0, Ring::end)
    }

    /// What the chip says it is: maker, kind and capacity in the lower 24 bits.
    pub fn chip_id(&self) -> Option<u32> {
        let [maker, kind, capacity] = self.chip.as_ref()?.id();
        Some(u32::from_be_bytes([0, maker, kind, capacity]))
    }

    /// A dash begins.
    #[inline(never)]
    pub fn open(&mut self, settings: &Settings) {
        let before = self.before();
        self.journal.open(settings, before);
    }

    /// An input, what it led to, and what is carried now. A decision is made due at once, but for advice: that comes every
    /// second, and each would cost a page that is nearly empty.
    pub fn record(&mut self, at: Instant, input: &Input, decided: &Outputs, carried: Option<Carried>) {
        self.journal.fed(at, input, decided, carried);
        if decided.as_slice().iter().any(|output| !matches!(output, Output::Advice { .. })) {
            self.flush(at);
        }
    }

    /// What is recorded so far is made due at once.
    pub fn flush(&mut self, now: Instant) {
        if let Some(ring) = self.journal.sink_mut().0.as_mut() {
            ring.flush();
        }
        self.flush_due = now.plus(FLUSH_EVERY);
        self.next = now;
    }

    /// Takes new settings, to be kept as soon as the chip has taken them.
    ///
    /// # Errors
    /// Why not.
    pub fn keep(&mut self, settings: &[u8]) -> Result<(), Refused> {
        self.next = Instant::BOOT;
        self.shelf.as_mut().map_or(Err(Refused::Busy), |shelf| shelf.store(settings))
    }

    /// Does one piece of work, if it is time for one. Says once what became of new settings.
    pub fn turn(&mut self, now: Instant, may_erase: bool) -> Option<Kept> {
        if now >= self.flush_due {
            self.flush(now);
        }
        if now < self.next {
            return None;
        }
        let (step, kept) = self.work(may_erase);
        self.next = match step {
            Step::Done => now,
            Step::Wait => now.plus(self.patience),
            Step::Rest => self.flush_due,
            Step::Failed => now.plus(TRY_AGAIN),
        };
        let longer = Span::min(self.patience + self.patience, ASK_LONGEST);
        self.patience = if step == Step::Wait { longer } else { ASK_AGAIN };
        kept
    }

    /// The piece itself.
    fn work(&mut self, may_erase: bool) -> (Step, Option<Kept>) {
        let Some(chip) = self.chip.as_mut() else { return (Step::Rest, None) };
        if let Some(shelf) = self.shelf.as_mut().filter(|shelf| shelf.has_work()) {
            return match shelf.poll(chip, may_erase) {
                Ok(Progress::Stored) => (Step::Done, Some(Kept::Yes)),
                Ok(Progress::Failed) => (Step::Done, Some(Kept::No)),
                Ok(Progress::Worked) => (Step::Done, None),
                Ok(Progress::Waiting | Progress::Idle) => (Step::Wait, None),
                Err(_) => (Step::Failed, None),
            };
        }
        let Some(ring) = self.journal.sink_mut().0.as_mut() else { return (Step::Rest, None) };
        let step = match ring.poll(chip, may_erase) {
            Ok(Activity::Worked | Activity::Acknowledged) => Step::Done,
            Ok(Activity::Busy) => Step::Wait,
            Ok(Activity::Idle) => Step::Rest,
            Err(_) => Step::Failed,
        };
        (step, None)
    }

    /// When there is work again.
    pub const fn next_wake(&self) -> Instant {
        self.next
    }
}
