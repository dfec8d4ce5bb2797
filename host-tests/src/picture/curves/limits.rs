//! The counts around each limit: where it trips, where an active alarm holds, where the guard band begins.

use serde::Serialize;
use tallyvolt::{CountLimit, LimitSide};
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::rational::in_millivolts;

use super::characteristic::{Characteristic, POINTS, spaced_between};
use tallyvolt_analysis::choose::budget::found::Budget;
use tallyvolt_analysis::choose::budget::guard_band::CountAlarm;
use tallyvolt_analysis::choose::described_limits::described;
use tallyvolt_analysis::describe::limit_name::Direction;
use tallyvolt_analysis::describe::limits::{DescribedLimit, count};
use tallyvolt_analysis::describe::thermistor_table::BuiltTable;
use tallyvolt_analysis::prove::check::thermistor::exact;

/// Counts shown beside the outermost mark, at least.
const ROOM: u32 = 6;

/// One limit of the file.
#[derive(Debug, Clone, Serialize)]
pub struct LimitCurve {
    /// Its key in `[limits]`.
    pub key: &'static str,
    /// `mV` or `degC`.
    pub unit: &'static str,
    pub limit: f64,
    /// What firmware compares with: the last reading that is no alarm. The limit itself, unless it bounds the true value.
    pub compared: f64,
    /// The value that an active alarm must come back to.
    pub hold: f64,
    /// Whether the counts beyond are the larger ones.
    pub above: bool,
    /// Counts above (or below) this one trip it.
    pub trip_count: u32,
    /// Counts above (or below) this one hold it once active.
    pub hold_count: u32,
    /// The alarm that comes before the true voltage passes the limit, with the planned calibration.
    pub guard: Option<Guard>,
    /// Counts around all these, with firmware's answers in `unit`.
    pub points: Vec<(u32, f64)>,
}

impl LimitCurve {
    /// A value of its unit in words: volts or degrees.
    pub(crate) fn shown(&self, value: f64) -> String {
        if self.unit == "mV" {
            // To the smallest output unit, 0.1 mV.
            let volts = format!("{:.4}", value / 1000.0);
            format!("{} V", volts.strip_suffix('0').unwrap_or(&volts))
        } else {
            format!("{value:.1} °C")
        }
    }
}

/// The alarm of a limit on the true value.
#[derive(Debug, Clone, Serialize)]
pub struct Guard {
    /// The planned calibration.
    pub calibration: &'static str,
    /// Alarm at this reading and beyond, in millivolts.
    pub threshold_mv: f64,
    /// The same as a comparison of counts, without calibration.
    pub counts: Option<CountAlarm>,
}

pub(super) fn of(
    front_end: &FrontEnd,
    voltages: &Characteristic<'_>,
    table: Option<&BuiltTable>,
    budget: Option<&Budget>,
) -> Vec<LimitCurve> {
    let firmware = table.and_then(|table| table.firmware().ok());
    let hysteresis = |of_voltage: bool| {
        front_end.limits.as_ref().map_or(0.0, |limits| {
            if of_voltage {
                in_millivolts(limits.hysteresis_uv)
            } else {
                f64::from(limits.hysteresis_tenths) / 10.0
            }
        })
    };
    described(front_end, &voltages.conversion, firmware.as_ref())
        .into_iter()
        .filter_map(|limit| {
            if limit.name.is_of_voltage() {
                let guard = budget.and_then(|budget| guard(budget, limit.name.direction()));
                let read = |count| Some(voltages.reading(count)?.read_mv);
                let ends = (voltages.first, voltages.last);
                curve(&limit, hysteresis(true), guard, ends, read)
            } else {
                let table = table?;
                let read = |count| Some(f64::from(exact(table, count).ok()?.0) / 10.0);
                let ends = (
                    table.table.first,
                    table.table.first + table.table.counts - 1,
                );
                curve(&limit, hysteresis(false), None, ends, read)
            }
        })
        .collect()
}

/// A limit that the crate refuses was refused when the file was read; here it has no curve.
fn curve(
    described: &DescribedLimit,
    hysteresis: f64,
    guard: Option<Guard>,
    (first, last): (u32, u32),
    read: impl Fn(u32) -> Option<f64>,
) -> Option<LimitCurve> {
    let limit = described.limit.ok()?;
    let (trip_count, hold_count) = (count(limit.trip()), count(limit.hold()));
    let guard_count = guard
        .as_ref()
        .and_then(|guard| guard.counts)
        .map_or(trip_count, |alarm| alarm.count);
    let marks = [trip_count, hold_count, guard_count];
    let (low, high) = (*marks.iter().min()?, *marks.iter().max()?);
    let room = ((high - low) / 3).max(ROOM);
    let shown = (
        low.saturating_sub(room).max(first),
        high.saturating_add(room).min(last),
    );
    Some(LimitCurve {
        key: described.name.key(),
        unit: described.name.unit(),
        limit: described.written,
        compared: described.value,
        hold: match described.side {
            LimitSide::Over => described.value - hysteresis,
            LimitSide::Under => described.value + hysteresis,
        },
        above: matches!(limit.trip(), CountLimit::Above(_)),
        trip_count,
        hold_count,
        guard,
        points: spaced_between(shown.0, shown.1, POINTS)
            .filter_map(|count| Some((count, read(count)?)))
            .collect(),
    })
}

fn guard(budget: &Budget, direction: Direction) -> Option<Guard> {
    let bands = budget.guard_bands.iter().find(|bands| bands.planned)?;
    let alarm = bands
        .alarms
        .iter()
        .find(|alarm| alarm.direction == direction && alarm.guard_mv > 0.0)?;
    Some(Guard {
        calibration: bands.calibration,
        threshold_mv: alarm.threshold_mv?,
        counts: alarm.counts,
    })
}
