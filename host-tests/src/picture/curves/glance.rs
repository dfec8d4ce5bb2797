//! The errors of a first look: before and after calibration.

use super::Curves;
use tallyvolt_analysis::choose::budget::found::{Budget, StateRow, Total};

/// What one looks for first.
#[derive(Debug, Clone, PartialEq)]
pub struct Glance {
    pub name: String,
    /// Error without calibration, where there is a budget.
    pub before: Option<ErrorOf>,
    /// Error with the calibration that is planned; with two points where none is.
    pub after: Option<ErrorOf>,
    pub planned: bool,
}

/// The error of a reading over the range of temperature, at the cell voltage where it is largest.
#[derive(Debug, Clone, PartialEq)]
pub struct ErrorOf {
    /// `uncalibrated`, `one-point` or `two-point`.
    pub calibration: &'static str,
    /// 95 % of the trials lie within this many millivolts of the truth.
    pub mv: f64,
    /// All of them would, with every term at its worst.
    pub worst_mv: f64,
}

impl Glance {
    pub fn of(curves: &Curves) -> Self {
        let budget = curves.budget.as_ref();
        let points = budget.map_or(0, |budget| budget.calibration_points);
        let after = if points == 1 {
            "one-point"
        } else {
            "two-point"
        };
        Self {
            name: curves.name.clone(),
            before: budget.and_then(|budget| ErrorOf::of(budget, "uncalibrated")),
            after: budget.and_then(|budget| ErrorOf::of(budget, after)),
            planned: points > 0,
        }
    }
}

impl ErrorOf {
    fn of(budget: &Budget, calibration: &'static str) -> Option<Self> {
        let over_range = |state: &&StateRow| {
            state.calibration == calibration && state.temperature == "over the range"
        };
        let state = budget.states.iter().find(over_range)?;
        let most = |of: fn(&Total) -> f64| state.totals.iter().map(of).fold(0.0, f64::max);
        Some(Self {
            calibration,
            mv: most(Total::within_95),
            worst_mv: most(Total::worst),
        })
    }
}
