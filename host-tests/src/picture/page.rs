//! Pages of HTML: readable on paper, on a small and on a dark screen, with nothing outside themselves.
//!
//! ```text
//! page       front ends   -> a report
//! fit        a batch      -> its calibration at a glance
//! replay     a log        -> over time, against the meter
//! glance, sections, budget, proof -> what stands about one front end
//! tables     numbers      -> rows beside the pictures
//! style.css               -> how it looks
//! ```
//!
//! The same input gives the same page, byte for byte: it holds no date, no path but those that were typed, and no script.

mod budget;
pub mod fit;
mod glance;
mod proof;
pub mod replay;
mod sections;
mod tables;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::picture::curves::Curves;
use crate::picture::curves::glance::Glance;
use crate::picture::curves::values::{near_millivolts, near_volts};
use crate::picture::plot::{before_after, dark_style};
use crate::words::cautions::CAUTION;
use crate::words::numbers::grouped;
use tables::{Column, cell, table};

const STYLE: &str = include_str!("page/style.css");

/// What no page says about a board, however well the numbers hold.
const NOT_COVERED: [&str; 4] = [
    "Exact means equal to the formula of the front end as described. A wrong resistor, another reference or a broken sense \
     wire is not in any description, and no count can tell of it.",
    "Tolerance, drift, nonlinearity and noise of the parts stay in a reading. A calibration takes out one gain and one offset, \
     at one temperature and on one day.",
    "A fault is not a voltage: decide for each of them what the firmware does, and treat a zero count as the worst case.",
    "An alarm of a measurement is not a protection system, and is not part of one. A cell also needs the independent \
     protection that its maker's data sheet, the local codes and qualified people ask for.",
];

/// What a page is, apart from what stands on it.
struct Frame {
    /// Kind of page, above the title.
    kind: &'static str,
    title: String,
    /// Behind the title.
    mark: Markup,
    /// Where the numbers come from, below the title.
    from: Markup,
    /// Anchors and names of its sections.
    contents: Vec<(String, String)>,
}

impl Frame {
    fn around(&self, body: &Markup) -> String {
        let dark = format!(
            "@media screen and (prefers-color-scheme: dark) {{\n{}}}\n",
            dark_style()
        );
        let markup = html! {
            (DOCTYPE) (BREAK)
            html lang="en" {
                (BREAK)
                head {
                    meta charset="utf-8"; (BREAK)
                    meta name="viewport" content="width=device-width, initial-scale=1"; (BREAK)
                    meta name="color-scheme" content="light dark"; (BREAK)
                    title { (self.title) ": " (self.kind) } (BREAK)
                    style { (PreEscaped(STYLE)) (PreEscaped(dark)) }
                }
                (BREAK)
                body {
                    (BREAK)
                    header {
                        p.kind { (self.kind) } (BREAK)
                        h1 { (self.title) " " (self.mark) } (BREAK)
                        p.from { (self.from) } (BREAK)
                    }
                    (BREAK)
                    nav aria-label="Contents" {
                        ul {
                            @for (anchor, name) in &self.contents {
                                li { a href=(format!("#{anchor}")) { (name) } } (BREAK)
                            }
                            li { a href="#cautions" { "Cautions" } }
                        }
                    }
                    (BREAK)
                    main { (BREAK) (body) (cautions()) }
                    (BREAK)
                    footer { p.made { "Made by tallyvolt " (env!("CARGO_PKG_VERSION")) "." } }
                    (BREAK)
                }
            }
            (BREAK)
        };
        markup.into_string()
    }
}

/// The page of front ends, each with its file as it was typed.
#[must_use]
pub fn page(front_ends: &[(String, Curves)]) -> String {
    let several = front_ends.len() > 1;
    let glances: Vec<Glance> = front_ends
        .iter()
        .map(|(_, curves)| Glance::of(curves))
        .collect();
    let frame = match front_ends {
        [(file, only)] => Frame {
            kind: "Front-end report",
            title: only.name.clone(),
            mark: glance::verdict(&only.check),
            from: html! { (glance::what(only)) ". Described by " code { (file) } "." },
            contents: sections::contents(0, only),
        },
        _ => Frame {
            kind: "Front-end report",
            title: format!("{} front ends", front_ends.len()),
            mark: html! {},
            from: html! { "Side by side, then one by one." },
            contents: front_ends
                .iter()
                .enumerate()
                .map(|(place, (_, curves))| (anchor(place), curves.name.clone()))
                .collect(),
        },
    };
    let body = html! {
        p.caution { (CAUTION) } (BREAK)
        @if several { (summary(front_ends, &glances)) }
        @for (place, ((file, curves), glance)) in front_ends.iter().zip(&glances).enumerate() {
            (sections::front_end(place, several.then_some(file.as_str()), curves, glance))
        }
    };
    frame.around(&body)
}

/// Between tags, so that two pages can be compared line by line.
const BREAK: PreEscaped<&str> = PreEscaped("\n");

/// Where a front end's section begins.
fn anchor(place: usize) -> String {
    format!("front-end-{}", place + 1)
}

fn summary(front_ends: &[(String, Curves)], glances: &[Glance]) -> Markup {
    let rows = front_ends
        .iter()
        .zip(glances)
        .enumerate()
        .map(|(place, ((_, curves), glance))| {
            let check = &curves.check;
            let range = check.range_mv.map_or_else(
                || "none".to_owned(),
                |(low, high)| format!("{:.3} to {}", low / 1000.0, near_volts(high)),
            );
            let error = |error: &Option<crate::picture::curves::glance::ErrorOf>| {
                error
                    .as_ref()
                    .map_or_else(|| "-".to_owned(), |error| near_millivolts(error.mv))
            };
            vec![
                html! { a href=(format!("#{}", anchor(place))) { (curves.name) } },
                glance::verdict(check),
                cell(check.topology.replace('-', " ")),
                cell(grouped(check.counts_swept)),
                cell(range),
                cell(near_millivolts(check.step_mv.at_nominal)),
                cell(error(&glance.before)),
                cell(error(&glance.after)),
            ]
        });
    let columns = [
        Column::text("front end"),
        Column::text("verdict"),
        Column::text("topology"),
        Column::number("counts compared"),
        Column::number("reads"),
        Column::number("step, nominal"),
        Column::number("error before"),
        Column::number("after calibration"),
    ];
    html! {
        section {
            (BREAK)
            (table("All front ends", &columns, rows))
            p.note {
                "Errors of a reading over the range of temperature: 95 % of the trials lie within. After calibration: as planned, \
                 or with two points where nothing is planned."
            }
            (BREAK)
            @if let Some(picture) = before_after::svg(glances) {
                (picture_under("Errors before and after calibration", &picture))
            }
        }
        (BREAK)
    }
}

/// A picture under its title.
fn picture_under(title: &str, picture: &str) -> Markup {
    html! {
        figure {
            figcaption { (title) } (BREAK)
            (PreEscaped(picture))
        }
        (BREAK)
    }
}

fn cautions() -> Markup {
    html! {
        section id="cautions" {
            h2 { "Cautions" } (BREAK)
            p { (CAUTION) } (BREAK)
            ul {
                @for caution in NOT_COVERED { li { (caution) } (BREAK) }
            }
        }
        (BREAK)
    }
}
