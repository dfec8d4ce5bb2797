//! Guard bands: what the thresholds of [`mod@super::thresholds`] are worth, by the trials.
//!
//! For each state of calibration: how many cells at the limit are missed, what range is given up, how many healthy cells
//! alarm, and which counts of a module without calibration the threshold is.

use serde::Serialize;
use tallyvolt_model::Model;
use tallyvolt_model::front_end::{FrontEnd, Topology};
use tallyvolt_model::outcome::{FaultName, Outcome};
use tallyvolt_model::rational::in_millivolts;

use super::monte_carlo::Trials;
use super::reading::{Circuit, State, Temperature};
use super::thresholds::{planned, thresholds};
use crate::choose::halving::first_where;
use crate::describe::limit_name::Direction;
use crate::describe::limits::{Threshold, no_zone};

/// The alarm for one limit.
#[derive(Debug, Clone, Serialize)]
pub struct Alarm {
    /// Which limit.
    pub direction: Direction,
    /// The limit in millivolts.
    pub limit_mv: f64,
    /// Guard band by normal or t distribution, in millivolts.
    pub guard_normal_mv: f64,
    /// The worst case on the side that is missed, in millivolts.
    pub worst_mv: f64,
    /// The guard band taken, in millivolts: the smaller of the two, or the file's own where that is larger; 0 for a limit on
    /// the reading.
    pub guard_mv: f64,
    /// The alarm's threshold in millivolts, a whole number of output units: alarm at it or beyond.
    pub threshold_mv: Option<f64>,
    /// The same in counts of a module without calibration.
    pub counts: Option<CountAlarm>,
    /// Share of the trials in which a cell at the limit is missed.
    pub missed: f64,
    /// Distance from threshold to limit in millivolts: the range that is given up.
    pub given_up_mv: f64,
    /// The end of the cell's own range on this side, or nominal where the limit lies within that range.
    pub healthy_mv: f64,
    /// Share of the trials in which a healthy cell at that voltage alarms.
    pub false_alarms: f64,
}

/// An alarm as a comparison of counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct CountAlarm {
    /// `>=` or `<=`.
    pub comparison: &'static str,
    /// The count compared with.
    pub count: u32,
}

/// The alarms of one state of calibration.
#[derive(Debug, Clone, Serialize)]
pub struct GuardBands {
    /// `uncalibrated`, `one-point` or `two-point`.
    pub calibration: &'static str,
    /// Whether modules are calibrated like this.
    pub planned: bool,
    /// The limits.
    pub alarms: Vec<Alarm>,
    /// Why there are no thresholds.
    pub problem: Option<String>,
}

/// Sites of the circuit for a limit: at the limit, and at a healthy cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct LimitSites {
    pub(super) site: usize,
    pub(super) healthy_mv: f64,
    pub(super) healthy_site: usize,
}

/// The guard bands of one state, with the sites of the limits in the order of [`thresholds`].
pub(super) fn guard_bands(
    front_end: &FrontEnd,
    state: State,
    circuit: &Circuit,
    limits: &[LimitSites],
    trials: &Trials,
) -> GuardBands {
    let thresholds = thresholds(front_end, state);
    let problem = no_zone(front_end, &thresholds);
    let counts = Counts::new(front_end);
    let alarm = |(threshold, limit): (&Threshold, &LimitSites)| {
        let [output, healthy_output] = [limit.site, limit.healthy_site]
            .map(|site| circuit.output(state, Temperature::Range, site));
        let limit_mv = in_millivolts(threshold.limit_uv);
        let alarm_mv = threshold.alarm_mv(front_end.unit_uv);
        let healthy_off = alarm_mv - limit.healthy_mv;
        let (missed, false_alarms, given_up_mv) = match threshold.direction {
            Direction::Over => (
                trials.share_below(output, alarm_mv - limit_mv),
                1.0 - trials.share_below(healthy_output, healthy_off),
                limit_mv - alarm_mv,
            ),
            Direction::Under => (
                1.0 - trials.share_at_most(output, alarm_mv - limit_mv),
                trials.share_at_most(healthy_output, healthy_off),
                alarm_mv - limit_mv,
            ),
        };
        let threshold_mv = problem.is_none().then_some(alarm_mv);
        Alarm {
            direction: threshold.direction,
            limit_mv,
            guard_normal_mv: threshold.normal_mv,
            worst_mv: threshold.worst_mv,
            guard_mv: threshold.guard_mv,
            threshold_mv,
            counts: threshold_mv.and_then(|mv| counts.alarm(threshold.direction, mv)),
            missed,
            given_up_mv: given_up_mv.max(0.0),
            healthy_mv: limit.healthy_mv,
            false_alarms,
        }
    };
    let alarms = thresholds.iter().zip(limits).map(alarm).collect();
    GuardBands {
        calibration: state.word(),
        planned: planned(front_end) == state,
        alarms,
        problem,
    }
}

/// Finds thresholds among the counts of a module without calibration, by the exact model.
struct Counts {
    model: Model,
    falls: bool,
}

impl Counts {
    fn new(front_end: &FrontEnd) -> Self {
        Self {
            model: Model::as_drawn(front_end),
            falls: matches!(front_end.topology, Topology::SupplyReference),
        }
    }

    /// The comparison of counts that alarms exactly where the converted voltage does; none where only a fault would.
    fn alarm(&self, direction: Direction, threshold_mv: f64) -> Option<CountAlarm> {
        let unit_uv = f64::from(self.model.front_end().unit_uv);
        let units = (threshold_mv * 1000.0 / unit_uv).round() as u32;
        let alarms = |count| {
            let value = match self.model.outcome(count) {
                Outcome::Units(units) => units,
                Outcome::Fault(FaultName::AboveRange) => u32::MAX,
                // Neither zero nor the rail is among the counts asked.
                Outcome::Fault(_) => 0,
            };
            match direction {
                Direction::Over => value >= units,
                Direction::Under => value <= units,
            }
        };
        let upwards = (direction == Direction::Over) != self.falls;
        let last = self.model.largest_count().checked_sub(1)?;
        // The first count from 1 on at which the verdict is the one of large counts.
        let turned = |count| alarms(count) == upwards;
        turned(last).then_some(())?;
        let turn = first_where(1, last, turned);
        let (comparison, count) = if upwards {
            (">=", turn)
        } else {
            ("<=", turn - 1)
        };
        (count > 0).then_some(CountAlarm { comparison, count })
    }
}
