//! Yield: the share of boards whose readings keep within an error, before and after a calibration.
//!
//! A board counts where it keeps within the error at the cell's minimum, nominal and maximum at once, over the range of
//! temperature. The shares are those of the budget's own trials; for other tolerance classes of the resistors the same draws are
//! made once more, scaled to the class.

use num_rational::BigRational;
use serde::Serialize;
use tallyvolt_model::front_end::{FrontEnd, Topology};
use tallyvolt_model::rational::{float, in_millivolts};

use super::monte_carlo::{Run, Trials};
use super::reading::{CELL_SITES, Circuit, State, Temperature};
use super::terms::Terms;

/// Errors that every yield is told for, in millivolts, beside the one that the file allows.
const ERRORS_MV: [f64; 7] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0];
/// Tolerance classes of resistors in parts per million: 0.1 %, 0.5 %, 1 %, 5 % (letters B, D, F, J of IEC 60062; from memory).
const CLASSES_PPM: [u32; 4] = [1000, 5000, 10_000, 50_000];
/// Trials of a class at most: a share is then good to 0.4 % of the boards, one standard deviation.
const CLASS_TRIALS: usize = 20_000;

/// Shares of boards.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Yields {
    /// The errors, rising, in millivolts.
    pub errors_mv: Vec<f64>,
    /// A row for each state of calibration, as described; then for each class of resistors in a divided input.
    pub rows: Vec<YieldRow>,
}

/// Shares in one state of calibration.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct YieldRow {
    /// Tolerance of the resistors in parts per million; none for the front end as described.
    pub resistors_ppm: Option<u32>,
    /// `uncalibrated`, `one-point` or `two-point`.
    pub calibration: &'static str,
    /// Share of boards within each error.
    pub shares: Vec<f64>,
    /// Trials behind them.
    pub trials: usize,
}

impl Yields {
    /// The share within an error of [`Yields::errors_mv`], as described, with its standard error.
    pub fn share(&self, state: State, error_mv: f64) -> Option<(f64, f64)> {
        let place = self.errors_mv.iter().position(|error| *error == error_mv)?;
        let row = self
            .rows
            .iter()
            .find(|row| row.resistors_ppm.is_none() && row.calibration == state.word())?;
        let share = *row.shares.get(place)?;
        let error = (share * (1.0 - share) / row.trials as f64).sqrt();
        Some((share, error))
    }
}

/// The yields of a front end, from its budget's trials.
///
/// The first sites of the circuit must be the cell's minimum, nominal and maximum.
pub(super) fn yields(front_end: &FrontEnd, circuit: &Circuit, trials: &Trials, run: Run) -> Yields {
    let mut errors_mv = ERRORS_MV.to_vec();
    let asked = front_end.asks.max_error_uv.map(in_millivolts);
    if let Some(asked) = asked.filter(|asked| !errors_mv.contains(asked)) {
        errors_mv.push(asked);
        errors_mv.sort_by(f64::total_cmp);
    }
    let mut rows = rows(None, circuit, trials, &errors_mv);
    if let Topology::DividedInput(divider) = &front_end.topology {
        let sites: Vec<f64> = circuit.sites_mv.iter().copied().take(CELL_SITES).collect();
        let own = divider.tolerance.ppm.as_ref().map(float);
        for class in CLASSES_PPM {
            if own == Some(f64::from(class)) {
                continue;
            }
            let mut changed = front_end.clone();
            if let Topology::DividedInput(divider) = &mut changed.topology {
                divider.tolerance.ppm = Some(BigRational::from_integer(class.into()));
            }
            let terms = Terms::of(&changed, sites.clone());
            let model =
                |values: &[f64], errors: &mut [f64]| terms.circuit.errors_mv(values, errors);
            let fewer = Run {
                trials: run.trials.min(CLASS_TRIALS),
                ..run
            };
            let outputs = terms.circuit.outputs();
            let trials = fewer.go(&terms.inputs, &terms.correlations, outputs, &model, &|_| ());
            rows.extend(self::rows(Some(class), &terms.circuit, &trials, &errors_mv));
        }
    }
    Yields { errors_mv, rows }
}

fn rows(
    resistors_ppm: Option<u32>,
    circuit: &Circuit,
    trials: &Trials,
    errors_mv: &[f64],
) -> Vec<YieldRow> {
    State::ALL
        .into_iter()
        .map(|state| {
            let outputs: Vec<usize> = (0..CELL_SITES)
                .map(|site| circuit.output(state, Temperature::Range, site))
                .collect();
            YieldRow {
                resistors_ppm,
                calibration: state.word(),
                shares: errors_mv
                    .iter()
                    .map(|error| trials.share_within(&outputs, *error))
                    .collect(),
                trials: trials.trials(),
            }
        })
        .collect()
}
