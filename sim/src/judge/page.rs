//! A judgement as one page that prints: integrity, both verdicts, pictures, timeline, exceedances, settings.
//!
//! Nothing is fetched from anywhere; `@page` and the sheet's own rules serve A4 and Letter alike.
//!
//! A judgement in, HTML out.

use std::io;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::compare::{Compared, Figure, told};
use super::fleet::{self, Fleet};
use super::picture::Reach;
use super::{Answer, Judgement, picture, text};
use crate::report::{calibrations, settings, suffered};
use crate::{timeline, words};

const STYLE: &str = concat!(include_str!("../report/page.css"), include_str!("page.css"));

/// The page of one record.
///
/// # Errors
/// Whatever the drawing library could not do.
pub fn page(name: &str, judgement: &Judgement) -> io::Result<String> {
    let pictures = [
        (picture::bars(judgement)?, BARS),
        (picture::across_the_line(judgement, Reach::WholeLine)?, TRACK),
        (picture::across_the_line(judgement, Reach::Close)?, CLOSE),
        (picture::times(judgement)?, TIMES),
    ];
    let body = html! {
        header {
            h1 { "A record judged: " (name) }
            p.caution { strong { (words::CAUTION) } }
            p class=(class(judgement.answer())) { (text::answer(judgement.answer())) }
        }
        main {
            section { h2 { "Both verdicts" } (reservation(judgement)) (both(&judgement.compared)) }
            section { h2 { "The record itself" } (plain(&text::rows(judgement))) }
            section { h2 { "What it rests on" } (plain(&text::race_rows(judgement))) }
            @for (svg, caption) in &pictures {
                figure {
                    div role="img" aria-label=(caption) { (PreEscaped(svg)) }
                    figcaption { (caption) }
                }
            }
            (exceedances(judgement))
            (suffered::section(&judgement.log))
            (events(judgement))
            section { h2 { "Calibrations" } (plain(&calibrations::rows(&judgement.log.settings, Some(judgement.log.zero_utc)))) }
            section { h2 { "Settings used" } (plain(&settings::rows(&judgement.log.settings))) }
        }
        footer {
            p { "SHA-256 over all decisions: " code { (timeline::hex(&judgement.log.digest)) } }
            p { "A second computation shows that the arithmetic is right. It does not show that the inputs are what \
                 happened: a button pressed by a finger is a button pressed. " (words::CAUTION) }
        }
    };
    Ok(sheet(&format!("Judged: {name}"), &body))
}

const BARS: &str = "The start by both: crossing less zero, with one and two standard deviations. Left of the line is \
                    early.";
const TRACK: &str =
    "The bow across the start line, to scale, two seconds to either side of the start. Dots: fixes.";
const CLOSE: &str =
    "The same from near: the bar at the crossing is one and two standard deviations of the bow's place.";
const TIMES: &str = "The heat in time: zero, crossings and what they counted as, by the second opinion.";

fn sheet(title: &str, body: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body { (body) }
        }
    };
    page.into_string()
}

const fn class(answer: Answer) -> &'static str {
    match answer {
        Answer::Good => "verdict good",
        Answer::NotWhole => "verdict",
        _ => "verdict bad",
    }
}

fn reservation(judgement: &Judgement) -> Markup {
    html! {
        @if judgement.is_reserved() {
            p.bad { strong { "Shown for the record only: nothing in this section is established." } }
        }
        p.note { "± is one standard deviation. The call is advice: the officials decide." }
    }
}

fn both(rows: &[Compared]) -> Markup {
    let said = |said: Option<(Figure, Option<_>)>, what: &str| {
        said.map_or("nothing".into(), |(figure, call)| told(figure, call, what))
    };
    html! {
        table.wide {
            thead { tr { th { "" } th { "the dash" } th { "second opinion" } th { "difference" } } }
            tbody { @for row in rows { tr class=[(!row.agrees).then_some("bad")] {
                th scope="row" { (row.what) }
                td { (said(row.dash, &row.what)) }
                td { (said(row.second, &row.what)) }
                td { (text::difference(row)) }
            } } }
        }
    }
}

fn plain(rows: &[(&'static str, String)]) -> Markup {
    html! {
        table.plain.wide { @for (name, text) in rows { tr { th scope="row" { (name) } td { (text) } } } }
    }
}

fn exceedances(judgement: &Judgement) -> Markup {
    let seen = &judgement.summary.exceedances;
    html! {
        section {
            h2 { "Engine limits exceeded" }
            @if judgement.log.settings.engine.demonstration { p.note { "Held against " (words::DEMONSTRATION) "." } }
            @if seen.is_empty() { p { "None was called." } } @else {
                table.wide {
                    thead { tr { th.number { "race time" } th { "what" } th.number { "limit" } th.number { "peak" }
                        th.number { "above for (s)" } } }
                    tbody { @for exceeded in seen { tr {
                        td.number { (words::clock(exceeded.t)) }
                        td { (words::quantity(exceeded.quantity)) }
                        td.number { (words::amount(exceeded.quantity, exceeded.threshold)) }
                        td.number { (words::amount(exceeded.quantity, exceeded.peak)) }
                        td.number { (words::seconds(exceeded.above)) }
                    } } }
                }
            }
        }
    }
}

fn events(judgement: &Judgement) -> Markup {
    html! {
        section {
            h2 { "What happened" }
            table.wide {
                thead { tr { th.number { "race time" } th { "what" } } }
                tbody { @for event in timeline::events(&judgement.log) { tr {
                    td.number { (words::clock(event.t)) }
                    td { (event.text) }
                } } }
            }
        }
    }
}

/// The page of a fleet.
#[must_use]
pub fn fleet_page(of: &Fleet) -> String {
    let body = html! {
        header {
            h1 { "A heat by several records" }
            p.caution { strong { (words::CAUTION) } }
            p { (fleet::how(of)) }
        }
        main {
            @for (title, order) in [("Order of starting", &of.starts), ("Order of finish", &of.finishes)] {
                section {
                    h2 { (title) }
                    @if order.is_empty() { p { "None in these records." } } @else {
                        table.wide {
                            thead { tr { th.number { "place" } th { "record" } th.number { "behind (s)" }
                                th.number { "± (s)" } th { "remarks" } } }
                            tbody { @for boat in order { tr {
                                td.number { (boat.place) @if fleet::is_tied(order, boat) { "=" } }
                                td { (boat.name) }
                                td.number { (format!("{:+.3}", boat.behind_s)) }
                                td.number { (format!("{:.3}", boat.sigma_s)) }
                                td { (fleet::remark(boat)) }
                            } } }
                        }
                    }
                }
            }
            @if !of.without.is_empty() {
                section {
                    h2 { "Not placed" }
                    @for (name, what) in &of.without { p { (name) ": " (what) " in the record" } }
                }
            }
        }
        footer { p { (words::CAUTION) } }
    };
    sheet("A heat by several records", &body)
}
