//! Guard bands (JCGM 106): where an alarm must stand so that a cell beyond its limit is not missed more often than stated.
//!
//! A cell whose true voltage is at the limit T reads T plus an error. With the alarm at A = T - w (upper limit) it is missed
//! when the error is below -w, so w is the error's quantile for the stated probability: a multiple of the standard
//! uncertainty (JCGM 106, 8.3; the t quantile for few degrees of freedom, 8.3.3), or, better, a quantile of the Monte Carlo
//! trials, which know the shapes of the distributions. The price is the voltage between A and T, where healthy cells alarm.

use serde::Serialize;

use super::combine::one_sided_factor;
use super::monte_carlo::Trials;
use super::reading::State;
use crate::front_end::{FrontEnd, Topology};
use crate::model::Model;
use crate::model::calibration::CalibrationModel;
use crate::outcome::{FaultName, Outcome};

/// Trials that must lie beyond a quantile before it is taken from them.
const TAIL_TRIALS: f64 = 100.0;
/// How many standard deviations of a tail's count a quantile is moved outwards, so that chance seldom makes it too small.
const TAIL_CAUTION: f64 = 1.645;

/// Which limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// The true voltage must not rise above it.
    Over,
    /// The true voltage must not fall below it.
    Under,
}

/// The alarm for one limit.
#[derive(Debug, Clone, Serialize)]
pub struct Alarm {
    /// Which limit.
    pub direction: Direction,
    /// The limit in millivolts.
    pub limit_mv: f64,
    /// Guard band by normal or t distribution, in millivolts.
    pub guard_normal_mv: f64,
    /// Guard band by the trials, in millivolts; none where too few of them lie that far out.
    pub guard_monte_carlo_mv: Option<f64>,
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

/// One limit to guard, and what is known about readings there.
#[derive(Debug, Clone, Copy)]
pub struct Guarded {
    /// Which limit.
    pub direction: Direction,
    /// The limit in millivolts.
    pub limit_mv: f64,
    /// Standard uncertainty of a reading at the limit, in millivolts.
    pub uncertainty_mv: f64,
    /// Its degrees of freedom.
    pub dof: f64,
    /// Output of the trials at the limit.
    pub output: usize,
    /// A healthy cell, in millivolts.
    pub healthy_mv: f64,
    /// Output of the trials there.
    pub healthy_output: usize,
}

/// Half-width of a guard band for a standard uncertainty: `t` or normal quantile times `uncertainty` (JCGM 106, 8.3).
///
/// # Range
/// `miss` above 0, at most 0.5.
#[must_use]
pub fn guard_band(uncertainty: f64, dof: f64, miss: f64) -> f64 {
    one_sided_factor(1.0 - miss, dof) * uncertainty
}

/// Probability that the true value lies at or below `limit` when `measured` was read with a normal standard uncertainty
/// (JCGM 106, 7.3.1); for a lower limit, exchange the first two.
#[must_use]
pub fn conformance(measured: f64, limit: f64, uncertainty: f64) -> f64 {
    use statrs::distribution::{ContinuousCDF, Normal};
    Normal::standard().cdf((limit - measured) / uncertainty)
}

/// The guard bands of one state.
#[must_use]
pub fn guard_bands(
    front_end: &FrontEnd,
    state: State,
    miss: f64,
    limits: &[Guarded],
    trials: &Trials,
) -> GuardBands {
    let planned = front_end.calibration.points == state as u32;
    let counts = Counts::new(front_end);
    let mut alarms: Vec<Alarm> = limits
        .iter()
        .map(|limit| alarm(front_end, miss, limit, trials))
        .collect();
    let problem = no_zone(front_end, &alarms);
    for alarm in &mut alarms {
        if problem.is_some() {
            alarm.threshold_mv = None;
        }
        alarm.counts = alarm
            .threshold_mv
            .and_then(|mv| counts.alarm(alarm.direction, mv));
    }
    GuardBands {
        calibration: state.word(),
        planned,
        alarms,
        problem,
    }
}

fn alarm(front_end: &FrontEnd, miss: f64, limit: &Guarded, trials: &Trials) -> Alarm {
    let normal = guard_band(limit.uncertainty_mv, limit.dof, miss);
    let monte_carlo = by_trials(limit, miss, trials);
    let guard_mv = monte_carlo.unwrap_or(normal).max(0.0);
    let unit_mv = f64::from(front_end.unit_uv) / 1000.0;
    // Rounded away from the limit: the alarm comes early, never late.
    let (threshold_mv, outside, healthy) = match limit.direction {
        Direction::Over => {
            let threshold = ((limit.limit_mv - guard_mv) / unit_mv).floor() * unit_mv;
            let missed = trials.share_below(limit.output, threshold - limit.limit_mv);
            let quiet = trials.share_below(limit.healthy_output, threshold - limit.healthy_mv);
            (threshold, missed, 1.0 - quiet)
        }
        Direction::Under => {
            let threshold = ((limit.limit_mv + guard_mv) / unit_mv).ceil() * unit_mv;
            let noticed = trials.share_at_most(limit.output, threshold - limit.limit_mv);
            let false_alarms =
                trials.share_at_most(limit.healthy_output, threshold - limit.healthy_mv);
            (threshold, 1.0 - noticed, false_alarms)
        }
    };
    Alarm {
        direction: limit.direction,
        limit_mv: limit.limit_mv,
        guard_normal_mv: normal,
        guard_monte_carlo_mv: monte_carlo,
        threshold_mv: Some(threshold_mv),
        counts: None,
        missed: outside,
        given_up_mv: (limit.limit_mv - threshold_mv).abs(),
        healthy_mv: limit.healthy_mv,
        false_alarms: healthy,
    }
}

fn by_trials(limit: &Guarded, miss: f64, trials: &Trials) -> Option<f64> {
    let beyond = miss * trials.trials() as f64;
    if beyond < TAIL_TRIALS {
        return None;
    }
    let rank = (beyond - TAIL_CAUTION * beyond.sqrt()).floor() as usize;
    Some(match limit.direction {
        Direction::Over => -trials.ranked(limit.output, rank),
        Direction::Under => trials.ranked(limit.output, trials.trials() - 1 - rank),
    })
}

/// Guard bands that meet leave no reading that is not an alarm.
fn no_zone(front_end: &FrontEnd, alarms: &[Alarm]) -> Option<String> {
    let threshold = |direction| {
        alarms
            .iter()
            .find(|alarm| alarm.direction == direction)
            .and_then(|alarm| alarm.threshold_mv)
    };
    let millivolts = |uv: u32| f64::from(uv) / 1000.0;
    let over = threshold(Direction::Over);
    let under = threshold(Direction::Under);
    let (above, whence) = match under {
        Some(under) => (under, "the alarm for the lower limit"),
        None => (millivolts(front_end.cell.min_uv), "the emptiest cell"),
    };
    let (below, whither) = match over {
        Some(over) => (over, "the alarm for the upper limit"),
        None => (millivolts(front_end.cell.max_uv), "the fullest cell"),
    };
    (above >= below).then(|| {
        format!(
            "no acceptance zone left: {whither} would stand at {below} mV, {whence} at {above} mV"
        )
    })
}

/// Finds thresholds among the counts of a module without calibration, by the exact model.
struct Counts {
    model: Model,
    falls: bool,
}

impl Counts {
    fn new(front_end: &FrontEnd) -> Self {
        Self {
            model: Model::new(front_end, CalibrationModel::identity()),
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
                // Rail is above everything in a divided input, below everything in a supply reference.
                Outcome::Fault(FaultName::Rail) if !self.falls => u32::MAX,
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
        let turn = first_where(1, last, |count| alarms(count) == upwards)?;
        if upwards {
            Some(CountAlarm {
                comparison: ">=",
                count: turn,
            })
        } else {
            (turn > 1).then(|| CountAlarm {
                comparison: "<=",
                count: turn - 1,
            })
        }
    }
}

/// The smallest value in `low ..= high` that has a property which, once there, stays.
fn first_where(low: u32, high: u32, has: impl Fn(u32) -> bool) -> Option<u32> {
    if low > high || !has(high) {
        return None;
    }
    let (mut low, mut high) = (low, high);
    while low < high {
        let middle = low + (high - low) / 2;
        if has(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    Some(low)
}
