//! Candidate front ends side by side: what range, step, error and drain each gives, and why some cannot serve at all.

use serde::Serialize;

use crate::budget::monte_carlo::Run;
use crate::budget::reading::{State, Temperature};
use crate::budget::{Budget, budget, dynamic, noise, terms};
use crate::firmware::{DescribeError, Firmware};
use crate::front_end::{FrontEnd, Topology};
use crate::model::Model;
use crate::model::calibration::CalibrationModel;
use crate::model::rational::whole;
use terms::float;

/// A row of the comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum RowName {
    /// Part of the cell's range that can be read and powered.
    Range,
    /// Millivolts a count at the cell's minimum.
    StepMin,
    /// At its nominal voltage.
    StepNominal,
    /// At its maximum.
    StepMax,
    /// Effective bits of a count, by noise and quantisation.
    EffectiveBits,
    /// Worst error over the range of temperature, uncalibrated.
    WorstBefore,
    /// Error that 95 % of modules keep, uncalibrated.
    Error95Before,
    /// Worst error after a two-point calibration.
    WorstAfter,
    /// Error that 95 % of modules keep after a two-point calibration.
    Error95After,
    /// Current of the divider at nominal voltage.
    Drain,
    /// Lowest supply that converter and reference work from.
    MinimumSupply,
    /// Time until a reading is settled.
    Settling,
    /// Flash of the conversion.
    Flash,
    /// Cycles of the conversion.
    Cycles,
}

impl RowName {
    const ALL: [Self; 14] = [
        Self::Range,
        Self::StepMin,
        Self::StepNominal,
        Self::StepMax,
        Self::EffectiveBits,
        Self::WorstBefore,
        Self::Error95Before,
        Self::WorstAfter,
        Self::Error95After,
        Self::Drain,
        Self::MinimumSupply,
        Self::Settling,
        Self::Flash,
        Self::Cycles,
    ];

    /// In words, with the unit.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Self::Range => "usable range, mV",
            Self::StepMin => "step at minimum, mV",
            Self::StepNominal => "step at nominal, mV",
            Self::StepMax => "step at maximum, mV",
            Self::EffectiveBits => "effective bits",
            Self::WorstBefore => "worst error, uncalibrated, mV",
            Self::Error95Before => "95 % error, uncalibrated, mV",
            Self::WorstAfter => "worst error, two-point, mV",
            Self::Error95After => "95 % error, two-point, mV",
            Self::Drain => "divider drain, uA",
            Self::MinimumSupply => "minimum supply, mV",
            Self::Settling => "settling time, us",
            Self::Flash => "flash, bytes",
            Self::Cycles => "cycles",
        }
    }

    fn more_is_better(self) -> bool {
        matches!(self, Self::Range | Self::EffectiveBits)
    }
}

/// One candidate.
#[derive(Debug, Clone, Serialize)]
pub struct Candidate {
    /// The front end's name.
    pub name: String,
    /// Its file.
    pub file: String,
    /// `divided-input` or `supply-reference`.
    pub topology: &'static str,
    /// Why it cannot serve; empty where it can.
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
#[derive(Debug, Clone, Serialize)]
pub struct Cell {
    /// As shown.
    pub text: String,
    /// As compared; none where it is not known.
    pub value: Option<f64>,
    /// Whether no other candidate that serves is better.
    pub best: bool,
}

/// Candidates side by side.
#[derive(Debug, Clone, Serialize)]
pub struct Comparison {
    /// What the order follows; none where it is as given.
    pub by: Option<RowName>,
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
    progress: impl Fn(u64) + Sync,
) -> Comparison {
    let mut columns: Vec<(Candidate, Vec<Cell>)> = front_ends
        .iter()
        .map(|(file, front_end)| {
            let budget = budget(front_end, run, &progress);
            let range = Range::of(front_end);
            let candidate = Candidate {
                name: front_end.name.clone(),
                file: file.clone(),
                topology: front_end.topology.word(),
                failures: failures(front_end, &range),
            };
            let cells = RowName::ALL
                .into_iter()
                .map(|row| cell(row, front_end, &budget, &range))
                .collect();
            (candidate, cells)
        })
        .collect();
    if let Some(by) = by {
        // Stable, so that equals stay as given; what fails or is not known comes last.
        columns.sort_by(|one, other| {
            let key = |(candidate, cells): &(Candidate, Vec<Cell>)| {
                let value = cells.get(by as usize).and_then(|cell| cell.value);
                let value = value.map_or(f64::INFINITY, |value| rank(by, value));
                (!candidate.failures.is_empty(), value)
            };
            let ((fails, value), (others_fail, others_value)) = (key(one), key(other));
            fails.cmp(&others_fail).then(value.total_cmp(&others_value))
        });
    }
    let (candidates, columns): (Vec<_>, Vec<_>) = columns.into_iter().unzip();
    let rows = RowName::ALL
        .into_iter()
        .enumerate()
        .map(|(index, row)| {
            let cells = columns
                .iter()
                .filter_map(|column| column.get(index).cloned());
            Row {
                row,
                label: row.label(),
                cells: marked(row, cells.collect(), &candidates),
            }
        })
        .collect();
    Comparison {
        by,
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

/// Marks the best of those that serve, unless all of them are equal.
fn marked(row: RowName, mut cells: Vec<Cell>, candidates: &[Candidate]) -> Vec<Cell> {
    let serving: Vec<f64> = cells
        .iter()
        .zip(candidates)
        .filter(|(_, candidate)| candidate.failures.is_empty())
        .filter_map(|(cell, _)| cell.value.map(|value| rank(row, value)))
        .collect();
    let best = serving.iter().copied().fold(f64::INFINITY, f64::min);
    let worst = serving.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if best < worst {
        for (cell, candidate) in cells.iter_mut().zip(candidates) {
            let value = cell.value.map(|value| rank(row, value));
            cell.best = candidate.failures.is_empty() && value == Some(best);
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
        let model = Model::new(front_end, CalibrationModel::identity());
        let at = |count| {
            let uv = model.voltage_uv(count);
            uv.map_or(f64::INFINITY, |uv| float(&(uv / whole(1000))))
        };
        let (one, other) = (at(1), at(model.largest_count().saturating_sub(1)));
        let reads = (one.min(other), one.max(other));
        let millivolts = |uv: u32| f64::from(uv) / 1000.0;
        let cell = (
            millivolts(front_end.cell.min_uv),
            millivolts(front_end.cell.max_uv),
        );
        let low = minimum_supply_mv(front_end)
            .unwrap_or(0.0)
            .max(reads.0)
            .max(cell.0);
        let most = front_end
            .converter
            .supply_max_uv
            .map_or(f64::INFINITY, millivolts);
        let high = most.min(reads.1).min(cell.1);
        Self {
            reads,
            usable: (low < high).then_some((low, high)),
            cell,
        }
    }

    fn holds(&self, mv: f64) -> bool {
        (self.reads.0..=self.reads.1).contains(&mv)
    }
}

fn minimum_supply_mv(front_end: &FrontEnd) -> Option<f64> {
    let stated = [
        front_end.converter.supply_min_uv,
        front_end.reference.supply_min_uv,
    ];
    stated
        .into_iter()
        .flatten()
        .max()
        .map(|uv| f64::from(uv) / 1000.0)
}

fn cell(row: RowName, front_end: &FrontEnd, budget: &Budget, range: &Range) -> Cell {
    let figure = |value: Option<f64>, places: usize, otherwise: &str| Cell {
        text: value.map_or_else(|| otherwise.to_owned(), |value| format!("{value:.places$}")),
        value,
        best: false,
    };
    let step = |site: usize| {
        let at = budget
            .voltages_mv
            .get(site)
            .filter(|at| range.holds(**at))?;
        let model = Model::new(front_end, CalibrationModel::identity());
        let uv = whole((at * 1000.0).round() as u32);
        Some(float(&(model.step_uv(&uv) / whole(1000))))
    };
    let error = |state, value: &dyn Fn(&crate::budget::Total) -> f64| {
        let state = budget.state(state, Temperature::Range)?;
        let readable = state.totals.iter().filter(|total| range.holds(total.at_mv));
        readable.map(value).max_by(f64::total_cmp)
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
            best: false,
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
        RowName::Error95Before => figure(
            error(State::Uncalibrated, &|t| t.within_95()),
            1,
            "not read",
        ),
        RowName::WorstAfter => figure(error(State::TwoPoint, &|t| t.worst()), 1, "not read"),
        RowName::Error95After => figure(error(State::TwoPoint, &|t| t.within_95()), 1, "not read"),
        RowName::Drain => match dynamic::drain_ua(front_end, front_end.cell.nominal_uv) {
            Some(drain) => figure(Some(drain), 1, ""),
            None => Cell {
                text: "0, no divider".to_owned(),
                value: Some(0.0),
                best: false,
            },
        },
        RowName::MinimumSupply => figure(minimum_supply_mv(front_end), 0, "not stated"),
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
        best: false,
    }
}

/// Why a candidate cannot serve its cell, in plain words.
fn failures(front_end: &FrontEnd, range: &Range) -> Vec<String> {
    let mut failures = Vec::new();
    let cell = &front_end.cell;
    let millivolts = |uv: u32| f64::from(uv) / 1000.0;
    let (emptiest, fullest) = range.cell;
    let reference = &front_end.reference;
    let reference_mv = millivolts(reference.microvolts);
    match &front_end.topology {
        Topology::SupplyReference if reference.microvolts >= cell.min_uv => failures.push(format!(
            "the emptiest cell, {emptiest} mV, cannot exceed the sampled reference of {reference_mv} mV: at and below the \
             reference every reading is at the rail"
        )),
        Topology::SupplyReference => {}
        Topology::DividedInput(_) => {
            if range.reads.1 < fullest {
                failures.push(format!(
                    "the divider's top code stands for {:.1} mV and falls short of the charge limit of {fullest} mV",
                    range.reads.1
                ));
            }
            if reference.microvolts > cell.min_uv {
                failures.push(format!(
                    "the reference of {reference_mv} mV needs a supply above itself, and the emptiest cell gives {emptiest} mV"
                ));
            }
        }
    }
    if let Some(least) = reference.supply_min_uv.filter(|least| *least > cell.min_uv) {
        failures.push(format!(
            "the reference needs a supply of {} mV, and the emptiest cell gives {emptiest} mV",
            millivolts(least)
        ));
    }
    if let Some(least) = front_end
        .converter
        .supply_min_uv
        .filter(|least| *least > cell.min_uv)
    {
        failures.push(format!(
            "the converter needs a supply of {} mV, and the emptiest cell gives {emptiest} mV",
            millivolts(least)
        ));
    }
    if let Some(most) = front_end
        .converter
        .supply_max_uv
        .filter(|most| *most < cell.max_uv)
    {
        failures.push(format!(
            "the converter stands {} mV at most, and the fullest cell gives {fullest} mV",
            millivolts(most)
        ));
    }
    // What the crate refuses is told above where it has a plain reason, and in its own words otherwise.
    match Firmware::describe(front_end) {
        Err(DescribeError::Config(
            tallyvolt::ConfigError::ReferenceNotBelowCell { .. }
            | tallyvolt::ConfigError::DividerAboveReference { .. },
        ))
        | Ok(_) => {}
        Err(error) => failures.push(error.to_string()),
    }
    failures
}
