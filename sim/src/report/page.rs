//! One page that holds the whole report: texts, tables and pictures, with nothing fetched from anywhere.
//!
//! Knows the log, the words and the finished pictures. A log in, HTML out.

use firmware::units::Span;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{calibrations, settings, suffered};
use crate::log::Log;
use crate::summary::{Called, Summary};
use crate::{timeline, words};

const STYLE: &str = include_str!("page.css");

/// A finished picture: SVG text, and what it shows.
pub struct Picture {
    /// SVG text.
    pub svg: String,
    /// What a reader should look for.
    pub caption: &'static str,
}

/// The page.
#[must_use]
pub fn page(log: &Log, summary: &Summary, pictures: &[Picture]) -> String {
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (log.title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                (header(log, summary))
                main {
                    (start(log, summary))
                    (laps(log, summary))
                    @for picture in pictures { (figure(picture)) }
                    (exceedances(log, summary))
                    (suffered::section(log))
                    (alerts(summary))
                    (events(log))
                    (settings_used(log))
                }
                (footer(log))
            }
        }
    };
    markup.into_string()
}

fn header(log: &Log, summary: &Summary) -> Markup {
    html! {
        header {
            h1 { (log.title) }
            p.caution { strong { (words::CAUTION) } }
            table.plain {
                @for (name, text) in timeline::header_rows(log, summary.scale) {
                    tr { th scope="row" { (name) } td { (text) } }
                }
            }
        }
    }
}

fn start(log: &Log, summary: &Summary) -> Markup {
    let rows = timeline::summary_rows(log, summary);
    let rows = rows.iter().filter(|(name, _)| matches!(*name, "zero" | "truth" | "owed" | "finish"));
    html! {
        section {
            h2 { "Start" }
            p.verdict { (verdict(summary.call)) }
            p.note { "± is one standard deviation. The call is advice: the officials decide." }
            table.plain {
                @for (name, text) in rows { tr { th scope="row" { (name) } td { (text) } } }
            }
        }
    }
}

fn verdict(called: Option<Called>) -> String {
    called.map_or("No start was called".into(), |called| {
        words::verdict(called.call, called.margin, called.sigma)
    })
}

fn laps(log: &Log, summary: &Summary) -> Markup {
    let units = log.settings.screen.units;
    html! {
        section {
            h2 { "Laps" }
            @if summary.laps.is_empty() { p { "No lap was completed." } } @else {
                table {
                    thead { tr {
                        th { "lap" } th.number { "time" } th.number { "± (s)" }
                        th.number { "speed (" (words::speed_unit(units)) ")" }
                    } }
                    tbody { @for lap in &summary.laps { tr {
                        td { (lap.lap) }
                        td.number { (words::run_time(lap.time)) }
                        td.number { (words::sigma(lap.sigma)) }
                        td.number { (words::speed(lap.speed, units).split(' ').next().unwrap_or_default()) }
                    } } }
                }
            }
        }
    }
}

fn figure(picture: &Picture) -> Markup {
    html! {
        figure {
            div role="img" aria-label=(picture.caption) { (PreEscaped(&picture.svg)) }
            figcaption { (picture.caption) }
        }
    }
}

fn exceedances(log: &Log, summary: &Summary) -> Markup {
    html! {
        section {
            h2 { "Engine limits exceeded" }
            @if log.settings.engine.demonstration { p.note { "Held against " (words::DEMONSTRATION) "." } }
            @if summary.exceedances.is_empty() { p { "None was called." } } @else {
                table {
                    thead { tr {
                        th.number { "race time" } th { "what" } th.number { "limit" } th.number { "peak" }
                        th.number { "above for (s)" } th { "ended" }
                    } }
                    tbody { @for exceeded in &summary.exceedances { tr {
                        td.number { (words::clock(exceeded.t)) }
                        td { (words::quantity(exceeded.quantity)) }
                        td.number { (words::amount(exceeded.quantity, exceeded.threshold)) }
                        td.number { (words::amount(exceeded.quantity, exceeded.peak)) }
                        td.number { (words::seconds(exceeded.above)) }
                        td { @if exceeded.over { "yes" } @else { "no" } }
                    } } }
                }
            }
        }
    }
}

fn alerts(summary: &Summary) -> Markup {
    html! {
        section {
            h2 { "Alerts" }
            @if summary.alerts.is_empty() { p { "None was raised." } } @else {
                table {
                    thead { tr {
                        th.number { "raised" } th { "level" } th { "what" } th.number { "cleared" }
                        th { "acknowledged" }
                    } }
                    tbody { @for alert in &summary.alerts { tr {
                        td.number { (words::clock(alert.t)) }
                        td { (words::kebab(alert.level)) }
                        td { (words::alert(alert.id)) }
                        td.number { (cleared(alert.cleared)) }
                        td { @if alert.acknowledged { "yes" } }
                    } } }
                }
            }
        }
    }
}

fn cleared(at: Option<Span>) -> String {
    at.map_or("not cleared".into(), words::clock)
}

fn events(log: &Log) -> Markup {
    html! {
        section {
            h2 { "What happened" }
            table {
                thead { tr { th.number { "race time" } th { "what" } } }
                tbody { @for event in timeline::events(log) { tr {
                    td.number { (words::clock(event.t)) }
                    td { (event.text) }
                } } }
            }
        }
    }
}

fn settings_used(log: &Log) -> Markup {
    html! {
        section {
            h2 { "Settings used" }
            table.plain {
                @for (name, text) in settings::rows(&log.settings) {
                    tr { th scope="row" { (name) } td { (text) } }
                }
            }
            h3 { "Calibrations" }
            table.plain {
                @for (name, text) in calibrations::rows(&log.settings, Some(log.zero_utc)) {
                    tr { th scope="row" { (name) } td { (text) } }
                }
            }
        }
    }
}

fn footer(log: &Log) -> Markup {
    let counts = log.receiver;
    html! {
        footer {
            p {
                "Receiver: " (counts.fixes) " fixes, " (counts.rejected) " rejected, "
                (counts.ignored) " ignored. "
                "SHA-256 over all decisions: " code { (timeline::hex(&log.digest)) }
            }
            p { (words::CAUTION) }
        }
    }
}
