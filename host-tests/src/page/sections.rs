//! What stands about one front end: the drawing, the check, and each picture with its numbers.

use maud::{Markup, PreEscaped, html};

use super::tables::{Column, cell, facts, table};
use super::{BREAK, anchor};
use crate::budget::Budget;
use crate::check::Check;
use crate::curves::Curves;
use crate::curves::limits::LimitCurve;
use crate::curves::sensor::SensorCurves;
use crate::curves::transfer::{Step, Transfer};
use crate::plot::{Kind, svg, terms};
use crate::report;

/// Every so many points of a curve are rows of its table: 9 of 129.
const TABLED: usize = 16;

/// The section of one front end.
pub(super) fn front_end(place: usize, file: &str, curves: &Curves) -> Markup {
    let drawing = curves
        .drawing
        .iter()
        .map(|(label, text)| (*label, text.clone()));
    html! {
        section id=(anchor(place)) {
            (BREAK)
            h2 { (curves.name) " " (verdict(&curves.check)) } (BREAK)
            p { "Described by " code { (file) } "." } (BREAK)
            (not_met(&curves.check))
            (facts("As drawn", drawing))
            (facts("Every count against the exact model", report::rows(&curves.check).into_iter()))
            @if let Some(transfer) = &curves.transfer {
                (figure(curves, Kind::Transfer))
                (marks(transfer))
                (figure(curves, Kind::Step))
                @if curves.check.topology == "supply-reference" { (steps(&curves.steps)) }
                (figure(curves, Kind::Rounding))
            }
            @match &curves.budget {
                Some(budget) => { (figure(curves, Kind::Budget)) (budget_tables(budget)) }
                None => { p { "No error budget: " (Kind::Budget.lacking()) "." } (BREAK) }
            }
            @if let Some(sensor) = &curves.sensor {
                (figure(curves, Kind::Temperature))
                (temperatures(sensor))
                (figure(curves, Kind::TableError))
            }
            @if !curves.limits.is_empty() {
                div.beside {
                    (BREAK)
                    @for kind in Kind::LIMITS { (figure(curves, kind)) }
                }
                (BREAK)
                (limits(&curves.limits))
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
    html! { @for (class, words) in [exact, meets] { span class=(class) { (words) } " " } }
}

/// What the file asks for and the front end does not meet.
fn not_met(check: &Check) -> Markup {
    html! {
        @for line in report::findings::lines(&check.findings) { p.fails { (report::findings::MEETS) ", not met: " (line) } (BREAK) }
    }
}

/// A picture under its title; nothing where the front end has none of the kind.
fn figure(curves: &Curves, kind: Kind) -> Markup {
    let Some(picture) = svg(curves, kind) else {
        return html! {};
    };
    let title = format!("{}, {}", kind.title(), curves.name);
    html! {
        figure role="img" aria-label=(title) {
            figcaption { (kind.title()) } (BREAK)
            (PreEscaped(picture))
        }
        (BREAK)
    }
}

fn marks(transfer: &Transfer) -> Markup {
    let columns = [
        Column::text("voltage"),
        Column::number("mV"),
        Column::number("nearest count"),
        Column::number("exact, mV"),
        Column::number("answer, mV"),
        Column::number("step there, mV"),
    ];
    let rows = transfer.marks.iter().map(|mark| {
        vec![
            cell(mark.what),
            cell(mark.mv.to_string()),
            cell(mark.nearest.count.to_string()),
            cell(format!("{:.6}", mark.nearest.exact_mv)),
            cell(mark.nearest.read_mv.to_string()),
            cell(format!("{:.4}", mark.step_mv)),
        ]
    });
    table("Counts of the marked voltages", &columns, rows)
}

fn steps(steps: &[Step]) -> Markup {
    let columns = [
        Column::number("cell, mV"),
        Column::number("step, mV a count"),
    ];
    let rows = steps.iter().step_by(TABLED).map(|step| {
        vec![
            cell(format!("{:.1}", step.mv)),
            cell(format!("{:.5}", step.step_mv)),
        ]
    });
    table("Step of a count over the cell's range", &columns, rows)
}

fn temperatures(sensor: &SensorCurves) -> Markup {
    let columns = [
        Column::number("count"),
        Column::number("law, degC"),
        Column::number("answer, degC"),
        Column::number("error, m degC"),
    ];
    let rows = sensor.points.iter().step_by(TABLED).map(|point| {
        vec![
            cell(point.count.to_string()),
            cell(format!("{:.3}", point.law_c)),
            cell(format!("{:.1}", point.read_c)),
            cell(format!("{:.1}", (point.read_c - point.law_c) * 1000.0)),
        ]
    });
    table("Temperatures over the table's range", &columns, rows)
}

fn budget_tables(budget: &Budget) -> Markup {
    let [low, nominal, high] = budget.voltages_mv;
    let mut columns = vec![
        Column::text("term"),
        Column::number("value"),
        Column::text("distribution"),
    ];
    for state in terms::states(budget) {
        for at_mv in [low, nominal, high] {
            columns.push(Column::number(format!("at {at_mv}")).of(state.calibration));
        }
    }
    let rows = terms::terms(budget).into_iter().map(|(place, name)| {
        let row = budget.terms.get(place);
        let mut cells = vec![
            cell(name),
            cell(row.map_or_else(String::new, |row| {
                format!("{} {}", report::budget::figures(row.value), row.unit)
            })),
            cell(row.map_or_else(String::new, |row| row.distribution.clone())),
        ];
        for state in terms::states(budget) {
            let part = state.contributions.get(place);
            let parts = part.map_or([f64::NAN; 3], |part| part.contribution_mv);
            cells.extend(parts.map(|mv| cell(part_text(mv))));
        }
        cells
    });
    html! {
        (table("Standard uncertainty of each term, in mV at three cell voltages, over the range of temperature", &columns, rows))
        (totals(budget))
        @if !budget.notes.is_empty() {
            ul { @for note in &budget.notes { li { (note) } (BREAK) } } (BREAK)
        }
    }
}

/// A dash where a term has no part, so that those that have one are seen.
fn part_text(mv: f64) -> String {
    if mv < terms::NOTHING_MV {
        "-".to_owned()
    } else {
        format!("{mv:.3}")
    }
}

fn totals(budget: &Budget) -> Markup {
    let columns = [
        Column::text("calibration"),
        Column::number("at, mV"),
        Column::number("combined, u_c"),
        Column::number("expanded, k u_c"),
        Column::number("95 % by trials"),
        Column::number("worst case"),
    ];
    let signed = |[low, high]: [f64; 2]| format!("{low:+.2} .. {high:+.2}");
    let rows = terms::states(budget).flat_map(|state| {
        state.totals.iter().map(move |total| {
            vec![
                cell(state.calibration),
                cell(total.at_mv.to_string()),
                cell(format!("{:.3}", total.combined_mv)),
                cell(format!("{:.2}", total.expanded_mv)),
                cell(signed(total.interval_mv)),
                cell(signed(total.worst_mv)),
            ]
        })
    });
    let caption = format!(
        "Error of a reading, mV, over the range of temperature; {} trials, seed {}",
        report::grouped(budget.trials as u64),
        budget.seed
    );
    table(&caption, &columns, rows)
}

fn limits(limits: &[LimitCurve]) -> Markup {
    let columns = [
        Column::text("limit"),
        Column::number("value"),
        Column::text("trips at counts"),
        Column::text("holds at counts"),
        Column::number("clears from"),
        Column::text("alarm with guard band"),
    ];
    let rows = limits.iter().map(|limit| {
        let word = if limit.above { "above" } else { "below" };
        let guard = limit.guard.as_ref().map_or_else(
            || "none".to_owned(),
            |guard| {
                let counts = guard.counts.map_or_else(String::new, |counts| {
                    format!(", counts {} {}", counts.comparison, counts.count)
                });
                format!(
                    "{}: at {} mV{counts}",
                    guard.calibration, guard.threshold_mv
                )
            },
        );
        vec![
            cell(limit.key),
            cell(format!("{} {}", limit.limit, limit.unit)),
            cell(format!("{word} {}", limit.trip_count)),
            cell(format!("{word} {}", limit.hold_count)),
            cell(format!("{} {}", limit.hold, limit.unit)),
            cell(guard),
        ]
    });
    table("Limits as counts, without calibration", &columns, rows)
}
