//! Findings about what is read: the cell's range as drawn and on every board, the alarms, the error that is asked for.

use tallyvolt_model::Model;
use tallyvolt_model::front_end::{FrontEnd, LimitMeaning};
use tallyvolt_model::rational::{float, in_millivolts, in_order, whole};

use super::finding::Finding;
use crate::choose::budget::headroom::{Reach, counts, headroom};
use crate::choose::budget::reading::Temperature;
use crate::choose::budget::terms::Terms;
use crate::choose::budget::thresholds::{planned, thresholds};
use crate::describe::firmware::{DescribeError, Firmware};
use crate::describe::limit_name::Direction;
use crate::describe::limits::no_zone;

const WORKED_OUT: &str = "worked out from the file";
const JCGM_106: &str = "JCGM 106, 8.3";

pub(super) fn findings(front_end: &FrontEnd) -> Vec<Finding> {
    let mut findings = vec![as_drawn(front_end)];
    if let Some(headroom) = headroom(front_end) {
        for (what, reach, way) in [
            ("headroom, low end", &headroom.low, "down to"),
            ("headroom, high end", &headroom.high, "up to"),
        ] {
            findings.push(reaches(front_end, what, reach, way));
        }
    }
    findings.extend(firmware(front_end));
    findings.extend(max_error(front_end));
    findings.extend(alarms(front_end));
    findings
}

/// Whether the whole cell is read with nominal parts.
fn as_drawn(front_end: &FrontEnd) -> Finding {
    let model = Model::as_drawn(front_end);
    let cell = &front_end.cell;
    let at = |count| model.voltage_uv(count);
    let ends = counts(front_end).and_then(|(first, last)| Some(in_order(at(first)?, at(last)?)));
    let [min, nominal, max] = cell.millivolts();
    Finding {
        what: "cell's range, as drawn",
        found: match &ends {
            Some((low, high)) => {
                let [low, high] = [low, high].map(|uv| float(uv) / 1000.0);
                format!("reads {low:.1} to {high:.1} mV")
            }
            None => format!("the nominal cell of {nominal} mV is not read"),
        },
        rule: format!("the whole cell, {min} to {max} mV"),
        source: WORKED_OUT,
        holds: Some(
            ends.is_some_and(|(low, high)| low <= whole(cell.min_uv) && high >= whole(cell.max_uv)),
        ),
    }
}

fn reaches(front_end: &FrontEnd, what: &'static str, reach: &Reach, way: &str) -> Finding {
    let wanted_mv = in_millivolts(front_end.asks.headroom_uv);
    Finding {
        what,
        found: format!(
            "every board within its limits reads {way} {:.1} mV: headroom {:+.1} mV",
            reach.surely_mv, reach.headroom_mv
        ),
        rule: format!(
            "{}, {} mV, with {wanted_mv} mV of headroom (cell.headroom_mv)",
            reach.must_read, reach.must_read_mv
        ),
        source: WORKED_OUT,
        holds: Some(reach.headroom_mv >= wanted_mv),
    }
}

/// What the firmware crate refuses, where no other finding says it more plainly.
fn firmware(front_end: &FrontEnd) -> Option<Finding> {
    let error = match Firmware::describe(front_end) {
        Err(DescribeError::Config(
            tallyvolt::ConfigError::ReferenceNotBelowCell { .. }
            | tallyvolt::ConfigError::DividerAboveReference { .. },
        ))
        | Ok(_) => return None,
        Err(error) => error,
    };
    Some(Finding {
        what: "firmware",
        found: error.to_string(),
        rule: "a description that firmware can be built from".to_owned(),
        source: "the library's own bounds",
        holds: Some(false),
    })
}

/// The worst case of the planned calibration against the error that the file allows.
fn max_error(front_end: &FrontEnd) -> Option<Finding> {
    let most_mv = in_millivolts(front_end.asks.max_error_uv?);
    let cell = &front_end.cell;
    let sites = cell.millivolts();
    let state = planned(front_end);
    let (worst_mv, at_mv) = Terms::of(front_end, sites.to_vec())
        .over_range(state)
        .iter()
        .map(|first| first.worst.0.abs().max(first.worst.1.abs()))
        .zip(sites)
        .max_by(|one, other| one.0.total_cmp(&other.0))?;
    Some(Finding {
        what: "error of a reading",
        found: format!(
            "{worst_mv:.2} mV at worst, {} {}, at {at_mv} mV",
            state.word(),
            Temperature::Range.word()
        ),
        rule: format!("at most {most_mv} mV (cell.max_error_mv)"),
        source: WORKED_OUT,
        holds: Some(worst_mv <= most_mv),
    })
}

/// Guard bands that leave a reading free of alarm, and alarms that can be read at all.
fn alarms(front_end: &FrontEnd) -> Option<Finding> {
    if front_end.limits.as_ref()?.meaning != LimitMeaning::TrueValue {
        return None;
    }
    let state = planned(front_end);
    let thresholds = thresholds(front_end, state);
    if thresholds.is_empty() {
        return None;
    }
    let problem = no_zone(front_end, &thresholds);
    let stand = thresholds.iter().map(|threshold| {
        let word = match threshold.direction {
            Direction::Over => ">=",
            Direction::Under => "<=",
        };
        format!("{word} {} mV", threshold.alarm_mv(front_end.unit_uv))
    });
    let stand = stand.collect::<Vec<_>>().join(" and ");
    Some(Finding {
        what: "acceptance zone",
        holds: Some(problem.is_none()),
        found: problem.unwrap_or_else(|| format!("{}: alarms at {stand}", state.word())),
        rule: "readings that are no alarm lie between the guard bands of the planned calibration"
            .to_owned(),
        source: JCGM_106,
    })
}
