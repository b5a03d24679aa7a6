//! The course as a picture: north up, one scale both ways, a scale bar, and how well each mark is known.
//!
//! Ellipses are two standard deviations, nineteen in twenty, drawn larger than they are by a factor that is written below:
//! at the map's own scale nobody would see them.
//!
//! Knows the survey. A survey in, an SVG out.

use maud::{Markup, html};

use super::ground::Point;
use super::lane::Lane;
use super::role::Role;
use super::{Asked, Survey};

/// The picture's width; its height follows from the course.
const WIDTH: f64 = 900.0;
/// Round the map.
const MARGIN: f64 = 70.0;
/// Below the map: scale bar and words.
const FOOT: f64 = 92.0;
const INK: &str = "#1a1a1a";
const WATER: &str = "#f4f8fb";
const LANE: &str = "#0072b2";
const LINE: &str = "#d55e00";
const DOUBT: &str = "#a87400";

/// Draws it.
#[must_use]
pub fn draw(survey: &Survey, asked: &Asked) -> String {
    let sheet = Sheet::of(survey);
    let (width, height) = (WIDTH, sheet.height + FOOT);
    let times = times(survey, asked, &sheet);
    let drawing = html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {width:.0} {height:.0}")) width=(format!("{width:.0}"))
            height=(format!("{height:.0}")) font-family="sans-serif" font-size="13" fill=(INK) role="img"
            aria-label="The course from above, north up" {
            title { "Course by survey" }
            rect width="100%" height="100%" fill="white" {}
            rect x="10" y="10" width=(format!("{:.0}", width - 20.0)) height=(format!("{:.0}", sheet.height - 20.0)) fill=(WATER) stroke="#c5d3de" {}
            @if let Some(laid) = &survey.laid { (lane(&laid.lane, survey, &sheet, asked)) }
            (turns(survey, &sheet))
            (line(survey, &sheet))
            (marks(survey, asked, &sheet, times))
            (north())
            (foot(survey, &sheet, times))
        }
    };
    format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}\n", drawing.into_string())
}

/// The paper: which point of the plane lies where.
struct Sheet {
    west: f64,
    north: f64,
    /// Pixels for each metre.
    scale: f64,
    height: f64,
}

impl Sheet {
    fn of(survey: &Survey) -> Self {
        let draft = &survey.draft;
        let mut all: Vec<_> = draft.marks.iter().map(|mark| draft.ground.point(mark.at)).collect();
        for turn in &draft.turns {
            for (east, north) in [(1.0, 1.0), (-1.0, -1.0)] {
                all.push(turn.centre.plus(Point { east, north }, turn.radius_m));
            }
        }
        all.extend(survey.laid.iter().flat_map(|laid| laid.lane.points.iter().copied()));
        let least = |of: fn(&Point) -> f64| all.iter().map(of).fold(f64::MAX, f64::min);
        let most = |of: fn(&Point) -> f64| all.iter().map(of).fold(f64::MIN, f64::max);
        let (west, east) = (least(|point| point.east), most(|point| point.east));
        let (south, north) = (least(|point| point.north), most(|point| point.north));
        let (wide, high) = ((east - west).max(20.0), (north - south).max(20.0));
        let scale = ((WIDTH - 2.0 * MARGIN) / wide).min(760.0 / high);
        let spare = WIDTH - 2.0 * MARGIN - wide * scale;
        Self { west: west - spare / 2.0 / scale, north, scale, height: high * scale + 2.0 * MARGIN }
    }

    fn at(&self, point: Point) -> (f64, f64) {
        (MARGIN + (point.east - self.west) * self.scale, MARGIN + (self.north - point.north) * self.scale)
    }

    fn path(&self, points: impl IntoIterator<Item = Point>) -> String {
        let pair = |point| {
            let (x, y) = self.at(point);
            format!("{x:.1},{y:.1}")
        };
        points.into_iter().map(pair).collect::<Vec<_>>().join(" ")
    }
}

fn lane(lane: &Lane, survey: &Survey, sheet: &Sheet, asked: &Asked) -> Markup {
    let middle = sheet.path(lane.points.iter().copied());
    let wide = (asked.lane_width_m * sheet.scale).max(3.0);
    let arrow = survey.laid.as_ref().and_then(|laid| laid.meets).map(|meets| {
        let (ahead, left) = (meets.direction, meets.direction.left());
        let pixels = |count: f64| count / sheet.scale;
        let from = meets.at.plus(ahead, pixels(18.0));
        let tip = from.plus(ahead, pixels(34.0));
        let barb = |side: f64| tip.plus(ahead, pixels(-12.0)).plus(left, pixels(7.0 * side));
        (sheet.path([from, tip]), sheet.path([barb(1.0), tip, barb(-1.0)]))
    });
    html! {
        polygon points=(middle) fill="none" stroke=(LANE) stroke-opacity="0.18" stroke-width=(format!("{wide:.1}")) stroke-linejoin="round" {}
        polygon points=(middle) fill="none" stroke=(LANE) stroke-width="1.5" stroke-dasharray="7 4" {}
        @if let Some((shaft, head)) = arrow {
            polyline points=(shaft) fill="none" stroke=(LANE) stroke-width="3" {}
            polyline points=(head) fill="none" stroke=(LANE) stroke-width="3" {}
        }
    }
}

fn turns(survey: &Survey, sheet: &Sheet) -> Markup {
    html! {
        @for turn in &survey.draft.turns {
            @let (x, y) = sheet.at(turn.centre);
            circle cx=(format!("{x:.1}")) cy=(format!("{y:.1}")) r=(format!("{:.1}", turn.radius_m * sheet.scale)) fill="none" stroke="#7a8a99" stroke-width="1" {}
            path d=(format!("M{:.1} {y:.1}h8M{x:.1} {:.1}v8", x - 4.0, y - 4.0)) stroke="#7a8a99" {}
            text x=(format!("{x:.1}")) y=(format!("{:.1}", y + 22.0)) text-anchor="middle" { "turn " (turn.number) }
            text x=(format!("{x:.1}")) y=(format!("{:.1}", y + 38.0)) text-anchor="middle" font-size="11" { (format!("radius {:.1} m", turn.radius_m)) }
        }
    }
}

fn line(survey: &Survey, sheet: &Sheet) -> Markup {
    html! {
        @if let Some(line) = &survey.line {
            polyline points=(sheet.path([line.left, line.right])) stroke=(LINE) stroke-width="3" {}
        }
    }
}

fn marks(survey: &Survey, asked: &Asked, sheet: &Sheet, times: f64) -> Markup {
    html! {
        @for mark in &survey.draft.marks {
            @let (x, y) = sheet.at(survey.draft.ground.point(mark.at));
            @let (long, short, turn) = Survey::spread_of(mark, asked).ellipse();
            @let drawn = |sd: f64| format!("{:.1}", 2.0 * sd * sheet.scale * times);
            ellipse rx=(drawn(long)) ry=(drawn(short)) transform=(format!("translate({x:.1} {y:.1}) rotate({:.1})", -turn))
                fill=(DOUBT) fill-opacity="0.12" stroke=(DOUBT) stroke-dasharray=(if mark.spread.is_some() { "none" } else { "3 3" }) {}
            circle cx=(format!("{x:.1}")) cy=(format!("{y:.1}")) r="4" fill=(if is_line(mark.role) { LINE } else { INK }) {}
            @if let Some((anchor, dx)) = label(mark.role, survey) {
                text x=(format!("{:.1}", x + dx)) y=(format!("{:.1}", y - 9.0)) text-anchor=(anchor) font-weight="bold" { (mark.role) }
            }
        }
    }
}

fn is_line(role: Role) -> bool {
    matches!(role, Role::LineLeft | Role::LineRight)
}

/// Where a mark's words stand: the line's ends away from each other; buoys have none, their turn has.
fn label(role: Role, survey: &Survey) -> Option<(&'static str, f64)> {
    let eastwards = survey.line.is_none_or(|line| line.left.to(line.right).east >= 0.0);
    match (role, eastwards) {
        (Role::LineLeft, true) | (Role::LineRight, false) => Some(("end", -8.0)),
        (Role::LineRight, true) | (Role::LineLeft, false) => Some(("start", 8.0)),
        (Role::Entrance, _) => Some(("start", 8.0)),
        (Role::Centre(_) | Role::Buoy(_), _) => None,
    }
}

/// So many times larger are ellipses drawn: 1, 2, 5, 10 and so on, the largest of them up to about 34 pixels.
fn times(survey: &Survey, asked: &Asked, sheet: &Sheet) -> f64 {
    let widest =
        survey.draft.marks.iter().map(|mark| Survey::spread_of(mark, asked).ellipse().0).fold(0.01, f64::max);
    let room = 34.0 / (2.0 * widest * sheet.scale);
    let steps = (0..6).flat_map(|power| [1.0, 2.0, 5.0].map(|step| step * 10_f64.powi(power)));
    steps.take_while(|times| *times <= room).last().unwrap_or(1.0)
}

fn north() -> Markup {
    html! {
        g transform="translate(40 62)" {
            path d="M0 -34L9 0L0 -7L-9 0Z" fill=(INK) {}
            text text-anchor="middle" y="18" font-weight="bold" { "N" }
        }
    }
}

fn foot(survey: &Survey, sheet: &Sheet, times: f64) -> Markup {
    let bar = [5_000.0, 2_000.0, 1_000.0, 500.0, 200.0, 100.0, 50.0, 20.0, 10.0, 5.0];
    let bar = bar.into_iter().find(|metres| metres * sheet.scale <= 220.0).unwrap_or(5.0);
    let long = bar * sheet.scale;
    let y = sheet.height + 16.0;
    let mut says = Vec::new();
    says.extend(
        survey.line.map(|line| format!("line {:.2} m, known to {:.2} m across", line.length_m, line.sd_m)),
    );
    says.extend(survey.skew_deg.map(|skew| format!("{:.2} degrees off square", skew.abs())));
    says.extend(
        survey.laid.as_ref().map(|laid| format!("lap {:.2} m along the lane's middle", laid.lane.length_m)),
    );
    let stands = if survey.stands() {
        "The checks find nothing wrong."
    } else {
        "THIS COURSE DOES NOT STAND: see the checks."
    };
    html! {
        path d=(format!("M20 {:.1}v8h{long:.1}v-8", y)) fill="none" stroke=(INK) stroke-width="1.5" {}
        text x=(format!("{:.1}", 28.0 + long)) y=(format!("{:.1}", y + 8.0)) { (format!("{bar:.0} m")) }
        text x=(format!("{:.1}", WIDTH - 20.0)) y=(format!("{:.1}", y + 8.0)) text-anchor="end" fill=(DOUBT) {
            (format!("ellipses: two standard deviations, drawn {times:.0} times as large; broken where assumed"))
        }
        text x="20" y=(format!("{:.1}", y + 32.0)) { (says.join("; ")) }
        text x="20" y=(format!("{:.1}", y + 54.0)) font-weight="bold" { (stands) " Not a sanctioned survey: the officials' rules for courses hold." }
    }
}
