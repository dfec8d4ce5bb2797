//! Bars of an error budget's terms: what each does to a reading, before and after a calibration, on one scale.

use super::bars::{Row, bars};
use super::palette::Ink;
use super::picture::Picture;
use crate::picture::curves::values::near_millivolts;
use crate::words::budget::{NOTHING_MV, over_range};
use crate::words::numbers::told;
use tallyvolt_analysis::choose::budget::found::{Budget, StateRow, TermRow};

/// A bar shorter than this part of all terms together is none to be seen.
const SEEN: f64 = 0.1;

/// A row a term with a bar a state of calibration: its part in a reading over the range of temperature, at the cell voltage
/// where it is largest.
pub(super) fn picture(budget: &Budget) -> Picture {
    let terms = terms(budget).filter(|(place, _)| is_seen(budget, *place));
    let terms: Vec<(usize, &TermRow)> = terms.collect();
    let combined = |state: &StateRow| {
        let totals = state.totals.iter().map(|total| total.combined_mv);
        totals.fold(0.0, f64::max)
    };
    let rows: Vec<Row<'_>> = std::iter::once((
        "all, combined",
        over_range(budget).map(combined).collect::<Vec<_>>(),
    ))
    .chain(terms.iter().map(|(place, row)| {
        let parts = over_range(budget).map(|state| largest(state, *place));
        (row.term.as_str(), parts.collect())
    }))
    .collect();
    let inks = [Ink::Vermillion, Ink::Orange, Ink::Blue];
    let kinds: Vec<(&str, Ink)> = over_range(budget)
        .map(|state| state.calibration)
        .zip(inks)
        .collect();
    let totals = over_range(budget)
        .map(|state| format!("{} {}", state.calibration, near_millivolts(combined(state))));
    let first = terms.iter().max_by(|one, other| {
        let part = |place| {
            over_range(budget)
                .next()
                .map_or(0.0, |state| largest(state, place))
        };
        part(one.0).total_cmp(&part(other.0))
    });
    let largest_term = told(first, "", |(_, row)| {
        format!(" The largest term without calibration is {}.", row.term)
    });
    let described = format!(
        "Standard uncertainty of a reading over the range of temperature, all terms combined, at the cell voltage where it \
         is largest: {}.{largest_term} Terms below 10 % of the whole are left out.",
        totals.collect::<Vec<_>>().join(", ")
    );
    let label = "standard uncertainty of a reading, mV";
    bars(&rows, &kinds, label, described)
}

/// A term's part in a state, at the cell's three voltages.
pub fn parts(state: &StateRow, place: usize) -> [f64; 3] {
    let part = state.contributions.get(place);
    part.map_or([0.0; 3], |part| part.contribution_mv)
}

/// The same at the voltage where it is largest.
fn largest(state: &StateRow, place: usize) -> f64 {
    parts(state, place).into_iter().fold(0.0, f64::max)
}

/// The terms that have a part in any state, with their places in the budget.
pub fn terms(budget: &Budget) -> impl Iterator<Item = (usize, &TermRow)> {
    let terms = budget.terms.iter().enumerate();
    terms.filter(move |(place, _)| {
        over_range(budget).any(|state| largest(state, *place) >= NOTHING_MV)
    })
}

/// Whether a term makes [`SEEN`] of all at any voltage in any state.
fn is_seen(budget: &Budget, place: usize) -> bool {
    over_range(budget).any(|state| {
        let parts = parts(state, place);
        let mut parts = parts.iter().zip(&state.totals);
        parts.any(|(mv, total)| *mv >= SEEN * total.combined_mv)
    })
}
