//! What stands about one front end: a first screen, and each picture with its numbers.

use maud::{Markup, html};

use super::frame::{BREAK, Part};
use super::glance::{first_screen, verdict, what};
use super::pictures::picture;
use super::tables::{cell, facts, table};
use super::{budget, proof};
use crate::picture::curves::Curves;
use crate::picture::curves::limits::LimitCurve;
use crate::picture::curves::sensor::SensorCurves;
use crate::picture::curves::transfer::{Step, Transfer};
use crate::picture::curves::values::near_millivolts;
use crate::picture::plot::Kind;
use crate::words::numbers::told;

/// Every so many points of a curve are rows of its table: 9 of 129.
const TABLED: usize = 16;

/// The parts of a front end's section behind its first screen.
pub(super) fn parts(curves: &Curves) -> Vec<Part> {
    let mut parts = Vec::new();
    if let Some(transfer) = &curves.transfer {
        parts.push(("voltage", "Voltage", voltage(curves, transfer)));
    }
    let body = match &curves.budget {
        Some(of) => budget::body(curves, of),
        None => html! { p { "None: " (Kind::Budget.lacking()) "." } (BREAK) },
    };
    parts.push(("budget", "Error budget", body));
    if let Some(sensor) = &curves.sensor {
        parts.push(("temperature", "Temperature", temperature(curves, sensor)));
    }
    if !curves.limits.is_empty() {
        parts.push(("limits", "Limits", limits(curves)));
    }
    let drawn = curves.circuit.parts.iter();
    let drawn = drawn.map(|(label, text)| (*label, text.clone()));
    let body = html! {
        div.tables {
            (BREAK)
            div { (facts("As described", drawn)) }
            div { (facts("Every count", proof::rows(&curves.check).into_iter())) }
        }
        (BREAK)
    };
    parts.push(("proof", "Description and proof", body));
    parts
}

/// Anchors and names of a front end's parts.
pub(super) fn contents(place: usize, parts: &[Part]) -> Vec<(String, String)> {
    let parts = parts.iter();
    let parts = parts.map(|(anchor, name, _)| (part_anchor(place, anchor), (*name).to_owned()));
    std::iter::once((anchor(place), "At a glance".to_owned()))
        .chain(parts)
        .collect()
}

/// Where a front end's section begins.
pub(super) fn anchor(place: usize) -> String {
    format!("front-end-{}", place + 1)
}

fn part_anchor(place: usize, part: &str) -> String {
    format!("{}-{part}", anchor(place))
}

/// The section of one front end; with its `file` and its name where it is one of several.
pub(super) fn front_end(
    place: usize,
    file: Option<&str>,
    curves: &Curves,
    parts: &[Part],
) -> Markup {
    html! {
        section.front-end id=(anchor(place)) {
            (BREAK)
            @match file {
                Some(file) => {
                    h2.name { (curves.name) " " (verdict(&curves.check)) } (BREAK)
                    p.from { (what(curves)) ". Described by " code { (file) } "." } (BREAK)
                }
                None => { h2.unseen { "At a glance" } (BREAK) }
            }
            (first_screen(curves))
            @for (anchor, name, body) in parts {
                @let id = part_anchor(place, anchor);
                section id=(id) {
                    @if file.is_some() { h3 { (name) } } @else { h2 { (name) } }
                    (BREAK)
                    (body)
                }
                (BREAK)
            }
        }
        (BREAK)
    }
}

fn voltage(curves: &Curves, transfer: &Transfer) -> Markup {
    html! {
        div.pictures {
            (BREAK)
            (picture(curves, Kind::Transfer))
            div {
                (picture(curves, Kind::Step))
                (picture(curves, Kind::Rounding))
            }
        }
        (BREAK)
        (marks(transfer))
        @if curves.check.topology == "supply-reference" { (steps(&curves.steps)) }
    }
}

fn marks(transfer: &Transfer) -> Markup {
    let columns = "voltage | >at | >nearest count | >exact | >answer | >step there";
    let rows = transfer.marks.iter().map(|mark| {
        vec![
            cell(mark.what),
            cell(format!("{:.3} V", mark.mv / 1000.0)),
            cell(mark.nearest.count.to_string()),
            cell(format!("{:.6} V", mark.nearest.exact_mv / 1000.0)),
            cell(format!("{:.4} V", mark.nearest.read_mv / 1000.0)),
            cell(near_millivolts(mark.step_mv)),
        ]
    });
    table("Counts of the marked voltages", columns, rows)
}

fn steps(steps: &[Step]) -> Markup {
    let columns = "cell voltage | >step, mV a count";
    let rows = steps.iter().step_by(TABLED).map(|step| {
        vec![
            cell(format!("{:.3} V", step.mv / 1000.0)),
            cell(format!("{:.5}", step.step_mv)),
        ]
    });
    table("Step of a count over the cell's range", columns, rows)
}

fn temperature(curves: &Curves, sensor: &SensorCurves) -> Markup {
    let columns = ">count | >law, °C | >answer, °C | >error, °C";
    let rows = sensor.points.iter().step_by(TABLED).map(|point| {
        vec![
            cell(point.count.to_string()),
            cell(format!("{:.3}", point.law_c)),
            cell(format!("{:.1}", point.read_c)),
            cell(format!("{:+.3}", point.read_c - point.law_c)),
        ]
    });
    html! {
        div.pictures {
            (BREAK)
            (picture(curves, Kind::Temperature))
            div {
                (picture(curves, Kind::TableError))
                (table("Temperatures over the table's range", columns, rows))
            }
        }
        (BREAK)
        @if let Some(of) = curves.budget.as_ref().and_then(|budget| budget.temperature.as_ref()) {
            (budget::temperature(of))
        }
    }
}

fn limits(curves: &Curves) -> Markup {
    html! {
        div.pictures {
            (BREAK)
            @for kind in Kind::LIMITS { (picture(curves, kind)) }
        }
        (BREAK)
        (limit_table(&curves.limits))
    }
}

fn limit_table(limits: &[LimitCurve]) -> Markup {
    let columns = "limit | >value | >compared with | trips at counts | holds at counts | >clears from | alarm with guard band";
    let rows = limits.iter().map(|limit| {
        let word = if limit.above { "above" } else { "below" };
        let value = |value: f64| limit.shown(value);
        let inside = (limit.limit - limit.compared).abs();
        let without = if inside == 0.0 {
            "none".to_owned()
        } else {
            format!("{} inside the limit", value(inside))
        };
        let guard = told(limit.guard.as_ref(), &without, |guard| {
            let counts = told(guard.counts, "", |counts| {
                format!(", counts {} {}", counts.comparison, counts.count)
            });
            format!(
                "{}: at {}{counts}",
                guard.calibration,
                value(guard.threshold_mv)
            )
        });
        vec![
            html! { code { (limit.key) } },
            cell(value(limit.limit)),
            cell(value(limit.compared)),
            cell(format!("{word} {}", limit.trip_count)),
            cell(format!("{word} {}", limit.hold_count)),
            cell(value(limit.hold)),
            cell(guard),
        ]
    });
    table("Limits as counts, without calibration", columns, rows)
}
