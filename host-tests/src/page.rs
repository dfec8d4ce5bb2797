//! Front ends as one page of HTML: readable on paper and on a dark screen, with nothing outside itself.
//!
//! ```text
//! sections   curves        -> what stands about one front end
//! tables     numbers       -> rows beside the pictures
//! style.css                -> how it looks
//! ```
//!
//! The same front ends give the same page, byte for byte: it holds no date, no path but those that were typed, and no script.

mod sections;
mod tables;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::curves::Curves;
use crate::plot::dark_style;
use crate::report::{CAUTION, grouped};
use tables::{Column, table};

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

/// The page of front ends, each with its file as it was typed.
#[must_use]
pub fn page(front_ends: &[(String, Curves)]) -> String {
    let title = match front_ends {
        [(_, only)] => format!("{}: front-end report", only.name),
        several => format!("Front-end report, {} front ends", several.len()),
    };
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
                title { (title) } (BREAK)
                style { (PreEscaped(STYLE)) (PreEscaped(dark)) }
            }
            (BREAK)
            body {
                (BREAK)
                h1 { (title) } (BREAK)
                p.caution { (CAUTION) } (BREAK)
                @if front_ends.len() > 1 { (summary(front_ends)) }
                @for (place, (file, curves)) in front_ends.iter().enumerate() {
                    (sections::front_end(place, file, curves))
                }
                (cautions())
                p.made { "Made by tallyvolt " (env!("CARGO_PKG_VERSION")) " from the front-end files alone." } (BREAK)
            }
        }
        (BREAK)
    };
    markup.into_string()
}

/// Between tags, so that two pages can be compared line by line.
const BREAK: PreEscaped<&str> = PreEscaped("\n");

/// Where a front end's section begins.
fn anchor(place: usize) -> String {
    format!("front-end-{}", place + 1)
}

fn summary(front_ends: &[(String, Curves)]) -> Markup {
    let rows = front_ends.iter().enumerate().map(|(place, (_, curves))| {
        let check = &curves.check;
        let range = check.range_mv.map_or_else(
            || "none".to_owned(),
            |(low, high)| format!("{low:.1} to {high:.1}"),
        );
        vec![
            html! { a href=(format!("#{}", anchor(place))) { (curves.name) } },
            html! { (check.topology.replace('-', " ")) },
            html! { (grouped(check.counts_swept)) },
            html! { (grouped(check.wrong_counts)) },
            html! { (format!("{:.6}", check.largest_rounding_error_units)) },
            html! { (range) },
            html! { (format!("{:.4}", check.step_mv.at_nominal)) },
            sections::verdict(check),
        ]
    });
    let columns = [
        Column::text("front end"),
        Column::text("topology"),
        Column::number("counts"),
        Column::number("wrong"),
        Column::number("largest error, units"),
        Column::number("reads, mV"),
        Column::number("step at nominal, mV"),
        Column::text("verdict"),
    ];
    html! { section { (BREAK) (table("All front ends", &columns, rows)) } (BREAK) }
}

fn cautions() -> Markup {
    html! {
        section {
            h2 { "Cautions" } (BREAK)
            p { (CAUTION) } (BREAK)
            ul {
                @for caution in NOT_COVERED { li { (caution) } (BREAK) }
            }
        }
        (BREAK)
    }
}
