//! The error budget of a front end: its bars, its terms and its totals.

use maud::{Markup, html};

use super::frame::BREAK;
use super::pictures::picture;
use super::tables::{cell, table};
use crate::picture::curves::Curves;
use crate::picture::plot::{Kind, terms};
use crate::words;
use crate::words::budget::{NOTHING_MV, over_range, signed};
use tallyvolt_analysis::choose::budget::found::{Budget, StateRow};
use tallyvolt_analysis::choose::budget::temperature::TemperatureBudget;

/// The section's body.
pub(super) fn body(curves: &Curves, budget: &Budget) -> Markup {
    html! {
        (totals(budget))
        (yields(budget))
        div.pictures {
            (BREAK)
            (picture(curves, Kind::Budget))
            div { (stated(budget)) }
        }
        (BREAK)
        div.tables.three {
            @for state in over_range(budget) { (BREAK) div { (parts(budget, state)) } }
        }
        (BREAK)
        @if !budget.notes.is_empty() {
            ul { @for note in &budget.notes { li { (note) } (BREAK) } } (BREAK)
        }
    }
}

fn at(mv: f64) -> String {
    format!("at {:.2}\u{a0}V", mv / 1000.0)
}

/// What each term does to a reading in one state of calibration.
fn parts(budget: &Budget, state: &StateRow) -> Markup {
    let columns = format!(
        "term{}",
        budget
            .voltages_mv
            .map(|mv| format!(" | >{}", at(mv)))
            .concat()
    );
    let rows = terms::terms(budget).filter_map(|(place, row)| {
        let parts = terms::parts(state, place);
        let any = parts.iter().any(|mv| *mv >= NOTHING_MV);
        let texts = std::iter::once(row.term.clone()).chain(parts.map(part_text));
        any.then(|| cells(texts))
    });
    let caption = format!(
        "Standard uncertainty of each term, mV: {}",
        state.calibration
    );
    table(&caption, &columns, rows)
}

/// A dash where a term has no part, so that those that have one are seen.
fn part_text(mv: f64) -> String {
    if mv < NOTHING_MV {
        "-".to_owned()
    } else {
        format!("{mv:.3}")
    }
}

fn stated(budget: &Budget) -> Markup {
    let columns = "term | >value | distribution";
    let rows = terms::terms(budget).map(|(_, row)| {
        cells([
            row.term.clone(),
            format!("{} {}", words::numbers::figures(row.value), row.unit),
            row.distribution.clone(),
        ])
    });
    table("The terms as stated", columns, rows)
}

fn totals(budget: &Budget) -> Markup {
    let columns =
        "calibration, cell voltage | >combined | >expanded | >95 % by trials | >worst case";
    let rows = over_range(budget).flat_map(|state| {
        state.totals.iter().map(move |total| {
            cells([
                format!("{}, {}", state.calibration, at(total.at_mv)),
                format!("{:.3}", total.combined_mv),
                format!("{:.2}", total.expanded_mv),
                signed(total.interval_mv),
                signed(total.worst_mv),
            ])
        })
    });
    let caption = format!(
        "Error of a reading, mV, over the range of temperature; {} trials, seed {}",
        words::numbers::grouped(budget.trials as u64),
        budget.seed
    );
    table(&caption, columns, rows)
}

fn yields(budget: &Budget) -> Markup {
    let rows = words::yields::rows(&budget.yields);
    table(
        &capital(words::yields::TITLE),
        &words::yields::headings(&budget.yields),
        rows.map(cells),
    )
}

/// The budget of the sensor, below its pictures.
pub(super) fn temperature(budget: &TemperatureBudget) -> Markup {
    use words::temperature as of;
    html! {
        (table(&capital(of::TOTALS), &degrees(of::TOTAL_HEADINGS), of::total_rows(budget).map(cells)))
        (table(&capital(of::TERMS), &degrees(&of::term_headings(budget)), of::term_rows(budget).map(cells)))
        @if of::lines(budget).next().is_some() {
            ul { @for line in of::lines(budget) { li { (degrees(&line)) } (BREAK) } } (BREAK)
        }
    }
}

fn cells(texts: impl IntoIterator<Item = String>) -> Vec<Markup> {
    texts.into_iter().map(cell).collect()
}

/// As a caption begins.
fn capital(text: &str) -> String {
    let (first, rest) = text.split_at(1);
    first.to_uppercase() + rest
}

fn degrees(text: &str) -> String {
    text.replace("degC", "°C")
}
