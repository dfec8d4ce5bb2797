//! Pages of HTML: readable on paper, on a small and on a dark screen, with nothing outside themselves.
//!
//! ```text
//! page       front ends   -> a report
//! fit        a batch      -> its calibration at a glance
//! replay     a log        -> over time, against the meter
//! glance, sections, budget, proof -> what stands about one front end
//! frame      what every page has around its body
//! pictures   pictures under their titles
//! tables     numbers      -> rows beside the pictures
//! style.css               -> how it looks
//! ```
//!
//! The same input gives the same page, byte for byte: it holds no date, no path but those that were typed, and no script.

mod budget;
pub(crate) mod fit;
mod frame;
mod glance;
mod pictures;
mod proof;
pub(crate) mod replay;
mod sections;
mod tables;

use maud::{Markup, html};

use crate::picture::curves::Curves;
use crate::picture::curves::glance::{ErrorOf, Glance};
use crate::picture::curves::values::near_millivolts;
use crate::picture::plot::before_after;
use crate::words::numbers::{grouped, told};
use frame::{BREAK, Frame, Part};
use pictures::picture_under;
use sections::anchor;
use tables::{cell, table};

/// The page of front ends, each with its file as it was typed.
pub fn page(front_ends: &[(String, Curves)]) -> String {
    let several = front_ends.len() > 1;
    let parts: Vec<Vec<Part>> = front_ends
        .iter()
        .map(|(_, curves)| sections::parts(curves))
        .collect();
    let frame = match (front_ends, parts.as_slice()) {
        ([(file, only)], [parts]) => Frame {
            kind: "Front-end report",
            title: only.name.clone(),
            mark: glance::verdict(&only.check),
            from: html! { (glance::what(only)) ". Described by " code { (file) } "." },
            contents: sections::contents(0, parts),
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
        @if several { (summary(front_ends)) }
        @for (place, ((file, curves), parts)) in front_ends.iter().zip(&parts).enumerate() {
            (sections::front_end(place, several.then_some(file.as_str()), curves, parts))
        }
    };
    frame.around(&body)
}

fn summary(front_ends: &[(String, Curves)]) -> Markup {
    let each = || front_ends.iter().map(|(_, curves)| curves);
    let rows = each().enumerate().map(|(place, curves)| {
        let (check, glance) = (&curves.check, Glance::of(curves));
        let error = |error| told(error, "-", |error: ErrorOf| near_millivolts(error.mv));
        vec![
            html! { a href=(format!("#{}", anchor(place))) { (curves.name) } },
            glance::verdict(check),
            cell(check.topology.replace('-', " ")),
            cell(grouped(check.counts_swept)),
            cell(told(glance::reads(check), "none", |(range, _)| range)),
            cell(near_millivolts(check.step_mv.at_nominal)),
            cell(error(glance.before)),
            cell(error(glance.after)),
        ]
    });
    let columns = "front end | verdict | topology | >counts compared | >reads | >step, nominal | >error before | >after calibration";
    html! {
        section {
            (BREAK)
            (table("All front ends", columns, rows))
            p.note {
                "Errors of a reading over the range of temperature: 95 % of the trials lie within. After calibration: as planned, \
                 or with two points where nothing is planned."
            }
            (BREAK)
            @if let Some(picture) = before_after::svg(each()) {
                (picture_under("Errors before and after calibration", &picture))
            }
        }
        (BREAK)
    }
}
