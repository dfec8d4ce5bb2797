//! Bars of an error budget's terms: what each does to a reading, before and after a calibration, on one scale.

use super::bars::{Row, bars};
use super::palette::Ink;
use super::picture::Picture;
use crate::picture::curves::values::near_millivolts;
use crate::words::numbers::told;
use tallyvolt_analysis::choose::budget::found::{Budget, StateRow};

/// Less than a nanovolt is what a difference quotient leaves of a term that cancels.
pub const NOTHING_MV: f64 = 1e-6;
/// A bar shorter than this part of all terms together is none to be seen.
const SEEN: f64 = 0.1;

/// A row a term with a bar a state of calibration: its part in a reading over the range of temperature, at the cell voltage
/// where it is largest.
pub(super) fn picture(budget: &Budget) -> Picture {
    let terms: Vec<_> = terms(budget)
        .into_iter()
        .filter(|(place, _)| is_seen(budget, *place))
        .collect();
    let combined = |state: &StateRow| {
        let totals = state.totals.iter().map(|total| total.combined_mv);
        totals.fold(0.0, f64::max)
    };
    let rows: Vec<Row<'_>> = std::iter::once((
        "all, combined",
        states(budget).map(combined).collect::<Vec<_>>(),
    ))
    .chain(terms.iter().map(|(place, name)| {
        let parts = states(budget).map(|state| largest(state, *place));
        (*name, parts.collect())
    }))
    .collect();
    let inks = [Ink::Vermillion, Ink::Orange, Ink::Blue];
    let kinds: Vec<(&str, Ink)> = states(budget)
        .map(|state| state.calibration)
        .zip(inks)
        .collect();
    let totals = states(budget)
        .map(|state| format!("{} {}", state.calibration, near_millivolts(combined(state))));
    let first = terms.iter().max_by(|one, other| {
        let part = |place| {
            states(budget)
                .next()
                .map_or(0.0, |state| largest(state, place))
        };
        part(one.0).total_cmp(&part(other.0))
    });
    let largest_term = told(first, "", |(_, name)| {
        format!(" The largest term without calibration is {name}.")
    });
    let described = format!(
        "Standard uncertainty of a reading over the range of temperature, all terms combined, at the cell voltage where it \
         is largest: {}.{largest_term} Terms below 10 % of the whole are left out.",
        totals.collect::<Vec<_>>().join(", ")
    );
    let label = "standard uncertainty of a reading, mV";
    bars(&rows, &kinds, label, described)
}

/// A term's part in a state, at the voltage where it is largest.
fn largest(state: &StateRow, place: usize) -> f64 {
    let part = state.contributions.get(place);
    part.map_or(0.0, |part| {
        part.contribution_mv.into_iter().fold(0.0, f64::max)
    })
}

/// States over the range of temperature.
pub fn states(budget: &Budget) -> impl Iterator<Item = &StateRow> {
    budget
        .states
        .iter()
        .filter(|state| state.temperature == "over the range")
}

/// The terms that have a part in any state, with their places in the budget.
pub fn terms(budget: &Budget) -> Vec<(usize, &str)> {
    budget
        .terms
        .iter()
        .enumerate()
        .filter(|(place, _)| {
            states(budget).any(|state| {
                state
                    .contributions
                    .get(*place)
                    .is_some_and(|part| part.contribution_mv.iter().any(|mv| *mv >= NOTHING_MV))
            })
        })
        .map(|(place, row)| (place, row.term.as_str()))
        .collect()
}

/// Whether a term makes [`SEEN`] of all at any voltage in any state.
fn is_seen(budget: &Budget, place: usize) -> bool {
    states(budget).any(|state| {
        let part = state.contributions.get(place);
        let part = part.map_or([0.0; 3], |part| part.contribution_mv);
        let mut parts = part.iter().zip(&state.totals);
        parts.any(|(mv, total)| *mv >= SEEN * total.combined_mv)
    })
}
