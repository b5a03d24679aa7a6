//! What happened in one heat: the truth, what the dash saw of it, and what it decided.
//!
//! The rig fills a log; the timeline, the JSON lines, the report and the waves are made from it. All times are
//! true race time: microseconds relative to the true zero, negative before it.

use firmware::gnss::Position;
use firmware::input::Line;
use firmware::output::Output;
use firmware::settings::Settings;
use firmware::units::{Instant, Span, Utc};
use firmware::view::View;

/// One heat, from the first input to the last.
#[derive(Clone, Debug)]
pub struct Log {
    /// The heat's title.
    pub title: String,
    /// Every draw came from this.
    pub seed: u64,
    /// What was drawn: name and value, in the order drawn.
    pub drawn: Vec<(String, String)>,
    /// What the dash was set to; in the end, where its driver accepted what hot laps had taught.
    pub settings: Settings,
    /// The true zero.
    pub zero_utc: Utc,
    /// Every decision, in order.
    pub decisions: Vec<Decided>,
    /// The state of things, ten times a second.
    pub samples: Vec<Sample>,
    /// Every change of an input line.
    pub edges: Vec<EdgeSeen>,
    /// When the bow truly crossed the line, where the truth is known.
    pub true_crossings: Vec<TrueCrossing>,
    /// What the dash recorded.
    pub journal: Vec<u8>,
    /// SHA-256 over all decisions.
    pub digest: [u8; 32],
    /// What the receiver's decoder made of its bytes.
    pub receiver: ReceiverCounts,
}

/// One decision.
#[derive(Clone, Copy, Debug)]
pub struct Decided {
    /// True race time.
    pub t: Span,
    /// The board's clock.
    pub at: Instant,
    /// What the dash believed the race time to be; `None` while it was not armed.
    pub race: Option<Span>,
    /// The decision.
    pub output: Output,
}

/// The state of things at a moment.
#[derive(Clone, Copy, Debug)]
pub struct Sample {
    /// True race time.
    pub t: Span,
    /// The boat, where it truly was (or, in a recording, where the receiver said).
    pub boat: Option<BoatState>,
    /// The engine as it truly was (or as the recording says).
    pub engine: Option<EngineState>,
    /// What the dash would show.
    pub view: View,
}

/// The boat at a moment. The bow's place is told by the start line.
#[derive(Clone, Copy, Debug)]
pub struct BoatState {
    /// The antenna.
    pub position: Position,
    /// The bow beyond the line, metres, in racing direction; negative before it.
    pub bow_past_m: f64,
    /// The bow along the line from its left end, metres.
    pub bow_along_m: f64,
    /// Over ground.
    pub speed_m_s: f64,
    /// Distance run since the first sample, metres.
    pub run_m: f64,
}

/// The engine at a moment.
#[derive(Clone, Copy, Debug)]
pub struct EngineState {
    /// Exhaust gas temperature, degrees Celsius.
    pub egt_c: f64,
    /// Gas generator speed, percent.
    pub n1_pct: f64,
    /// Power shaft speed, percent.
    pub n2_pct: f64,
}

/// An input line changed.
#[derive(Clone, Copy, Debug)]
pub struct EdgeSeen {
    /// True race time.
    pub t: Span,
    /// Which line.
    pub line: Line,
    /// True when it went down or closed.
    pub active: bool,
}

/// A crossing of the line by the bow, in truth.
#[derive(Clone, Copy, Debug)]
pub struct TrueCrossing {
    /// True race time.
    pub t: Span,
    /// True in racing direction.
    pub forward: bool,
}

/// What came of the receiver's bytes.
#[derive(Clone, Copy, Debug, Default)]
pub struct ReceiverCounts {
    /// Fixes made.
    pub fixes: u32,
    /// Sentences or frames rejected.
    pub rejected: u32,
    /// Well-formed, and not used here.
    pub ignored: u32,
}
