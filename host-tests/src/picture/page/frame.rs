//! What every page has around its body: head, contents, cautions, and where it was made.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::picture::plot::dark_style;
use crate::words::cautions::CAUTION;

const STYLE: &str = include_str!("style.css");

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
pub(super) struct Frame {
    /// Kind of page, above the title.
    pub(super) kind: &'static str,
    pub(super) title: String,
    /// Behind the title.
    pub(super) mark: Markup,
    /// Where the numbers come from, below the title.
    pub(super) from: Markup,
    /// Anchors and names of its sections.
    pub(super) contents: Vec<(String, String)>,
}

impl Frame {
    pub(super) fn around(&self, body: &Markup) -> String {
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
                    main { (BREAK) p.caution { (CAUTION) } (BREAK) (body) (cautions()) }
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

/// Between tags, so that two pages can be compared line by line.
pub(super) const BREAK: PreEscaped<&str> = PreEscaped("\n");

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
