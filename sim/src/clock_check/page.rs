//! The certificate of a clock check: one page that prints.
//!
//! A fit and what was said of it in, HTML out.

use maud::{DOCTYPE, PreEscaped, html};

use super::Fit;
use super::command::{About, MOMENTS_S, verdict};
use crate::words;

const STYLE: &str = concat!(include_str!("../report/page.css"), include_str!("../judge/page.css"));

/// The page.
#[must_use]
pub fn page(fit: &Fit, about: &About) -> String {
    let temperature = about.temperature.map_or("not stated".into(), |degrees| format!("{degrees:.1} °C"));
    let rows = [
        ("date", about.date.clone()),
        ("board", about.board.clone()),
        ("program, SHA-256", about.firmware.clone().unwrap_or_else(|| "not stated".into())),
        ("temperature", temperature),
        ("reference", about.reference.clone()),
        ("pairs", format!("{} over {:.1} s", fit.count, fit.last_s - fit.first_s)),
        ("drift", format!("{:+.3} ppm ± {:.3} ppm", fit.drift * 1e6, fit.drift_sd * 1e6)),
        ("scatter", format!("{:.3} ms, one standard deviation of a single reading", fit.scatter_s * 1e3)),
    ];
    let body = html! {
        header {
            h1 { "Clock check" }
            p.caution { strong { "What was compared, and nothing else: another temperature, another day or another \
                program is another clock." } }
            p.verdict { (verdict(fit, about)) }
        }
        main {
            section {
                h2 { "Offset, board less reference" }
                table.wide {
                    thead { tr { th.number { "at" } th.number { "offset (ms)" } th.number { "± (ms)" }
                        th.number { "95 % (ms)" } th { "" } } }
                    tbody { @for moment in MOMENTS_S {
                        @let (offset, sd) = fit.at(moment);
                        tr {
                            td.number { (moment) " s" }
                            td.number { (format!("{:+.3}", offset * 1e3)) }
                            td.number { (format!("{:.3}", sd * 1e3)) }
                            td.number { (format!("{:+.3} to {:+.3}", (offset - fit.reach() * sd) * 1e3, (offset + fit.reach() * sd) * 1e3)) }
                            td { @if fit.is_beyond(moment) { "beyond what was compared" } }
                        }
                    } }
                }
                p.note { "± is one standard deviation of the fitted line; the last column is by Student's t. \
                    The reference's own error is not in it." }
            }
            section {
                h2 { "How" }
                table.plain.wide { @for (name, text) in rows { tr { th scope="row" { (name) } td { (text) } } } }
            }
            section {
                h2 { "Signed" }
                p { "Name: ______________________________   Date: ______________________" }
            }
        }
        footer { p { (words::CAUTION) } }
    };
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Clock check: " (about.board) }
                style { (PreEscaped(STYLE)) }
            }
            body { (body) }
        }
    }
    .into_string()
}
