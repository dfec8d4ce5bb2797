//! The errors of a first look: before and after calibration.

use super::Curves;
use tallyvolt_analysis::choose::budget::found::{Budget, Total};
use tallyvolt_analysis::choose::budget::reading::{State, Temperature};

/// What one looks for first.
#[derive(Debug, Clone, PartialEq)]
pub struct Glance {
    /// Error without calibration, where there is a budget.
    pub before: Option<ErrorOf>,
    /// Error with the calibration that is planned; with two points where none is.
    pub after: Option<ErrorOf>,
    pub planned: bool,
}

/// The error of a reading over the range of temperature, at the cell voltage where it is largest.
#[derive(Debug, Clone, PartialEq)]
pub struct ErrorOf {
    /// What was taken out of the readings.
    pub calibration: State,
    /// 95 % of the trials lie within this many millivolts of the truth.
    pub mv: f64,
    /// All of them would, with every term at its worst.
    pub worst_mv: f64,
}

impl Glance {
    pub fn of(curves: &Curves) -> Self {
        let budget = curves.budget.as_ref();
        let points = budget.map_or(0, |budget| budget.calibration_points);
        let after = match points {
            1 => State::OnePoint,
            _ => State::TwoPoint,
        };
        Self {
            before: budget.and_then(|budget| ErrorOf::of(budget, State::Uncalibrated)),
            after: budget.and_then(|budget| ErrorOf::of(budget, after)),
            planned: points > 0,
        }
    }
}

impl ErrorOf {
    fn of(budget: &Budget, calibration: State) -> Option<Self> {
        let state = budget.state(calibration, Temperature::Range)?;
        let most = |of: fn(&Total) -> f64| state.totals.iter().map(of).fold(0.0, f64::max);
        Some(Self {
            calibration,
            mv: most(Total::within_95),
            worst_mv: most(Total::worst),
        })
    }
}
