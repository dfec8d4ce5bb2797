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

use tallyvolt_model::front_end::{FrontEnd, LimitMeaning, Limits};
use tallyvolt_model::rational::{float, in_millivolts};

use super::combine::one_sided_factor;
use super::reading::State;
use super::terms::Terms;
use crate::describe::limit_name::Direction;
use crate::describe::limits::{Threshold, stated};

/// The voltage limits of a front end whose modules are calibrated as `state` says; empty without limits.
pub fn thresholds(front_end: &FrontEnd, state: State) -> Vec<Threshold> {
    let Some(limits) = &front_end.limits else {
        return Vec::new();
    };
    let stated: Vec<_> = stated(limits.over_uv, limits.under_uv).collect();
    let sites = stated.iter().map(|(_, uv)| in_millivolts(*uv));
    let found = Terms::of(front_end, sites.collect()).over_range(state);
    let miss = 1e-6 * float(&limits.miss_ppm);
    stated
        .into_iter()
        .zip(&found)
        .map(|((direction, limit_uv), first)| {
            let normal_mv = guard_band(first.combined, first.dof, miss);
            let (worst_mv, _) = first.inwards(direction);
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

/// Half-width of a guard band for a standard uncertainty: `t` or normal quantile times `uncertainty` (JCGM 106, 8.3).
///
/// # Range
/// `miss` above 0, at most 0.5.
pub fn guard_band(uncertainty: f64, dof: f64, miss: f64) -> f64 {
    one_sided_factor(1.0 - miss, dof) * uncertainty
}

/// How the modules of a front end are calibrated, as planned.
pub fn planned(front_end: &FrontEnd) -> State {
    match front_end.calibration.points {
        0 => State::Uncalibrated,
        1 => State::OnePoint,
        _ => State::TwoPoint,
    }
}

/// The least guard band that the file asks for, in millivolts.
fn least_mv(limits: &Limits, direction: Direction) -> f64 {
    let uv = match direction {
        Direction::Over => limits.over_guard_uv,
        Direction::Under => limits.under_guard_uv,
    };
    in_millivolts(uv)
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
    let limit_mv = in_millivolts(limit_uv);
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
