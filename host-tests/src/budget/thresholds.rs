//! Alarm thresholds: where firmware must alarm so that a limit on the true value is kept (JCGM 106).
//!
//! A cell whose true voltage is at the limit T reads T plus an error. With the alarm at A = T - w (upper limit) it is missed
//! when the error is below -w. The guard band w is a multiple of the standard uncertainty for the stated probability (8.3; the t
//! quantile for few degrees of freedom, 8.3.3), and at most the worst case, which no board errs by. It follows from the
//! file alone: no trial takes part, so that every command and every run finds the same threshold. `budget` counts in its trials
//! how many cells at the limit are missed with it. A fitted batch may need a wider one than its plan; `fit` says so, and the file
//! then states it.
//!
//! A limit on the reading has no guard band: the reading itself is compared with it.

use serde::Serialize;

use super::combine::{combine, one_sided_factor};
use super::reading::State;
use super::terms::{Terms, float};
use crate::front_end::{FrontEnd, LimitMeaning, Limits};

/// Which limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// The voltage must not rise above it.
    Over,
    /// The voltage must not fall below it.
    Under,
}

/// The alarm for one limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Threshold {
    /// Which limit.
    pub direction: Direction,
    /// The limit as written, in microvolts.
    pub limit_uv: u32,
    /// Guard band by the normal or t distribution, in millivolts.
    pub normal_mv: f64,
    /// The worst case on the side that is missed, in millivolts.
    pub worst_mv: f64,
    /// The guard band taken, in millivolts: the smaller of the two, or the file's own where that is larger; 0 for a limit on
    /// the reading.
    pub guard_mv: f64,
    /// The last reading that is no alarm, in output units: what firmware compares with.
    pub quiet_units: i64,
}

impl Threshold {
    /// The first reading that is an alarm, in millivolts.
    #[must_use]
    pub fn alarm_mv(&self, unit_uv: u32) -> f64 {
        let alarm = match self.direction {
            Direction::Over => self.quiet_units.saturating_add(1),
            Direction::Under => self.quiet_units.saturating_sub(1),
        };
        alarm as f64 * f64::from(unit_uv) / 1000.0
    }
}

/// The voltage limits of a front end whose modules are calibrated as `state` says; empty without limits.
#[must_use]
pub fn thresholds(front_end: &FrontEnd, state: State) -> Vec<Threshold> {
    let Some(limits) = &front_end.limits else {
        return Vec::new();
    };
    let stated = stated(limits);
    let sites = stated.iter().map(|(_, uv)| f64::from(*uv) / 1000.0);
    let terms = Terms::of(front_end, sites.collect());
    let circuit = &terms.circuit;
    let at_limits =
        |values: &[f64], errors: &mut [f64]| circuit.range_errors_mv(state, values, errors);
    let found = combine(&terms.inputs, &terms.correlations, stated.len(), &at_limits);
    let miss = 1e-6 * float(&limits.miss_ppm);
    stated
        .into_iter()
        .zip(&found)
        .map(|((direction, limit_uv), first)| {
            let normal_mv = guard_band(first.combined, first.dof, miss);
            let worst_mv = match direction {
                Direction::Over => -first.worst.0,
                Direction::Under => first.worst.1,
            };
            let guard_mv = match limits.meaning {
                LimitMeaning::Reading => 0.0,
                LimitMeaning::TrueValue => normal_mv.min(worst_mv).max(least_mv(limits, direction)),
            };
            Threshold {
                direction,
                limit_uv,
                normal_mv,
                worst_mv,
                guard_mv,
                quiet_units: quiet_units(
                    limits.meaning,
                    direction,
                    limit_uv,
                    guard_mv,
                    front_end.unit_uv,
                ),
            }
        })
        .collect()
}

/// The limits as they are written, each taken as one on the reading.
#[must_use]
pub fn as_written(front_end: &FrontEnd) -> Vec<Threshold> {
    let limits = front_end.limits.iter().flat_map(stated);
    limits
        .map(|(direction, limit_uv)| Threshold {
            direction,
            limit_uv,
            normal_mv: 0.0,
            worst_mv: 0.0,
            guard_mv: 0.0,
            quiet_units: i64::from(limit_uv / front_end.unit_uv),
        })
        .collect()
}

/// Half-width of a guard band for a standard uncertainty: `t` or normal quantile times `uncertainty` (JCGM 106, 8.3).
///
/// # Range
/// `miss` above 0, at most 0.5.
#[must_use]
pub fn guard_band(uncertainty: f64, dof: f64, miss: f64) -> f64 {
    one_sided_factor(1.0 - miss, dof) * uncertainty
}

/// How the modules of a front end are calibrated, as planned.
#[must_use]
pub fn planned(front_end: &FrontEnd) -> State {
    match front_end.calibration.points {
        0 => State::Uncalibrated,
        1 => State::OnePoint,
        _ => State::TwoPoint,
    }
}

/// Why two guard bands leave no reading that is not an alarm; none where they do.
#[must_use]
pub fn no_zone(front_end: &FrontEnd, thresholds: &[Threshold]) -> Option<String> {
    let alarm = |direction| {
        let found = thresholds
            .iter()
            .find(|threshold| threshold.direction == direction);
        found.map(|threshold| threshold.alarm_mv(front_end.unit_uv))
    };
    let millivolts = |uv: u32| f64::from(uv) / 1000.0;
    let (above, whence) = match alarm(Direction::Under) {
        Some(under) => (under, "the alarm for the lower limit"),
        None => (millivolts(front_end.cell.min_uv), "the emptiest cell"),
    };
    let (below, whither) = match alarm(Direction::Over) {
        Some(over) => (over, "the alarm for the upper limit"),
        None => (millivolts(front_end.cell.max_uv), "the fullest cell"),
    };
    let unit_mv = millivolts(front_end.unit_uv);
    (!thresholds.is_empty() && above + unit_mv / 2.0 >= below - unit_mv).then(|| {
        format!(
            "no acceptance zone left: {whither} would stand at {below} mV, {whence} at {above} mV"
        )
    })
}

/// The least guard band that the file asks for, in millivolts.
fn least_mv(limits: &Limits, direction: Direction) -> f64 {
    let uv = match direction {
        Direction::Over => limits.over_guard_uv,
        Direction::Under => limits.under_guard_uv,
    };
    f64::from(uv) / 1000.0
}

fn stated(limits: &Limits) -> Vec<(Direction, u32)> {
    let over = limits.over_uv.map(|uv| (Direction::Over, uv));
    let under = limits.under_uv.map(|uv| (Direction::Under, uv));
    over.into_iter().chain(under).collect()
}

/// Rounded away from a limit on the true value, so that the alarm comes early, never late: the alarm itself stands at the limit
/// less the guard band. A reading of exactly a limit on the reading is no alarm.
fn quiet_units(
    meaning: LimitMeaning,
    direction: Direction,
    limit_uv: u32,
    guard_mv: f64,
    unit_uv: u32,
) -> i64 {
    let units = |mv: f64| mv * 1000.0 / f64::from(unit_uv);
    let limit_mv = f64::from(limit_uv) / 1000.0;
    match (meaning, direction) {
        (LimitMeaning::Reading, _) => i64::from(limit_uv / unit_uv),
        (LimitMeaning::TrueValue, Direction::Over) => {
            (units(limit_mv - guard_mv).floor() as i64).saturating_sub(1)
        }
        (LimitMeaning::TrueValue, Direction::Under) => {
            (units(limit_mv + guard_mv).ceil() as i64).saturating_add(1)
        }
    }
}
