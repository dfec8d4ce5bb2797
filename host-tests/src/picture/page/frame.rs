//! What every page has around its body: head, contents, cautions, and where it was made.

use maud::{DOCTYPE, Markup, PreEscaped, html};
use tallyvolt_model::front_end::FrontEnd;

use crate::picture::plot::dark_style;
use crate::words::cautions::CAUTION;
use crate::words::numbers::{counted, grouped};

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

/// A part of a page: its anchor, its name, and what stands in it.
pub(super) type Part = (&'static str, &'static str, Markup);

impl Frame {
    /// A page about the modules of a front end: in how many of all something was found, with the words for none and for more. The part
    /// at a glance has a heading for those who hear it only.
    pub(super) fn of_modules(
        kind: &'static str,
        front_end: &FrontEnd,
        (found, all): (usize, usize),
        [none, more]: [&str; 2],
        from: Markup,
        parts: &[Part],
    ) -> String {
        let contents = parts.iter();
        let contents = contents.map(|(anchor, name, _)| ((*anchor).to_owned(), (*name).to_owned()));
        let frame = Self {
            kind,
            title: format!("{}, {}", front_end.name, counted(all, "module")),
            mark: html! {
                @if found == 0 {
                    span.holds { (none) }
                } @else {
                    span.fails { (grouped(found as u64)) " " (more) }
                }
            },
            from,
            contents: contents.collect(),
        };
        frame.around(&html! {
            @for (anchor, name, body) in parts {
                section id=(anchor) {
                    h2 class=[(*anchor == "glance").then_some("unseen")] { (name) } (BREAK)
                    (body)
                }
                (BREAK)
            }
        })
    }

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
