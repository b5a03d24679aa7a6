//! A dash in virtual time: the only place where inputs are put in order.
//!
//! The rig takes sensor events in true time, stamps them by the board's crystal, wakes the dash whenever it asked
//! to be woken, and writes down everything: the journal as the board would, and a [`Log`] with the truth beside
//! it. Nothing sleeps; a heat of ten minutes takes milliseconds.
//!
//! Events in, a log out.

use firmware::dash::Dash;
use firmware::engine::suffered::Accounts;
use firmware::gnss::{Decoder, Heard};
use firmware::input::Input;
use firmware::journal::{Digest, Reader, Sink, Why, Writer, signature};
use firmware::output::{Output, Outputs};
use firmware::resume::{Boot, RESTART_SD, Scratch, plan};
use firmware::settings::Settings;
use firmware::units::{Instant, Span, Utc};
use firmware::view::View;

use crate::log::{Decided, EdgeSeen, Log, ReceiverCounts, Sample};
use crate::world::SensorEvent;
use crate::world::crystal::Crystal;
use crate::world::faults::WATCHDOG_GAP;

/// A journal that is kept in memory.
#[derive(Debug)]
pub struct Memory(Vec<u8>);

impl Default for Memory {
    /// Room for a heat of a quarter of an hour, so that nothing is moved while it grows.
    fn default() -> Self {
        Self(Vec::with_capacity(1 << 20))
    }
}

impl Sink for Memory {
    fn frame(&mut self, frame: &[u8]) -> bool {
        self.0.extend_from_slice(frame);
        true
    }
}

/// One board on one crystal, from power to power.
pub struct Rig {
    settings: Settings,
    schedule: Option<Utc>,
    crystal: Crystal,
    /// What the board adds to its counter.
    base: Instant,
    dash: Dash,
    decoder: Decoder,
    counts: ReceiverCounts,
    journal: Writer<Memory>,
    /// The secret key that seals are signed with.
    key: Option<[u8; 32]>,
    digest: Digest,
    decisions: Vec<Decided>,
    edges: Vec<EdgeSeen>,
    samples: Vec<Sample>,
    /// The words that a restart with the power on leaves alone.
    scratch: Scratch,
    /// When the board runs again after a restart, and of which kind that is.
    off_until: Option<(Span, Boot)>,
    /// Everything fed since it was last asked for, for whoever asked for it at the beginning.
    fed: Option<Vec<(Instant, Input)>>,
}

/// What the rig leaves to others to fill in about a moment: boat and engine as they truly were.
pub trait Witness {
    /// Adds what is known of the moment `sample.t`.
    fn tell(&mut self, sample: &mut Sample);
}

/// A witness who saw nothing.
pub struct Nobody;

impl Witness for Nobody {
    fn tell(&mut self, _: &mut Sample) {}
}

/// How often the state of things is written down.
const SAMPLE_EVERY: Span = Span::from_millis(100);

impl Rig {
    /// A board that is switched on, with these settings and a schedule, if it is told one.
    #[must_use]
    pub fn new(settings: &Settings, schedule: Option<Utc>, crystal: Crystal) -> Self {
        let mut journal = Writer::new(Memory::default());
        journal.will_close();
        journal.open(settings, None);
        let mut rig = Self {
            settings: settings.clone(),
            schedule,
            crystal,
            base: Instant::BOOT,
            dash: Dash::new(settings),
            decoder: Decoder::default(),
            counts: ReceiverCounts::default(),
            journal,
            key: None,
            digest: Digest::default(),
            decisions: Vec::new(),
            edges: Vec::new(),
            samples: Vec::with_capacity(8_192),
            scratch: Scratch { kicked: Instant::BOOT, zero: None },
            off_until: None,
            fed: None,
        };
        rig.tell_schedule(Instant::BOOT);
        rig
    }

    /// From now on seals are signed with this secret key.
    pub const fn sign_with(&mut self, key: [u8; 32]) {
        self.key = Some(key);
        self.journal.sign_seals();
    }

    /// From now on what is fed is kept until it is taken by [`Rig::take_fed`].
    pub fn keep_fed(&mut self) {
        self.fed = Some(Vec::new());
    }

    /// What was fed since the last time, but for the ticks: every dash wakes itself.
    pub fn take_fed(&mut self) -> Vec<(Instant, Input)> {
        self.fed.as_mut().map(std::mem::take).unwrap_or_default()
    }

    /// Plays events, which come in order of time, to their end; samples go through `witness`.
    pub fn play(&mut self, events: impl Iterator<Item = (Span, SensorEvent)>, witness: &mut impl Witness) {
        let mut sample_due: Option<Span> = None;
        for (t, event) in events {
            let mut due = sample_due.unwrap_or_else(|| first_sample(t));
            while due <= t {
                self.advance(due);
                self.sample(due, witness);
                due = due + SAMPLE_EVERY;
            }
            sample_due = Some(due);
            self.advance(t);
            self.event(t, event);
        }
    }

    /// Plays events without writing down the state of things.
    pub fn play_blind(&mut self, events: impl Iterator<Item = (Span, SensorEvent)>) {
        for (t, event) in events {
            self.advance(t);
            self.event(t, event);
        }
    }

    /// One event of a heat whose next ones are not known yet.
    pub fn happen(&mut self, t: Span, event: SensorEvent) {
        self.advance(t);
        self.event(t, event);
    }

    /// What the dash shows at `t`, up to which time has passed; nothing while the board is off.
    #[must_use]
    pub fn view(&self, t: Span) -> Option<(Instant, View)> {
        let at = self.board_at(t);
        self.off_until.is_none().then(|| (at, self.dash.view(at)))
    }

    /// Every decision so far.
    #[must_use]
    pub fn decisions(&self) -> &[Decided] {
        &self.decisions
    }

    /// Lets time pass up to `t`, waking the dash whenever it asked for it.
    pub fn advance(&mut self, t: Span) {
        match self.off_until {
            Some((back, _)) if back > t => return,
            Some((back, boot)) => self.restart(back, boot),
            None => {}
        }
        let now = self.board_at(t);
        while let Some(wake) = self.dash.next_wake().filter(|wake| *wake <= now) {
            self.feed(self.true_at(wake), wake, Input::Tick);
        }
    }

    fn event(&mut self, t: Span, event: SensorEvent) {
        if self.off_until.is_some() {
            return;
        }
        let at = self.board_at(t);
        match event {
            SensorEvent::Edge { line, active } => {
                self.edges.push(EdgeSeen { t, line, active });
                self.feed(t, at, Input::Edge { line, active });
            }
            SensorEvent::PpsEdge => self.feed(t, at, Input::Pps),
            SensorEvent::ReceiverBytes(bytes) => self.receive(t, at, &bytes),
            SensorEvent::ProbeFrame { index, reading } => self.feed(t, at, Input::Probe { index, reading }),
            SensorEvent::ShaftPulses { n1, n2 } => self.feed(t, at, Input::Shafts { n1, n2 }),
            SensorEvent::N2Turns { turns } => self.feed(t, at, Input::N2Turns { turns }),
            SensorEvent::PowerBlip { off } => self.off_until = Some((t + off, Boot::Cold)),
            SensorEvent::WatchdogReset { off } => {
                self.scratch.kicked = at;
                self.off_until = Some((t + off, Boot::Soft { gap: WATCHDOG_GAP, sd: RESTART_SD }));
            }
            SensorEvent::Pulse { .. } | SensorEvent::End => {}
        }
    }

    fn receive(&mut self, t: Span, at: Instant, mut bytes: &[u8]) {
        while let Some(heard) = self.decoder.hear(&mut bytes) {
            let (count, input) = match heard {
                Heard::Fix(fix) => (&mut self.counts.fixes, Input::Fix(fix)),
                Heard::Rejected(why) => (&mut self.counts.rejected, Input::Rejected(why)),
            };
            *count += 1;
            self.feed(t, at, input);
        }
    }

    fn feed(&mut self, t: Span, at: Instant, input: Input) {
        if let Some(fed) = self.fed.as_mut().filter(|_| input != Input::Tick) {
            fed.push((at, input));
        }
        let mut outputs = Outputs::default();
        self.dash.feed_into(at, input, &mut outputs);
        let carried = self.dash.carried(at);
        self.scratch = Scratch { kicked: at, zero: carried.and_then(|carried| carried.zero()) };
        self.journal.fed(at, &input, &outputs, carried);
        self.journal.suffered(self.dash.accounts());
        self.sign();
        let race = self.dash.race_time(at);
        for output in outputs.as_slice() {
            // A board keeps them, and a restart begins with them.
            if matches!(output, Output::Learned { accepted: true, .. }) {
                self.settings.clone_from(self.dash.settings());
            }
            self.digest.add(at, output);
            self.decisions.push(Decided { t, at, race, output: *output });
        }
    }

    /// Signs the seal that waits for it, if one does.
    fn sign(&mut self) {
        if let Some((key, seal)) = self.key.zip(self.journal.unsigned().copied()) {
            self.journal.sign(signature::public_key(&key), signature::sign(&key, &seal));
        }
    }

    /// A fresh dash, told what the board finds in its scratch words and its journal. A schedule is told anew only
    /// where nothing was found.
    fn restart(&mut self, t: Span, boot: Boot) {
        self.off_until = None;
        let found = Reader::new(&self.journal.sink().0);
        let (newest, before) = (found.clone().newest_carried(), found.clone().before());
        let suffered = found.newest_suffered();
        let plan = plan(boot, Scratch::from_words(&self.scratch.to_words()), newest);
        self.crystal = self.crystal.rebooted(t);
        self.base = plan.base;
        self.dash = Dash::new(&self.settings);
        self.counts.ignored += self.decoder.counts().ignored;
        self.decoder = Decoder::default();
        self.journal.open(&self.settings, before);
        match plan.resume {
            Some(resume) => self.feed(t, self.base, Input::Resume(resume)),
            None => self.tell_schedule(self.base),
        }
        if let Some(accounts) = suffered.filter(|accounts| *accounts != Accounts::default()) {
            self.feed(t, self.base, Input::Suffered(accounts));
        }
    }

    fn tell_schedule(&mut self, at: Instant) {
        if let Some(zero) = self.schedule {
            self.feed(self.true_at(at), at, Input::Schedule { zero });
        }
    }

    /// What the board's clock shows at a true time.
    fn board_at(&self, t: Span) -> Instant {
        self.base.plus(self.crystal.board_at(t).since(Instant::BOOT))
    }

    /// The true time at which the board's clock shows `shown`.
    fn true_at(&self, shown: Instant) -> Span {
        self.crystal.true_at(Instant::BOOT.plus(shown.since(self.base)))
    }

    fn sample(&mut self, t: Span, witness: &mut impl Witness) {
        if self.off_until.is_some() {
            return;
        }
        let view = self.dash.view(self.board_at(t));
        let mut sample = Sample { t, boat: None, engine: None, view };
        witness.tell(&mut sample);
        self.samples.push(sample);
    }

    /// Ends the run: everything that was written down.
    #[must_use]
    pub fn into_log(mut self, title: &str, seed: u64, zero_utc: Utc) -> Log {
        self.counts.ignored += self.decoder.counts().ignored;
        self.journal.seal(Why::Taken);
        self.sign();
        Log {
            title: title.to_owned(),
            seed,
            drawn: Vec::new(),
            settings: self.settings,
            zero_utc,
            decisions: self.decisions,
            samples: self.samples,
            edges: self.edges,
            true_crossings: Vec::new(),
            journal: self.journal.into_sink().0,
            digest: self.digest.value(),
            receiver: self.counts,
        }
    }
}

/// The first whole tenth of a second at or after `t`.
fn first_sample(t: Span) -> Span {
    let every = SAMPLE_EVERY.as_micros();
    Span::from_micros(t.as_micros().div_euclid(every) * every + every)
}
