//! Count to voltage around the cell's range, and what one count is worth over it.

use serde::Serialize;
use tallyvolt_model::Model;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::rational::{fraction, in_millivolts, whole};

use super::characteristic::{Characteristic, POINTS, Reading};
use tallyvolt_analysis::prove::check::millivolts;

/// The characteristic, with what is marked on it.
#[derive(Debug, Clone, Serialize)]
pub struct Transfer {
    /// The cell's minimum, nominal and maximum voltage in millivolts.
    pub cell_mv: [f64; 3],
    /// The voltages worth a row of a table, ascending.
    pub marks: Vec<Mark>,
    /// Evenly spaced counts, over voltages from half of the marked span below the marks to half of it above.
    pub points: Vec<Reading>,
}

/// A voltage of the file, and the count that is nearest to it.
#[derive(Debug, Clone, Serialize)]
pub struct Mark {
    /// In words.
    pub what: &'static str,
    pub is_limit: bool,
    pub mv: f64,
    /// The count whose exact voltage is nearest.
    pub nearest: Reading,
    /// Millivolts for one count there.
    pub step_mv: f64,
}

/// What one count is worth at a voltage.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Step {
    pub mv: f64,
    /// Millivolts for one count.
    pub step_mv: f64,
}

impl Transfer {
    pub(super) fn of(voltages: &Characteristic<'_>) -> Self {
        let front_end = voltages.front_end;
        let cell = &front_end.cell;
        let mut marked = vec![
            ("emptiest cell", cell.min_uv, false),
            ("nominal", cell.nominal_uv, false),
            ("fullest cell", cell.max_uv, false),
        ];
        if let Some(limits) = &front_end.limits {
            marked.extend(limits.under_uv.map(|uv| ("lower limit", uv, true)));
            marked.extend(limits.over_uv.map(|uv| ("upper limit", uv, true)));
        }
        marked.sort_by_key(|(_, uv, _)| *uv);
        let marks: Vec<Mark> = marked
            .iter()
            .filter_map(|&(what, uv, is_limit)| {
                let mv = in_millivolts(uv);
                Some(Mark {
                    what,
                    is_limit,
                    mv,
                    nearest: voltages.reading(voltages.nearest(mv))?,
                    step_mv: millivolts(&voltages.model.step_uv(&whole(uv))),
                })
            })
            .collect();
        let [low, high] = [marked.first(), marked.last()]
            .map(|end| end.map_or(0.0, |(_, uv, _)| in_millivolts(*uv)));
        let room = (high - low) / 2.0;
        let (one, other) = (voltages.nearest(low - room), voltages.nearest(high + room));
        Self {
            cell_mv: cell.millivolts(),
            marks,
            points: voltages.readings(one.min(other), one.max(other)),
        }
    }
}

/// Millivolts a count at evenly spaced voltages over the cell's range.
pub(super) fn steps(front_end: &FrontEnd) -> Vec<Step> {
    let model = Model::as_drawn(front_end);
    let (min, max) = (whole(front_end.cell.min_uv), whole(front_end.cell.max_uv));
    let gaps = i64::from(POINTS) - 1;
    (0..=gaps)
        .map(|gap| {
            let uv = &min + (&max - &min) * fraction(gap, gaps);
            Step {
                mv: millivolts(&uv),
                step_mv: millivolts(&model.step_uv(&uv)),
            }
        })
        .collect()
}
