//! One fix's forecast, with its error bar, and what it means for the driver at a moment soon after.
//!
//! The margin's sigma has these parts, by root of the sum of squares: zero; the place along the lane and the
//! speed, as what they are worth in time at the run's end; the boat's pull, bends and lag, each by what the
//! forecast rests on it. To that comes, in what is shown alone, what he may have gained unseen: between the word
//! and the first fix whose pull shows that he has gone. The margin to hold knows nothing of it: at the moment of
//! the word no throttle is open yet.
//!
//! Knows the planner. A place, a speed and zero in; margin, word and waiting time out.

use super::motion::MEMORY;
use super::planner::{Forecast, Planner, Standing};
use super::risk::{self, Advice};
use super::{Aim, RunInSettings};
use crate::units::{Millimetres, MmPerSecond, Span, Utc, mul_div};
use crate::view::RunInView;

/// What a fix says of the boat on its lane.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seen {
    pub at: Utc,
    /// From the bow.
    pub to_line: Millimetres,
    pub speed: MmPerSecond,
    /// Its acceleration, mm/s^2.
    pub pull_mm_s2: i32,
}

/// So many standard deviations of a pull's noise are nothing, and so many are a throttle that has been opened. Between
/// them the forecast goes from the one to the other, so that no noise makes it jump.
const HOLDS_SDS: i64 = 3;
const OPENS_SDS: i64 = 6;

/// This share of the full pull is never a driver who holds his speed, however noisy the receiver.
const OPENS_PERMILLE: i64 = 150;

/// From this share on he has gone.
const GOES_PERMILLE: i64 = 500;

/// A boat whose full pull is less, mm/s^2, is near its top speed: that she does not gain says nothing of the throttle.
const IDLE_PULL: i64 = 1_500;

/// How well the boat's pull tells since when the throttle has been open: one standard deviation. The noise of the
/// smoothed pull is worth up to a tenth of a second, and a foot does not fall at once.
const OPENING_SD: Span = Span::from_millis(150);

/// A throttle that was opened so long before the fix shows in it.
const UNSEEN: Span = Span::from_millis(400);

/// While he may have gone unseen the truth lies anywhere between not at all and all of it: as a standard deviation,
/// so much of all of it, in millionths. Found by drawn starts, so that the bar holds the truth as often as it says.
const UNSEEN_PPM: i64 = 600_000;

/// By so much an ease shortly before the line brings a boat back: half a second's lift costs as much 3 s before it,
/// and more than twice that far out. Common practice, no source.
const EASE_GIVES: Span = Span::from_millis(150);

/// Having gone, he eases below four fifths of the margin to hold: an ease is no finer than that.
const GONE_HOLDS: (i64, i64) = (4, 5);

/// Until so long before the line a driver who would be early after all can still ease; common practice, no source.
const EASES_UNTIL: Span = Span::from_secs(3);

/// The way to wait is sought in so many steps at most, and until it changes by less than 2 ms.
const WAIT_STEPS: usize = 4;
const WAIT_EXACT: Span = Span::from_millis(2);

/// One, where a share is in millionths.
const ONE: i64 = 1_000_000;

/// A forecast and what is needed to carry it on.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plan {
    at: Utc,
    to_line: Millimetres,
    going: bool,
    /// He could pull and does not.
    idle: bool,
    crossing: Utc,
    /// By how much the crossing moves back while he waits, in millionths of the time waited.
    growth: i64,
    /// Since when he has been told to go, as long as no pull shows that he has.
    told: Option<Utc>,
    own_sigma: Span,
    /// The part of it that no later fix makes smaller: the place's.
    place_sigma: Span,
    /// How long he may wait, counted from the fix.
    wait: Option<Span>,
    steady: Option<MmPerSecond>,
}

/// What a run-in that begins after a wait comes to.
struct Run {
    /// From the fix to the crossing.
    time: Span,
    forecast: Forecast,
}

impl Plan {
    pub fn new(
        seen: &Seen,
        planner: &Planner,
        settings: &RunInSettings,
        (aim, before): (Option<&Aim>, Option<&Plan>),
        (place_sd, speed_sd): (Span, i32),
    ) -> Self {
        let opening = Opening::new(seen, planner, speed_sd);
        let going = opening.share_permille >= GOES_PERMILLE;
        let response = part(settings.response, ONE - opening.seen, ONE);
        let standing = opening.standing(seen, response);
        let forecast = planner.forecast(&standing);
        let run = Run { time: response + opening.idle + forecast.time, forecast };
        let growth = growth(seen.speed, &run.forecast);
        let spool_sd = part(OPENING_SD, opening.seen, ONE);
        let sigmas = own_sigmas(&run.forecast, seen.speed, settings, (place_sd, speed_sd, spool_sd));
        let mut plan = Self {
            at: seen.at,
            to_line: seen.to_line,
            going,
            idle: opening.seen == 0 && i64::from(planner.pull_mm_s2(seen.speed)) >= IDLE_PULL,
            crossing: seen.at.plus(run.time),
            growth: mul_div(growth, ONE - opening.seen, ONE),
            told: None,
            own_sigma: Span::root_sum_square(&sigmas),
            place_sigma: sigmas[0],
            wait: None,
            steady: None,
        };
        if let Some(aim) = aim {
            let left = aim.zero.since(seen.at) + plan.hold(seen.at, aim, settings.risk_ppm);
            let elapsed = before.map_or(Span::ZERO, |before| seen.at.since(before.at));
            let guess = before.and_then(|before| Some(before.wait? - elapsed));
            plan.wait =
                if going { None } else { wait(seen, planner, settings.response, &run, (left, guess)) };
            plan.steady = steady(seen, planner, left);
            let goes =
                opening.seen < ONE && plan.margin(seen.at, aim) >= plan.hold(seen.at, aim, settings.risk_ppm);
            plan.told = if goes { before.and_then(|before| before.told).or(Some(seen.at)) } else { None };
        }
        plan
    }

    pub const fn is_going(&self) -> bool {
        self.going
    }

    pub const fn is_idle(&self) -> bool {
        self.idle
    }

    pub const fn crossing(&self) -> Utc {
        self.crossing
    }

    pub const fn own_sigma(&self) -> Span {
        self.own_sigma
    }

    /// The margin to hold at a moment (rule G7).
    fn hold(&self, at: Utc, aim: &Aim, risk_ppm: u32) -> Span {
        let hold = |own: Span| risk::hold(Span::root_sum_square(&[aim.sigma, own]), risk_ppm);
        match self.crossing.since(at) > EASES_UNTIL {
            true if self.going => (hold(self.place_sigma) - EASE_GIVES).max(Span::ZERO),
            true => hold(self.place_sigma),
            false if self.going => part(hold(self.own_sigma), GONE_HOLDS.0, GONE_HOLDS.1),
            false => hold(self.own_sigma),
        }
    }

    /// The margin at a moment not long after the fix.
    fn margin(&self, now: Utc, aim: &Aim) -> Span {
        let waited = now.since(self.at).max(Span::ZERO);
        self.crossing.plus(part(waited, self.growth, ONE)).since(aim.zero)
    }

    /// By how much sooner he may cross, because he has gone by now and no fix shows it yet.
    fn unseen(&self, now: Utc, response: Span) -> Span {
        let since = self.told.map_or(Span::ZERO, |told| now.since(told));
        part(since.min(response + UNSEEN).max(Span::ZERO), self.growth, ONE)
    }

    /// What it comes to at a moment not long after the fix.
    pub fn view(&self, now: Utc, aim: &Aim, settings: &RunInSettings) -> RunInView {
        let waited = now.since(self.at).max(Span::ZERO);
        let margin = self.margin(now, aim);
        let unseen = part(self.unseen(now, settings.response), UNSEEN_PPM, ONE);
        let sigma = Span::root_sum_square(&[aim.sigma, self.own_sigma, unseen]);
        let hold = self.hold(now, aim, settings.risk_ppm);
        let advice = risk::advise(margin, sigma, hold, settings.sigma_most);
        let known = advice != Advice::TooUncertain;
        RunInView {
            advice,
            margin: known.then_some(margin),
            sigma: Some(sigma),
            hold,
            wait: self.wait.filter(|_| known).map(|wait| (wait - waited).max(Span::ZERO)),
            steady: self.steady.filter(|_| known),
            to_line: Some(self.to_line),
            demonstration: settings.boat.demonstration,
        }
    }
}

/// `span * of / whole`.
fn part(span: Span, of: i64, whole: i64) -> Span {
    Span::from_micros(mul_div(span.as_micros(), of, whole))
}

/// What a boat's pull says of its throttle.
struct Opening {
    /// Of the full pull.
    share_permille: i64,
    /// How far that shows a throttle that is open, in millionths.
    seen: i64,
    /// How long it has been open.
    open_for: Span,
    /// How long after it is opened the boat still slows down: the engine turns more slowly than her speed takes.
    idle: Span,
    /// What she loses meanwhile.
    loss: MmPerSecond,
}

impl Opening {
    fn new(seen: &Seen, planner: &Planner, speed_sd: i32) -> Self {
        let full = i64::from(planner.pull_mm_s2(seen.speed).max(1));
        let pull = i64::from(seen.pull_mm_s2);
        let share_permille = mul_div(pull, 1_000, full);
        let noise = i64::from(speed_sd) * NOISE_PER_S / 10;
        let opens = (OPENS_SDS * noise).min(full * OPENS_PERMILLE / 1_000).max(1);
        let holds = opens * HOLDS_SDS / OPENS_SDS;
        let shows = mul_div(pull - holds, ONE, opens - holds).clamp(0, ONE);
        let share = i32::try_from(share_permille.clamp(-1_000, 1_000)).unwrap_or(0);
        let none = Self {
            share_permille,
            seen: shows,
            open_for: Span::ZERO,
            idle: Span::ZERO,
            loss: MmPerSecond::ZERO,
        };
        if pull < -opens {
            let (idle, loss) = planner.idle(share);
            let loss = mul_div(loss.as_micros(), full, ONE);
            return Self { idle, loss: MmPerSecond::from_mm_s(i32::try_from(loss).unwrap_or(0)), ..none };
        }
        // The smoothed pull is behind. After a time t it shows t^2 / (2 lag MEMORY) of a pull that grows as t / lag,
        // and later the pull of MEMORY before: x (x + 2 MEMORY) = t^2 has both, where x is what the share itself says.
        let milli = |span: Span| u32::try_from(span.as_micros() / 1_000).unwrap_or(0);
        let shown = milli(planner.open_for(share));
        let open_for = shown.saturating_mul(shown.saturating_add(2 * milli(MEMORY))).isqrt();
        let open_for = Span::from_millis(i64::from(open_for));
        Self { open_for: part(open_for, shows, ONE), ..none }
    }

    fn standing(&self, seen: &Seen, response: Span) -> Standing {
        let after = after(seen, response + self.idle, self.open_for);
        Standing { speed: after.speed - self.loss, ..after }
    }
}

/// The noise of the smoothed pull for each mm/s of a speed's, in tenths of a mm/s^2.
///
/// Ten fixes a second and MEMORY weigh each step of speed by w = 0.2, the one before by 0.8 w, and so on: of white
/// noise comes 10 w root(1 + w^2 / (1 - (1 - w)^2)) = 2.1.
const NOISE_PER_S: i64 = 21;

/// Where he is after waiting at his present speed.
fn after(seen: &Seen, wait: Span, open_for: Span) -> Standing {
    let waited = mul_div(i64::from(seen.speed.as_mm_s()), wait.as_micros(), ONE);
    let to_line = (seen.to_line - Millimetres::from_mm(waited)).max(Millimetres::ZERO);
    Standing { to_line, speed: seen.speed, open_for }
}

/// One less present speed over the speed at the end of the free run: nothing for a boat that cannot go faster.
fn growth(speed: MmPerSecond, forecast: &Forecast) -> i64 {
    let end = i64::from(forecast.free_speed.as_mm_s()).max(1);
    (ONE - mul_div(i64::from(speed.as_mm_s()), ONE, end)).clamp(0, ONE)
}

/// The parts of the error bar that are the boat's and the receiver's own.
fn own_sigmas(
    forecast: &Forecast,
    speed: MmPerSecond,
    settings: &RunInSettings,
    (place_sd, speed_sd, spool_sd): (Span, i32, Span),
) -> [Span; 6] {
    let boat = &settings.boat;
    let (speed, end) = (i64::from(speed.as_mm_s()), i64::from(forecast.free_speed.as_mm_s()));
    [
        part(place_sd, ONE, end.max(1_000)),
        part(forecast.by_speed, i64::from(speed_sd), speed.max(1_000)),
        part(forecast.by_pull, i64::from(boat.pull_sd_permille), 1_000),
        part(forecast.by_bends, i64::from(boat.bend_sd_permille), 1_000),
        part(boat.lag_sd, i64::from(forecast.by_lag_permille), 1_000),
        part(spool_sd, i64::from(forecast.by_lag_permille), 1_000),
    ]
}

/// How long he may still wait before going, so that he crosses when `left` has gone by.
///
/// The crossing after a wait is a rising and hollow function of it, so Newton's steps find it from either side;
/// they begin at `guess`, what the fix before has found. `None`: however long he waits at this speed, he would be
/// too early; he has to slow down.
fn wait(
    seen: &Seen,
    planner: &Planner,
    response: Span,
    now: &Run,
    (left, guess): (Span, Option<Span>),
) -> Option<Span> {
    if now.time >= left {
        return Some(Span::ZERO);
    }
    let speed = i64::from(seen.speed.as_mm_s()).max(1);
    let holding = Span::from_micros(mul_div(seen.to_line.as_mm(), ONE, speed));
    if holding <= left {
        return None;
    }
    let most = (holding - response).max(Span::ZERO);
    let newton = |waited: Span, time: Span, forecast: &Forecast| {
        let growth = growth(seen.speed, forecast).max(ONE / 50);
        let step = mul_div((left - time).as_micros(), ONE, growth);
        (waited + Span::from_micros(step)).min(most).max(Span::ZERO)
    };
    let mut waited = guess
        .map_or_else(|| newton(Span::ZERO, now.time, &now.forecast), |guess| guess.min(most).max(Span::ZERO));
    for _ in 0..WAIT_STEPS {
        let before = waited;
        let forecast = planner.crossing(&after(seen, before + response, Span::ZERO));
        waited = newton(before, before + response + forecast.time, &forecast);
        if (waited - before).abs() < WAIT_EXACT {
            break;
        }
    }
    Some(waited)
}

/// The steady speed that brings him to the line when `left` has gone by; `None` where a bend does not allow it.
fn steady(seen: &Seen, planner: &Planner, left: Span) -> Option<MmPerSecond> {
    if left <= Span::ZERO {
        return None;
    }
    let speed = mul_div(seen.to_line.as_mm(), ONE, left.as_micros());
    let speed = MmPerSecond::from_mm_s(i32::try_from(speed).ok()?);
    (speed <= planner.slowest(seen.to_line)).then_some(speed)
}
