//! What guard bands a module needs by its own uncertainty, and whether the firmware's are as wide.
//!
//! Firmware alarms earlier than a limit on the true value by the guard band of the *planned* calibration
//! ([`mod@crate::choose::budget::thresholds`]). A module may have been calibrated with fewer rows, in a noisier place, or with a
//! poorer meter. Its own guard band takes what the fit left unknown at the limit, and adds what the fit cannot see: drift over
//! the range of temperature, ageing and leakage, as the file states them. A band that is wider than the firmware's is told, with
//! the key that makes firmware, `check` and `replay` follow.

use serde::Serialize;
use tallyvolt_model::front_end::{FrontEnd, LimitMeaning};
use tallyvolt_model::rational::{float, in_millivolts};

use super::error::Error;
use super::mode::Mode;
use crate::choose::budget::distribution::Distribution;
use crate::choose::budget::input::Input;
use crate::choose::budget::quantity::Quantity;
use crate::choose::budget::reading::State;
use crate::choose::budget::terms::Terms;
use crate::choose::budget::thresholds::{planned, thresholds};
use crate::describe::limits::{Threshold, no_zone};

/// What moves after a calibration.
const DRIFT: [Quantity; 5] = [
    Quantity::ReferenceDrift,
    Quantity::ReferenceAgeing,
    Quantity::TopDrift,
    Quantity::BottomDrift,
    Quantity::Leakage,
];

/// The limits on the true value of a front end, with what no fit can see.
#[derive(Debug, Clone, Default)]
pub struct Guards {
    miss: f64,
    limits: Vec<Guarded>,
}

#[derive(Debug, Clone)]
struct Guarded {
    threshold: Threshold,
    /// Distance from the limit to the firmware's alarm.
    firmware_mv: f64,
    /// After a fit of the gain, and of gain and offset.
    drift: [Error; 2],
}

/// The guard band of one limit for one module.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Guard {
    /// Key of the limit in `[limits]`.
    pub limit: &'static str,
    /// Key of its least guard band there.
    pub key: &'static str,
    /// What this module needs, in millivolts.
    pub needs_mv: f64,
    /// How far before the limit firmware alarms, in millivolts.
    pub firmware_mv: f64,
}

impl Guard {
    /// Whether a cell at the limit is missed no more often than the file allows.
    pub fn holds(&self) -> bool {
        self.needs_mv <= self.firmware_mv
    }

    /// What to state in the file, in millivolts: the need, rounded up to 0.01 mV.
    pub fn to_state_mv(&self) -> f64 {
        (self.needs_mv * 100.0).ceil() / 100.0
    }
}

impl Guards {
    /// Those of a front end; none where its limits are on the reading, or where firmware has no alarms because guard bands
    /// leave no acceptance zone.
    pub fn of(front_end: &FrontEnd) -> Self {
        let Some(limits) = &front_end.limits else {
            return Self::default();
        };
        let thresholds = thresholds(front_end, planned(front_end));
        if limits.meaning == LimitMeaning::Reading || no_zone(front_end, &thresholds).is_some() {
            return Self::default();
        }
        let sites = thresholds
            .iter()
            .map(|threshold| in_millivolts(threshold.limit_uv));
        let mut terms = Terms::of(front_end, sites.collect());
        let moves = DRIFT.map(Quantity::slot);
        for (slot, input) in terms.inputs.iter_mut().enumerate() {
            if !moves.contains(&slot) {
                *input = Input::around_zero(Distribution::Constant);
            }
        }
        let [gain, both] = [State::OnePoint, State::TwoPoint].map(|state| terms.over_range(state));
        let limits_of = thresholds.iter().zip(gain.iter().zip(&both));
        Self {
            miss: 1e-6 * float(&limits.miss_ppm),
            limits: limits_of
                .map(|(threshold, (gain, both))| Guarded {
                    threshold: *threshold,
                    firmware_mv: given_up_mv(threshold, front_end.unit_uv),
                    drift: [gain, both].map(|first| {
                        let (bound, _) = first.inwards(threshold.direction);
                        Error::bounded(first.combined.powi(2), bound.max(0.0))
                    }),
                })
                .collect(),
        }
    }

    /// The guard bands that a module needs. `error` is what its fit leaves unknown of a reading at a voltage in millivolts;
    /// `degrees` are those of what was measured.
    pub(crate) fn of_module(
        &self,
        mode: Mode,
        degrees: Option<f64>,
        error: impl Fn(f64) -> Error,
    ) -> Vec<Guard> {
        let limits = self.limits.iter();
        limits
            .map(|guarded| {
                let [gain, both] = guarded.drift;
                let drift = match mode {
                    Mode::GainAndOffset => both,
                    Mode::GainOnly => gain,
                };
                let whole = error(in_millivolts(guarded.threshold.limit_uv)).and(drift);
                let name = guarded.threshold.direction.of_voltage();
                Guard {
                    limit: name.key(),
                    key: name.guard_key(),
                    needs_mv: whole.exceeded(self.miss, degrees),
                    firmware_mv: guarded.firmware_mv,
                }
            })
            .collect()
    }
}

/// Distance from limit to alarm in millivolts: a whole number of microvolts.
fn given_up_mv(threshold: &Threshold, unit_uv: u32) -> f64 {
    let apart_mv = threshold.alarm_mv(unit_uv) - in_millivolts(threshold.limit_uv);
    (1000.0 * apart_mv).abs().round() / 1000.0
}
