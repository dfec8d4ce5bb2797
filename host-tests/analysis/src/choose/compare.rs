//! Candidate front ends side by side: what range, step, error and drain each gives, and why some cannot serve at all.

mod rows;

use clap::ValueEnum;
use serde::Serialize;
use tallyvolt_model::Model;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::rational::{float, in_millivolts, whole};

use super::budget::found::Budget;
use super::findings::finding::Finding;
use crate::choose::budget::monte_carlo::Run;
use crate::choose::budget::reading::{State, Temperature};
use crate::choose::budget::yields::Yields;
use crate::choose::budget::{budget, dynamic, noise};
use crate::choose::findings::{broken, findings};
pub use rows::RowName;

/// Boards are counted within this error where no file states one, in millivolts; one of those that every budget counts.
const WITHIN_MV: f64 = 20.0;

/// One candidate.
#[derive(Debug, Clone, Serialize)]
pub struct Candidate {
    /// The front end's name.
    pub name: String,
    /// Its file.
    pub file: String,
    /// `divided-input` or `supply-reference`.
    pub topology: &'static str,
    /// What its file asks for.
    pub findings: Vec<Finding>,
    /// Shares of its boards within an error, by tolerance class of its resistors too.
    pub yields: Yields,
    /// Why it cannot serve, a line for each finding that breaks its rule; empty where it can.
    pub failures: Vec<String>,
}

/// One row.
#[derive(Debug, Clone, Serialize)]
pub struct Row {
    /// What `--by` takes.
    pub row: RowName,
    /// In words.
    pub label: &'static str,
    /// A cell for each candidate.
    pub cells: Vec<Cell>,
}

/// One candidate's figure.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Cell {
    /// As shown.
    pub text: String,
    /// As compared; none where it is not known.
    pub value: Option<f64>,
    /// Standard error of a value that comes from trials; 0 for any other.
    pub standard_error: f64,
    /// Whether no other candidate that serves is better by more than chance makes.
    pub best: bool,
}

/// Candidates side by side.
#[derive(Debug, Clone, Serialize)]
pub struct Comparison {
    /// What the order follows; none where it is as given.
    pub by: Option<RowName>,
    /// The error that boards are counted within, in millivolts.
    pub within_mv: f64,
    /// Monte Carlo trials a candidate.
    pub trials: usize,
    /// Their seed.
    pub seed: u64,
    /// A column each.
    pub candidates: Vec<Candidate>,
    /// The rows.
    pub rows: Vec<Row>,
}

/// Compares candidates, each with its file's name.
///
/// `progress` is told how many trials were done, from any thread.
pub fn compare(
    front_ends: &[(String, FrontEnd)],
    by: Option<RowName>,
    run: Run,
    progress: &(dyn Fn(u64) + Sync),
) -> Comparison {
    let asked = front_ends
        .iter()
        .find_map(|(_, front_end)| front_end.asks.max_error_uv);
    let within_mv = asked.map_or(WITHIN_MV, in_millivolts);
    let mut columns: Vec<(Candidate, Vec<Cell>)> = front_ends
        .iter()
        .map(|(file, front_end)| {
            let mut asking = front_end.clone();
            // Boards are counted within one error, whatever each file allows.
            asking.asks.max_error_uv = asked;
            let budget = budget(&asking, run, progress);
            let findings = findings(front_end);
            let range = Range::of(front_end);
            let candidate = Candidate {
                name: front_end.name.clone(),
                file: file.clone(),
                topology: front_end.topology.word(),
                failures: broken(&findings).map(Finding::line).collect(),
                findings,
                yields: budget.yields.clone(),
            };
            let cells = RowName::value_variants()
                .iter()
                .map(|row| cell(*row, front_end, &budget, &range, within_mv))
                .collect();
            (candidate, cells)
        })
        .collect();
    if let Some(by) = by {
        // Stable, so that equals stay as given; what fails or is not known comes last.
        columns.sort_by(|one, other| {
            let key = |(candidate, cells): &(Candidate, Vec<Cell>)| {
                let value = cells[by as usize].value;
                let value = value.map_or(f64::INFINITY, |value| rank(by, value));
                (!candidate.failures.is_empty(), value)
            };
            let ((fails, value), (others_fail, others_value)) = (key(one), key(other));
            fails.cmp(&others_fail).then(value.total_cmp(&others_value))
        });
    }
    let (candidates, columns): (Vec<_>, Vec<_>) = columns.into_iter().unzip();
    let rows = RowName::value_variants()
        .iter()
        .enumerate()
        .map(|(index, &row)| {
            let cells = columns.iter().map(|column| column[index].clone());
            Row {
                row,
                label: row.label(),
                cells: marked(row, cells.collect(), &candidates),
            }
        })
        .collect();
    Comparison {
        by,
        within_mv,
        trials: run.trials,
        seed: run.seed,
        candidates,
        rows,
    }
}

/// A value so that less is better.
fn rank(row: RowName, value: f64) -> f64 {
    if row.more_is_better() { -value } else { value }
}

/// Standard errors of a difference below which two values of trials are not told apart.
const APART: f64 = 3.0;

/// Marks the best of those that serve, and what trials do not tell apart from it, unless that is all of them.
fn marked(row: RowName, mut cells: Vec<Cell>, candidates: &[Candidate]) -> Vec<Cell> {
    let mut known: Vec<(usize, f64, f64)> = cells
        .iter()
        .enumerate()
        .filter(|(index, _)| candidates[*index].failures.is_empty())
        .filter_map(|(index, cell)| Some((index, rank(row, cell.value?), cell.standard_error)))
        .collect();
    let best = known
        .iter()
        .min_by(|one, other| one.1.total_cmp(&other.1))
        .copied();
    let Some((_, best, error)) = best else {
        return cells;
    };
    let all = known.len();
    known.retain(|(_, value, own)| value - best <= APART * error.hypot(*own));
    if known.len() < all {
        for (index, ..) in known {
            cells[index].best = true;
        }
    }
    cells
}

/// What can be read, and what of the cell's range that is; millivolts.
struct Range {
    reads: (f64, f64),
    usable: Option<(f64, f64)>,
    cell: (f64, f64),
}

impl Range {
    fn of(front_end: &FrontEnd) -> Self {
        let model = Model::as_drawn(front_end);
        let at = |count| {
            let uv = model.voltage_uv(count);
            uv.map_or(f64::INFINITY, |uv| float(&(uv / whole(1000))))
        };
        let (one, other) = (at(1), at(model.largest_count().saturating_sub(1)));
        let reads = (one.min(other), one.max(other));
        let [min, _, max] = front_end.cell.millivolts();
        let low = dynamic::minimum_supply_mv(front_end).max(reads.0).max(min);
        let most = front_end
            .converter
            .supply_max_uv
            .map_or(f64::INFINITY, in_millivolts);
        let high = most.min(reads.1).min(max);
        Self {
            reads,
            usable: (low < high).then_some((low, high)),
            cell: (min, max),
        }
    }

    fn holds(&self, mv: f64) -> bool {
        (self.reads.0..=self.reads.1).contains(&mv)
    }
}

fn cell(
    row: RowName,
    front_end: &FrontEnd,
    budget: &Budget,
    range: &Range,
    within_mv: f64,
) -> Cell {
    let figure = |value: Option<f64>, places: usize, otherwise: &str| Cell {
        text: value.map_or_else(|| otherwise.to_owned(), |value| format!("{value:.places$}")),
        value,
        ..Cell::default()
    };
    let step = |site: usize| {
        let at = budget.voltages_mv[site];
        let model = Model::as_drawn(front_end);
        let uv = whole((at * 1000.0).round() as u32);
        (range.holds(at)).then(|| float(&(model.step_uv(&uv) / whole(1000))))
    };
    let error = |state, value: &dyn Fn(&super::budget::found::Total) -> f64| {
        let state = budget.state(state, Temperature::Range)?;
        let readable = state.totals.iter().filter(|total| range.holds(total.at_mv));
        readable.map(value).max_by(f64::total_cmp)
    };
    let error_95 = |state| Cell {
        // The widest end's own error, or a larger one: never too small.
        standard_error: error(state, &|total| total.end_error_mv).unwrap_or(0.0),
        ..figure(error(state, &|total| total.within_95()), 1, "not read")
    };
    let share = |state| {
        let share = budget.yields.share(state, within_mv);
        Cell {
            standard_error: share.map_or(0.0, |(_, error)| 100.0 * error),
            ..figure(share.map(|(share, _)| 100.0 * share), 2, "not known")
        }
    };
    let measured = front_end.measured.as_ref();
    match row {
        RowName::Range => Cell {
            value: Some(range.usable.map_or(0.0, |(low, high)| {
                (high - low) / (range.cell.1 - range.cell.0)
            })),
            text: match range.usable {
                Some(usable) if usable == range.cell => {
                    format!("{} to {}, all", usable.0, usable.1)
                }
                Some((low, high)) => format!("{low:.0} to {high:.0}"),
                None => "none".to_owned(),
            },
            ..Cell::default()
        },
        RowName::StepMin => figure(step(0), 4, "not read"),
        RowName::StepNominal => figure(step(1), 4, "not read"),
        RowName::StepMax => figure(step(2), 4, "not read"),
        RowName::EffectiveBits => {
            let rms = noise::averaged(&front_end.converter, 1).total();
            let codes = f64::from(1_u32 << front_end.converter.bits);
            figure(Some(noise::effective_bits(codes, rms)), 2, "")
        }
        RowName::WorstBefore => figure(error(State::Uncalibrated, &|t| t.worst()), 1, "not read"),
        RowName::Error95Before => error_95(State::Uncalibrated),
        RowName::WorstAfter => figure(error(State::TwoPoint, &|t| t.worst()), 1, "not read"),
        RowName::Error95After => error_95(State::TwoPoint),
        RowName::YieldBefore => share(State::Uncalibrated),
        RowName::YieldAfter => share(State::TwoPoint),
        RowName::Drain => match front_end.topology.divider() {
            Some(divider) => {
                let drain = dynamic::drain_ua(divider, front_end.cell.nominal_uv);
                figure(Some(drain), 1, "")
            }
            None => Cell {
                text: "0, no divider".to_owned(),
                ..figure(Some(0.0), 0, "")
            },
        },
        RowName::MinimumSupply => {
            let least = figure(Some(dynamic::minimum_supply_mv(front_end)), 0, "");
            match front_end.converter.supply_min_uv {
                Some(_) => least,
                None => Cell {
                    text: format!("{}, converter's not stated", least.text),
                    ..least
                },
            }
        }
        RowName::Settling => figure(dynamic::settling_us(front_end), 3, "not stated"),
        RowName::Flash => counted(measured.and_then(|m| Some((m.flash_bytes?, m.core.as_str())))),
        RowName::Cycles => counted(measured.and_then(|m| Some((m.cycles?, m.core.as_str())))),
    }
}

fn counted(measured: Option<(u32, &str)>) -> Cell {
    Cell {
        text: measured.map_or_else(
            || "not measured".to_owned(),
            |(value, core)| format!("{value} on {core}"),
        ),
        value: measured.map(|(value, _)| f64::from(value)),
        ..Cell::default()
    }
}
