//! The counts that are voltages, with the exact model and the firmware's answers.

use serde::Serialize;
use tallyvolt_model::Model;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::integer_form::IntegerForm;

use tallyvolt_analysis::choose::halving::first_where;
use tallyvolt_analysis::describe::firmware::Conversion;
use tallyvolt_analysis::prove::check::millivolts;

/// Points of a curve.
pub(super) const POINTS: u32 = 129;

/// One count, as the model has it and as firmware answers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Reading {
    pub count: u32,
    /// Exact voltage in millivolts, nearest double.
    pub exact_mv: f64,
    /// Firmware's answer in millivolts.
    pub read_mv: f64,
}

/// The counts that are voltages, with model and firmware.
pub(super) struct Characteristic<'a> {
    pub(super) front_end: &'a FrontEnd,
    pub(super) conversion: Conversion,
    pub(super) model: Model,
    pub(super) form: IntegerForm,
    pub(super) first: u32,
    pub(super) last: u32,
}

impl<'a> Characteristic<'a> {
    pub(super) fn new(
        front_end: &'a FrontEnd,
        conversion: Conversion,
        (first, last): (u32, u32),
    ) -> Self {
        let model = Model::as_drawn(front_end);
        Self {
            front_end,
            conversion,
            form: IntegerForm::of(&model),
            model,
            first,
            last,
        }
    }

    /// Answer in output units.
    pub(super) fn units(&self, count: u32) -> Option<u32> {
        self.conversion.outcome(count).units()
    }

    /// None outside the counts that are voltages.
    pub(super) fn reading(&self, count: u32) -> Option<Reading> {
        let units = self.units(count)?;
        Some(Reading {
            count,
            exact_mv: millivolts(&self.model.voltage_uv(count)?),
            read_mv: f64::from(units) * f64::from(self.front_end.unit_uv) / 1000.0,
        })
    }

    /// The readings of evenly spaced counts, both ends among them; every count where they are few.
    pub(super) fn readings(&self, first: u32, last: u32) -> Vec<Reading> {
        spaced_between(first, last, POINTS)
            .filter_map(|count| self.reading(count))
            .collect()
    }

    /// The count whose exact voltage is nearest.
    pub(super) fn nearest(&self, mv: f64) -> u32 {
        let exact = |count| {
            self.model
                .voltage_uv(count)
                .map_or(f64::INFINITY, |uv| millivolts(&uv))
        };
        let rises = exact(self.first) <= exact(self.last);
        // The first count that has passed the voltage; the last one where none has.
        let passed = first_where(self.first, self.last, |count| (exact(count) >= mv) == rises);
        let before = passed.saturating_sub(1).max(self.first);
        if (exact(before) - mv).abs() < (exact(passed) - mv).abs() {
            before
        } else {
            passed
        }
    }
}

/// At most `number` evenly spaced counts from `first` to `last`, both among them; every count where they are few.
pub(super) fn spaced_between(first: u32, last: u32, number: u32) -> impl Iterator<Item = u32> {
    let span = last.saturating_sub(first);
    let gaps = span.min(number.saturating_sub(1));
    let step = move |at: u32| u64::from(span) * u64::from(at) / u64::from(gaps.max(1));
    (0..=gaps).map(move |at| first + step(at) as u32)
}
