//! A channel again, from whole histories and converted values: what firmware does with counts, this does with values.
//!
//! A limit is beyond when the converted value is, a count that is a fault lying below or above all values; an alarm changes
//! when as many values in a row as the rule asks for speak for it; a window is the last samples of all.

use super::integer_form::IntegerForm;
use crate::front_end::{Limits, SensorSide};
use crate::outcome::{FaultName, Outcome};
use crate::table::{SensorTable, nearest_ties_up};

/// Where a count lies among converted values.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Place {
    /// No value, and on the side of low ones.
    Low,
    /// Output units, or tenths of a degree.
    Value(i64),
    /// No value, and on the side of high ones.
    High,
}

/// What a sensor's count says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SensorOutcome {
    /// Tenths of a degree.
    Tenths(i64),
    /// A broken wire.
    Open,
    /// A short.
    Short,
    /// Neither, and outside the table.
    OutOfTable,
}

/// One limit: values above `value` (or below it) are beyond.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PlainLimit {
    /// Whether values above it are beyond; below it otherwise.
    pub over: bool,
    /// Output units, or tenths of a degree.
    pub value: i64,
    /// How far a value must come back.
    pub hysteresis: i64,
    /// Readings in a row.
    pub readings: usize,
    /// Stays until acknowledged.
    pub latching: bool,
}

/// Over voltage, under voltage, over temperature, under temperature.
pub type PlainLimits = [Option<PlainLimit>; 4];

/// The limits of a file, in the unit of its output and in tenths.
#[must_use]
pub fn limits(limits: Option<&Limits>, unit_uv: u32) -> PlainLimits {
    let Some(limits) = limits else {
        return [None; 4];
    };
    let limit = |over, value: i64, hysteresis| PlainLimit {
        over,
        value,
        hysteresis,
        readings: limits.debounce_readings as usize,
        latching: limits.latching,
    };
    let units = |uv: u32| i64::from(uv / unit_uv);
    let (mv, tenths) = (
        units(limits.hysteresis_uv),
        i64::from(limits.hysteresis_tenths),
    );
    [
        limits.over_uv.map(|uv| limit(true, units(uv), mv)),
        limits.under_uv.map(|uv| limit(false, units(uv), mv)),
        limits.over_tenths.map(|at| limit(true, at.into(), tenths)),
        limits
            .under_tenths
            .map(|at| limit(false, at.into(), tenths)),
    ]
}

/// What is constant about a channel.
#[derive(Debug, Clone)]
pub struct ChannelModel {
    /// Count to voltage.
    pub voltage: IntegerForm,
    /// Whether counts rise with the voltage: a divided input.
    pub rises: bool,
    /// Samples of a count.
    pub window: usize,
    /// Largest sample.
    pub top_code: u16,
    /// The sensor's table.
    pub table: Option<SensorTable>,
    /// Limits.
    pub limits: PlainLimits,
    /// Converter's lowest supply, in output units; where the cell feeds it.
    pub supply_minimum: Option<i64>,
    /// Equal counts in a row that are stuck; 0 for never.
    pub stuck_readings: usize,
    /// Readings after bleeding that still count as bleeding.
    pub settle_readings: usize,
}

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PlainReading {
    /// The voltage.
    pub voltage: Outcome,
    /// The temperature, where there is a sensor and its count.
    pub temperature: Option<SensorOutcome>,
    /// One bit each: no voltage, supply low, sample at rail, stuck, reference lost, sensor open, short, out of table, bleeding.
    pub faults: u16,
    /// As the limits.
    pub alarms: [bool; 4],
}

impl ChannelModel {
    /// Where a count of the cell lies.
    #[must_use]
    pub fn voltage_place(&self, count: u32) -> Place {
        let low = match self.voltage.outcome(count) {
            Outcome::Units(units) => return Place::Value(units.into()),
            Outcome::Fault(FaultName::BelowRange) => true,
            Outcome::Fault(FaultName::AboveRange) => false,
            Outcome::Fault(FaultName::ZeroCount) => self.rises,
            Outcome::Fault(FaultName::Rail) => !self.rises,
        };
        if low { Place::Low } else { Place::High }
    }
}

/// What a table says of a count, and where that lies.
#[must_use]
pub fn sensor(table: &SensorTable, count: u32) -> (SensorOutcome, Place) {
    if let Some(tenths) = table.tenths(count) {
        let tenths = nearest_ties_up(tenths);
        return (SensorOutcome::Tenths(tenths), Place::Value(tenths));
    }
    let at_low_end = count < table.first;
    let falls = table.entries.first() > table.entries.last();
    let low_side = table.side == SensorSide::Low;
    let outcome = if count > table.low_wire && count < table.high_wire {
        SensorOutcome::OutOfTable
    } else if at_low_end == low_side {
        SensorOutcome::Short
    } else {
        SensorOutcome::Open
    };
    let hot = at_low_end == falls;
    (outcome, if hot { Place::High } else { Place::Low })
}

/// One limit's history since it last changed.
#[derive(Debug, Clone, Default)]
struct PlainAlarm {
    active: bool,
    places: Vec<Place>,
}

impl PlainAlarm {
    fn take(&mut self, limit: &PlainLimit, place: Place) {
        let back = if self.active { limit.hysteresis } else { 0 };
        let beyond = |place: &Place| {
            if limit.over {
                *place > Place::Value(limit.value - back)
            } else {
                *place < Place::Value(limit.value + back)
            }
        };
        self.places.push(place);
        let Some(start) = self.places.len().checked_sub(limit.readings) else {
            return;
        };
        let row = &self.places[start..];
        let changes = if self.active {
            !limit.latching && !row.iter().any(beyond)
        } else {
            row.iter().all(beyond)
        };
        if changes {
            *self = Self {
                active: !self.active,
                places: Vec::new(),
            };
        }
    }
}

/// Whether one limit's alarm, clear at first, is active after each of these.
pub fn alarm_after_each(limit: &PlainLimit, places: impl Iterator<Item = Place>) -> Vec<bool> {
    let mut alarm = PlainAlarm::default();
    places
        .map(|place| {
            alarm.take(limit, place);
            alarm.active
        })
        .collect()
}

/// A channel and all that it has seen.
#[derive(Debug, Clone)]
pub struct PlainChannel<'a> {
    model: &'a ChannelModel,
    samples: Vec<u16>,
    counts: Vec<u32>,
    bleeding_left: usize,
    alarms: [PlainAlarm; 4],
}

impl<'a> PlainChannel<'a> {
    /// A channel that has seen nothing.
    #[must_use]
    pub fn new(model: &'a ChannelModel) -> Self {
        Self {
            model,
            samples: Vec::new(),
            counts: Vec::new(),
            bleeding_left: 0,
            alarms: Default::default(),
        }
    }

    /// Takes samples.
    pub fn samples(&mut self, samples: &[u16]) {
        self.samples.extend(samples);
    }

    /// Clears all alarms.
    pub fn acknowledge(&mut self) {
        self.alarms = Default::default();
    }

    /// A reading of the last window; none before it is full.
    pub fn reading(&mut self, sensor_count: Option<u32>, bleeding: bool) -> Option<PlainReading> {
        let model = self.model;
        let window = &self.samples[self.samples.len().checked_sub(model.window)?..];
        let count = window.iter().map(|sample| u32::from(*sample)).sum();
        let voltage = model.voltage.outcome(count);
        let place = model.voltage_place(count);
        let sensed = model
            .table
            .as_ref()
            .zip(sensor_count)
            .map(|(table, count)| (sensor(table, count), count >= table.high_wire));
        if bleeding {
            self.bleeding_left = model.settle_readings + 1;
        }
        let judged = self.bleeding_left == 0;
        self.bleeding_left = self.bleeding_left.saturating_sub(1);
        let sensor_place = sensed.map(|((_, place), _)| place);
        let places = [
            judged.then_some(place),
            judged.then_some(place),
            sensor_place,
            sensor_place,
        ];
        for ((alarm, limit), place) in self.alarms.iter_mut().zip(&model.limits).zip(places) {
            if let (Some(limit), Some(place)) = (limit, place) {
                alarm.take(limit, place);
            }
        }
        self.counts.push(count);
        let stuck = model.stuck_readings;
        let row = self
            .counts
            .iter()
            .rev()
            .take_while(|other| **other == count)
            .count();
        let reference_lost = match voltage {
            Outcome::Fault(FaultName::Rail) if model.rises => {
                sensed.is_some_and(|(_, at_top)| at_top)
            }
            Outcome::Fault(FaultName::ZeroCount | FaultName::AboveRange) => !model.rises,
            _ => false,
        };
        let temperature = sensed.map(|((outcome, _), _)| outcome);
        let faults = [
            matches!(voltage, Outcome::Fault(_)),
            model
                .supply_minimum
                .is_some_and(|minimum| place < Place::Value(minimum)),
            window
                .iter()
                .any(|sample| *sample == 0 || *sample >= model.top_code),
            stuck > 0 && row >= stuck,
            reference_lost,
            temperature == Some(SensorOutcome::Open),
            temperature == Some(SensorOutcome::Short),
            temperature == Some(SensorOutcome::OutOfTable),
            !judged,
        ];
        Some(PlainReading {
            voltage,
            temperature,
            faults: faults
                .iter()
                .rev()
                .fold(0, |bits, fault| bits << 1 | u16::from(*fault)),
            alarms: self.alarms.each_ref().map(|alarm| alarm.active),
        })
    }
}
