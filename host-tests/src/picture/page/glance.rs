//! The first screen of a front end: the circuit, and the figures that one looks for first.

use maud::{Markup, Render, html};

use super::frame::BREAK;
use super::pictures::picture_under;
use crate::picture::curves::Curves;
use crate::picture::curves::glance::{ErrorOf, Glance};
use crate::picture::curves::values::{millivolts, near_millivolts, near_volts};
use crate::picture::plot::{Kind, svg};
use crate::words::findings;
use crate::words::numbers::{grouped, told};
use tallyvolt_analysis::choose::budget::headroom::Headroom;
use tallyvolt_analysis::choose::budget::reading::State;
use tallyvolt_analysis::prove::check::found::Check;

/// A figure with its name and what it means.
pub(super) struct Tile(&'static str, Markup, String);

impl Tile {
    pub(super) fn new(name: &'static str, value: impl Render, note: impl Into<String>) -> Self {
        Self(name, value.render(), note.into())
    }
}

pub(super) fn of_all(some: usize, all: usize) -> String {
    format!("{} of {}", grouped(some as u64), grouped(all as u64))
}

/// Figures side by side.
pub(super) fn tiles(tiles: &[Tile]) -> Markup {
    html! {
        dl.tiles {
            @for Tile(name, value, note) in tiles {
                (BREAK)
                div {
                    dt { (name) }
                    dd { (value) }
                    dd.note { (note) }
                }
            }
        }
        (BREAK)
    }
}

/// Whether the arithmetic is exact, and whether the front end meets what its file asks.
pub(super) fn verdict(check: &Check) -> Markup {
    let exact = if check.exact {
        ("holds", "exact")
    } else {
        ("fails", "NOT EXACT")
    };
    let meets = if check.meets {
        ("holds", "meets its file")
    } else {
        ("fails", "DOES NOT MEET ITS FILE")
    };
    html! { span class=(exact.0) { (exact.1) } ", " span class=(meets.0) { (meets.1) } }
}

/// What the file asks for and the front end does not meet.
pub(super) fn not_met(check: &Check) -> Markup {
    html! {
        @for line in findings::lines(&check.findings) {
            p.fails { (findings::MEETS) ", not met: " (line) } (BREAK)
        }
    }
}

/// What a front end is, in a line.
pub(super) fn what(curves: &Curves) -> String {
    let circuit = &curves.circuit;
    let way = if circuit.divider.is_some() {
        "Divided input"
    } else {
        "Supply reference"
    };
    let sum = told(circuit.sum.as_ref(), "", |sum| format!(", {sum} samples"));
    let [low, high] = &circuit.cell;
    format!(
        "{way}, {} converter{sum}; {} cell of {low} to {high}",
        circuit.bits, circuit.chemistry
    )
}

/// The circuit beside the figures.
pub(super) fn first_screen(curves: &Curves) -> Markup {
    let (check, glance) = (&curves.check, Glance::of(curves));
    html! {
        div.first {
            (BREAK)
            @if let Some(picture) = svg(curves, Kind::Circuit) {
                (picture_under("The circuit as described", &picture))
            }
            (tiles(&[
                promise(check),
                range(check),
                headroom(curves),
                step(check),
                error("Error before calibration", glance.before.as_ref(), "as drawn"),
                error("Error after calibration", glance.after.as_ref(), &after(&glance)),
            ]))
        }
        (BREAK)
        (not_met(check))
        (BREAK)
    }
}

fn promise(check: &Check) -> Tile {
    let note = if check.wrong_counts == 0 {
        format!("all {} counts exact", grouped(check.counts_swept))
    } else {
        format!(
            "{} of {} counts wrong",
            grouped(check.wrong_counts),
            grouped(check.counts_swept)
        )
    };
    Tile::new("Verdict", verdict(check), note)
}

/// The voltages that are read, and their counts; none where no count is a voltage.
pub(super) fn reads(check: &Check) -> Option<(String, String)> {
    let ((low, high), (first, last)) = check.range_mv.zip(check.valid_counts)?;
    let [first, last] = [first, last].map(|count| grouped(count.into()));
    let range = format!("{:.3} to {}", low / 1000.0, near_volts(high));
    Some((range, format!("counts {first} to {last}")))
}

fn range(check: &Check) -> Tile {
    let none = || ("none".to_owned(), "no count is a voltage".to_owned());
    let (value, note) = reads(check).unwrap_or_else(none);
    Tile::new("Range", value, note)
}

fn distance(mv: f64) -> String {
    if mv.abs() < 1.0 {
        near_millivolts(mv)
    } else {
        near_volts(mv)
    }
}

/// Of every board within its limits, as `check` and `budget` have it.
fn headroom(curves: &Curves) -> Tile {
    let (value, note) = match &curves.headroom {
        Some(Headroom { low, high }) => {
            // What falls short is what one looks for.
            let low_fails = low.headroom_mv < 0.0 && high.headroom_mv >= 0.0;
            let ends = [(high, "above"), (low, "below")];
            let [(end, beyond), (other, across)] =
                if low_fails { [ends[1], ends[0]] } else { ends };
            let value = distance(end.headroom_mv);
            (
                html! { @if end.headroom_mv < 0.0 { span.fails { (value) } } @else { (value) } },
                format!(
                    "{beyond} {}, on every board within its limits; {} {across} {}",
                    end.must_read,
                    distance(other.headroom_mv),
                    other.must_read
                ),
            )
        }
        None => (html! { "none" }, "no count is a voltage".to_owned()),
    };
    Tile::new("Headroom", value, note)
}

fn step(check: &Check) -> Tile {
    let steps = &check.step_mv;
    let least = steps.at_min.min(steps.at_max);
    let most = steps.at_min.max(steps.at_max);
    let value = if most - least > 0.005 * most {
        format!(
            "{} to {}",
            near_millivolts(least).trim_end_matches("mV").trim_end(),
            near_millivolts(most)
        )
    } else {
        near_millivolts(most)
    };
    let unit = millivolts(check.unit_uv);
    let note = format!("over the cell's range; answers in steps of {unit}");
    Tile::new("Step of a count", value, note)
}

fn after(glance: &Glance) -> String {
    let way = match glance.after.as_ref().map(|after| after.calibration) {
        Some(State::OnePoint) => "calibrated at one point",
        _ => "calibrated at two points",
    };
    if glance.planned {
        format!("{way}, as planned")
    } else {
        format!("{way}, though none is planned")
    }
}

fn error(name: &'static str, error: Option<&ErrorOf>, state: &str) -> Tile {
    let Some(error) = error else {
        return Tile::new(name, "not stated", Kind::Budget.lacking());
    };
    let worst = near_millivolts(error.worst_mv);
    let note = format!("for 95 % of boards, by trials, {state}; worst case {worst}");
    Tile::new(name, format!("within {}", near_millivolts(error.mv)), note)
}
