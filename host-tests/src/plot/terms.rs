//! Bars of an error budget's terms: what each does to a reading, before and after a calibration.

use super::axis::{Axis, Marks};
use super::chart::{Panel, Series, Shape, WIDE, svg};
use super::palette::Ink;
use crate::budget::{Budget, StateRow};

/// Height of a term's three bars and the gap below, in pixels.
const ROW: i32 = 34;
/// Less than a nanovolt is what a difference quotient leaves of a term that cancels.
pub const NOTHING_MV: f64 = 1e-6;

const LABEL: &str = "standard uncertainty of a reading, mV (terms under 1 % left out)";
/// A bar shorter than this part of all terms together is none to be seen.
const SEEN: f64 = 0.01;

/// Three panels side by side, a state of calibration each, over the range of temperature.
pub(super) fn picture(budget: &Budget) -> String {
    let terms: Vec<_> = terms(budget)
        .into_iter()
        .filter(|(place, _)| is_seen(budget, *place))
        .collect();
    let mut names: Vec<String> = terms.iter().map(|(_, name)| (*name).to_owned()).collect();
    names.push("all, combined".to_owned());
    let rows = i32::try_from(names.len()).unwrap_or(1);
    let panels: Vec<Panel> = states(budget)
        .enumerate()
        .map(|(place, state)| {
            let names: &[String] = if place == 0 { &names } else { &[] };
            // One label for the three axes, below the panel in the middle.
            let label = if place == 1 { LABEL } else { "" };
            panel(budget, state, &terms, names, label)
        })
        .collect();
    svg(&panels, WIDE, rows * ROW)
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

fn panel(
    budget: &Budget,
    state: &StateRow,
    terms: &[(usize, &str)],
    names: &[String],
    label: &str,
) -> Panel {
    let parts = terms.iter().map(|(place, _)| {
        state
            .contributions
            .get(*place)
            .map_or([0.0; 3], |part| part.contribution_mv)
    });
    let mut combined = [0.0; 3];
    for (all, total) in combined.iter_mut().zip(&state.totals) {
        *all = total.combined_mv;
    }
    let rows: Vec<[f64; 3]> = parts.chain([combined]).collect();
    let largest = combined.iter().fold(0.0, |most: f64, mv| most.max(*mv));
    let inks = [Ink::Sky, Ink::Blue, Ink::Orange];
    let top = rows.len() as f64;
    let mut series = Vec::new();
    for (site, (ink, at_mv)) in inks.into_iter().zip(budget.voltages_mv).enumerate() {
        for (row, parts) in rows.iter().enumerate() {
            let upper = top - row as f64 - 0.12 - 0.26 * site as f64;
            let mv = parts.get(site).copied().unwrap_or(0.0);
            let bar = Shape::rectangle((0.0, upper), (mv, upper - 0.24), 1.0);
            let bar = Series::new(format!("u at {at_mv} mV"), ink, bar);
            series.push(if row == 0 { bar } else { bar.unnamed() });
        }
    }
    Panel {
        title: Some(state.calibration.to_owned()),
        x: Axis::numbers(label, 0.0..(largest * 1.05).max(NOTHING_MV)),
        y: Axis {
            label: String::new(),
            range: 0.0..top,
            marks: if names.is_empty() {
                Marks::Nothing
            } else {
                Marks::Names(names.to_vec())
            },
        },
        series,
    }
}
