//! Views to draw: one plain heat to start from, and any view at all.

use firmware::engine::PROBES_MAX;
use firmware::output::{AlertId, Call, Gauges, Level, Quantity, Reading, StartStep, Tie};
use firmware::run_in::Advice;
use firmware::units::{CentiPercent, MilliCelsius, MmPerSecond, Span};
use firmware::view::{
    Ahead, AlertView, CallView, LapView, Phase, RunInView, StartAct, StartView, StarterView, Trust, View,
};
use proptest::prelude::*;

/// Every alert there is: whatever the journal's encoding knows (a variant is stored as its position, one byte).
pub fn alerts() -> Vec<AlertId> {
    (0..=u8::MAX).map_while(|position| postcard::from_bytes(&[position]).ok()).collect()
}

/// A boat at rest whose engine is off, before the first gun.
pub fn waiting() -> View {
    View {
        phase: Phase::Waiting,
        race: None,
        zero_sigma: None,
        zero_moved: None,
        call: None,
        laps_done: 0,
        laps_owed: 3,
        last_lap: None,
        speed: None,
        tie: Tie::None,
        gauges: Gauges { egt: Reading::Absent, n1: Reading::Absent, n2: Reading::Absent },
        alert: None,
        alerts_waiting: 0,
        demo_limits: true,
        run_in: None,
        resumed: false,
        finding_zero: false,
        no_course: false,
        offer: None,
        start: None,
        caution: None,
        ahead: None,
        trust: Default::default(),
        survey: None,
    }
}

/// Armed and running: `race_ms` after zero, or before it when negative.
pub fn running(phase: Phase, race_ms: i64) -> View {
    View {
        phase,
        race: Some(Span::from_millis(race_ms)),
        zero_sigma: Some(Span::from_millis(60)),
        speed: Some(MmPerSecond::from_mm_s(63_480)),
        tie: Tie::Pps,
        gauges: Gauges {
            egt: Reading::Good(MilliCelsius::from_milli(715_400)),
            n1: Reading::Good(CentiPercent::from_centi(9_840)),
            n2: Reading::Good(CentiPercent::from_centi(10_120)),
        },
        ..waiting()
    }
}

/// A start call; `margin_ms` negative is early.
pub fn call(call: Call, margin_ms: i64) -> Option<CallView> {
    Some(CallView { call, margin: Span::from_millis(margin_ms), sigma: Span::from_millis(21) })
}

/// A lap that reads 0:52.58 and 171.2 mph.
///
/// A record lap on a course of 2.5 statute miles: 52.584 s, 171.155 mph (newspaper report, September 1995).
pub fn lap() -> Option<LapView> {
    Some(LapView { time: Span::from_millis(52_584), speed: MmPerSecond::from_mm_s(76_513) })
}

/// An alert with others behind it.
pub fn alert(view: View, id: AlertId, level: Level, acknowledged: bool, waiting: u8) -> View {
    View { alert: Some(AlertView { id, level, acknowledged }), alerts_waiting: waiting, ..view }
}

/// Any view at all: extreme numbers, and combinations that no dash would make.
pub fn any_view() -> impl Strategy<Value = View> {
    let heat = (
        any_phase(),
        any_option_span(),
        (any_option_span(), any_option_span()),
        any_call(),
        any::<(u16, u16)>(),
        any_lap(),
    );
    let rest = (
        proptest::option::of(any_speed()),
        any_tie(),
        any_gauges(),
        proptest::option::of(any_alert()),
        any::<u8>(),
        any::<(bool, bool, bool, bool)>(),
        proptest::option::of(any_run_in()),
        (proptest::option::of(any_ahead()), any_trust(), proptest::option::of(any_start())),
    );
    (heat, rest).prop_map(|(heat, rest)| {
        let (phase, race, (zero_sigma, zero_moved), call, (laps_done, laps_owed), last_lap) = heat;
        let (
            speed,
            tie,
            gauges,
            alert,
            alerts_waiting,
            (demo_limits, resumed, finding_zero, no_course),
            run_in,
            watched,
        ) = rest;
        let (ahead, trust, start) = watched;
        View {
            phase,
            race,
            zero_sigma,
            zero_moved,
            call,
            laps_done,
            laps_owed,
            last_lap,
            speed,
            tie,
            gauges,
            alert,
            alerts_waiting,
            demo_limits,
            run_in,
            resumed,
            finding_zero,
            no_course,
            offer: None,
            start,
            caution: alert,
            ahead,
            trust,
            survey: None,
        }
    })
}

/// Every step of a start there is, by its position in the journal's encoding.
pub fn start_steps() -> Vec<StartStep> {
    (0..=u8::MAX).map_while(|position| postcard::from_bytes(&[position]).ok()).collect()
}

/// What to do about a start, each once.
pub const ACTS: [StartAct; 5] = [
    StartAct::FuelOffKeepCranking,
    StartAct::FuelOff,
    StartAct::KeepCranking,
    StartAct::StarterOff,
    StartAct::LetStarterRest,
];

/// Any start at all.
fn any_start() -> impl Strategy<Value = StartView> {
    let starter = prop_oneof![
        Just(StarterView::Free),
        any_span().prop_map(|left| StarterView::On { left }),
        any_span().prop_map(|left| StarterView::Rests { left }),
    ];
    let act = proptest::option::of(proptest::sample::select(ACTS.to_vec()));
    let step = proptest::sample::select(start_steps());
    (step, any_span(), any_option_span(), starter, act, any::<bool>()).prop_map(
        |(step, in_step, to_limit, starter, act, demonstration)| StartView {
            step,
            in_step,
            to_limit,
            starter,
            act,
            demonstration,
        },
    )
}

/// Any limit at hand.
fn any_ahead() -> impl Strategy<Value = Ahead> {
    let quantities = proptest::sample::select(&[Quantity::Egt, Quantity::N1, Quantity::N2][..]);
    let near = prop_oneof![any_span(), (0_i64..120_000).prop_map(Span::from_millis)];
    (quantities, near, any::<bool>()).prop_map(|(quantity, left, is_extrapolated)| Ahead {
        quantity,
        left,
        is_extrapolated,
    })
}

/// Any trust in any probe.
fn any_trust() -> impl Strategy<Value = [Trust; PROBES_MAX]> {
    let each = proptest::sample::select(&[Trust::None, Trust::Sound, Trust::Doubtful, Trust::Out][..]);
    proptest::array::uniform4(each)
}

/// Any run-in at all.
fn any_run_in() -> impl Strategy<Value = RunInView> {
    let words = [
        Advice::NoClock,
        Advice::NoFix,
        Advice::OffCourse,
        Advice::TooUncertain,
        Advice::Hold,
        Advice::Go,
        Advice::Late,
    ];
    let spans = (any_option_span(), any_option_span(), any_span(), any_option_span());
    (proptest::sample::select(words.to_vec()), spans, any::<bool>()).prop_map(
        |(advice, (margin, sigma, hold, wait), demonstration)| RunInView {
            margin,
            sigma,
            hold,
            wait,
            ..RunInView::without(advice, demonstration)
        },
    )
}

/// The run-in of a boat at `margin_ms`, as the dash would show it.
pub fn run_in(advice: Advice, margin_ms: i64) -> Option<RunInView> {
    Some(RunInView {
        margin: Some(Span::from_millis(margin_ms)),
        sigma: Some(Span::from_millis(62)),
        hold: Span::from_millis(145),
        ..RunInView::without(advice, true)
    })
}

/// Any alert at any level.
pub fn any_alert() -> impl Strategy<Value = AlertView> {
    let levels = proptest::sample::select(&[Level::Advisory, Level::Caution, Level::Warning][..]);
    (proptest::sample::select(alerts()), levels, any::<bool>())
        .prop_map(|(id, level, acknowledged)| AlertView { id, level, acknowledged })
}

/// Spans of every size, the ends of the range among them.
pub fn any_span() -> impl Strategy<Value = Span> {
    prop_oneof![
        any::<i64>(),
        -400_000_000_i64..400_000_000,
        -2_000_000_i64..2_000_000,
        Just(i64::MIN),
        Just(i64::MAX),
        Just(0_i64),
    ]
    .prop_map(Span::from_micros)
}

fn any_option_span() -> impl Strategy<Value = Option<Span>> {
    proptest::option::of(any_span())
}

fn any_number(usual: i32) -> impl Strategy<Value = i32> {
    prop_oneof![any::<i32>(), 0..usual, Just(i32::MIN), Just(i32::MAX)]
}

fn any_speed() -> impl Strategy<Value = MmPerSecond> {
    any_number(100_000).prop_map(MmPerSecond::from_mm_s)
}

fn any_phase() -> impl Strategy<Value = Phase> {
    let all = [Phase::Waiting, Phase::Milling, Phase::Window, Phase::Late, Phase::Racing, Phase::Finished];
    proptest::sample::select(all.to_vec())
}

fn any_tie() -> impl Strategy<Value = Tie> {
    proptest::sample::select(vec![Tie::None, Tie::Arrivals, Tie::Pps, Tie::Holdover, Tie::Told])
}

fn any_call() -> impl Strategy<Value = Option<CallView>> {
    let calls = proptest::sample::select(vec![Call::Early, Call::Legal, Call::TooClose]);
    proptest::option::of((calls, any_span(), any_span()).prop_map(|(call, margin, sigma)| CallView {
        call,
        margin,
        sigma,
    }))
}

fn any_lap() -> impl Strategy<Value = Option<LapView>> {
    proptest::option::of((any_span(), any_speed()).prop_map(|(time, speed)| LapView { time, speed }))
}

fn any_gauges() -> impl Strategy<Value = Gauges> {
    let egt = any_reading(1_000_000);
    (egt, any_reading(12_000), any_reading(12_000)).prop_map(|(egt, n1, n2)| Gauges {
        egt: map(egt, MilliCelsius::from_milli),
        n1: map(n1, CentiPercent::from_centi),
        n2: map(n2, CentiPercent::from_centi),
    })
}

fn any_reading(usual: i32) -> impl Strategy<Value = Reading<i32>> {
    prop_oneof![Just(Reading::Absent), Just(Reading::Fault), any_number(usual).prop_map(Reading::Good)]
}

fn map<T>(reading: Reading<i32>, unit: impl Fn(i32) -> T) -> Reading<T> {
    match reading {
        Reading::Absent => Reading::Absent,
        Reading::Fault => Reading::Fault,
        Reading::Good(value) => Reading::Good(unit(value)),
    }
}
