//! The numbers behind a front end's plots: one set for the page, for single pictures and for JSON.
//!
//! ```text
//! circuit    the drawing: parts and what is written at them
//! glance     figures of a first look
//! transfer   count -> voltage around the cell's range, and the step of a count over it
//! rounding   what firmware answers less the exact voltage, over every count
//! sensor     count -> temperature, and the table's error
//! limits     counts around each limit: where it trips, where it holds, where its guard band begins
//! ```
//!
//! Voltages come from the exact model and answers from the firmware's conversion; nothing is fitted or smoothed.

pub mod circuit;
pub mod glance;
pub mod limits;
pub mod rounding;
pub mod sensor;
pub mod transfer;
pub mod values;

use serde::Serialize;
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::{Accuracy, FrontEnd, Tolerance, Topology};
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::outcome::Outcome;

use crate::choose::budget::headroom::{Headroom, headroom};
use crate::choose::budget::monte_carlo::Run;
use crate::choose::budget::{Budget, budget};
use crate::describe::firmware::{Conversion, DescribeError};
use crate::describe::thermistor_table::BuiltTable;
use crate::prove::check::{Check, check_subject, conversion};
use crate::words::drawing;
use circuit::Circuit;
use limits::LimitCurve;
use rounding::Rounding;
use sensor::SensorCurves;
use transfer::{Step, Transfer};

/// Points of a curve.
const POINTS: u32 = 129;

/// Everything that is plotted about one front end, and the verdicts beside it.
#[derive(Debug, Clone, Serialize)]
pub struct Curves {
    /// The front end's name.
    pub name: String,
    /// What is drawn: label and text.
    pub drawing: Vec<(&'static str, String)>,
    /// The same as a circuit, for the picture and the page.
    #[serde(skip)]
    pub circuit: Circuit,
    /// The check of every count.
    pub check: Check,
    /// How far every board within its limits still reads; none where no count is a voltage.
    pub headroom: Option<Headroom>,
    /// Count to voltage; none where no count is a voltage.
    pub transfer: Option<Transfer>,
    /// Millivolts a count, over the cell's range.
    pub steps: Vec<Step>,
    /// Rounding over the counts that are voltages; none where there are none.
    pub rounding: Option<Rounding>,
    /// The error budget, where it was asked for and anything is described that it could be made of.
    pub budget: Option<Budget>,
    /// The thermistor, where one is described.
    pub sensor: Option<SensorCurves>,
    /// The limits, where any are described.
    pub limits: Vec<LimitCurve>,
}

impl Curves {
    /// Checks a front end over every count and works out its curves; without a `run` there is no error budget.
    ///
    /// `progress` is told how many counts and trials were done, from any thread.
    ///
    /// # Errors
    /// [`DescribeError`] when the firmware crate refuses the front end.
    pub fn of(
        front_end: &FrontEnd,
        run: Option<Run>,
        progress: impl Fn(u64) + Sync,
    ) -> Result<Self, DescribeError> {
        let conversion = conversion(front_end)?;
        let subject = |count| conversion.outcome(count);
        let check = check_subject(front_end, &conversion, subject, &progress);
        let characteristic = check
            .valid_counts
            .map(|ends| Characteristic::new(front_end, conversion, ends));
        let budget = run
            .filter(|_| states_errors(front_end))
            .map(|run| budget(front_end, run, &progress));
        let built = front_end.thermistor.as_ref().and_then(|drawn| {
            // A table that cannot be built was refused when the file was read.
            Some((drawn, BuiltTable::build(front_end, drawn).ok()?))
        });
        let built = built.as_ref();
        let mut rows = drawing::drawing(front_end);
        rows.extend(built.map(|(drawn, _)| ("sensor", drawing::sensor(drawn))));
        Ok(Self {
            name: front_end.name.clone(),
            drawing: rows,
            circuit: Circuit::of(front_end),
            headroom: headroom(front_end),
            transfer: characteristic.as_ref().map(Transfer::of),
            steps: transfer::steps(front_end),
            rounding: characteristic.as_ref().map(Rounding::of),
            sensor: built.map(|(drawn, built)| SensorCurves::of(front_end, drawn, built)),
            limits: characteristic.as_ref().map_or_else(Vec::new, |voltages| {
                let table = built.map(|(_, table)| table);
                limits::of(front_end, voltages, table, budget.as_ref())
            }),
            budget,
            check,
        })
    }

    /// What [`Curves::of`] tells `progress` in all, about.
    #[must_use]
    pub fn work(front_end: &FrontEnd, run: Option<Run>) -> u64 {
        let model = Model::new(front_end, CalibrationModel::identity());
        let run = run.filter(|_| states_errors(front_end));
        u64::from(model.largest_count()) + 1 + run.map_or(0, |run| run.trials as u64)
    }
}

/// Whether a file says anything about errors: a budget of nothing but rounding is none.
fn states_errors(front_end: &FrontEnd) -> bool {
    let divider = match &front_end.topology {
        Topology::DividedInput(divider) => Some(&divider.tolerance),
        Topology::SupplyReference => None,
    };
    front_end.converter.accuracy != Accuracy::default()
        || front_end.reference.tolerance != Tolerance::default()
        || divider.is_some_and(|tolerance| *tolerance != Tolerance::default())
        || front_end.meter.is_some()
}

/// One count, as the model has it and as firmware answers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Reading {
    /// The count.
    pub count: u32,
    /// Exact voltage in millivolts, nearest double.
    pub exact_mv: f64,
    /// Firmware's answer in millivolts.
    pub read_mv: f64,
}

/// The counts that are voltages, with model and firmware.
struct Characteristic<'a> {
    front_end: &'a FrontEnd,
    conversion: Conversion,
    model: Model,
    form: IntegerForm,
    first: u32,
    last: u32,
}

impl<'a> Characteristic<'a> {
    fn new(front_end: &'a FrontEnd, conversion: Conversion, (first, last): (u32, u32)) -> Self {
        let model = Model::new(front_end, CalibrationModel::identity());
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
    fn units(&self, count: u32) -> Option<u32> {
        match self.conversion.outcome(count) {
            Outcome::Units(units) => Some(units),
            Outcome::Fault(_) => None,
        }
    }

    /// None outside the counts that are voltages.
    fn reading(&self, count: u32) -> Option<Reading> {
        let units = self.units(count)?;
        Some(Reading {
            count,
            exact_mv: crate::prove::check::millivolts(&self.model.voltage_uv(count)?),
            read_mv: f64::from(units) * f64::from(self.front_end.unit_uv) / 1000.0,
        })
    }

    /// The readings of evenly spaced counts, both ends among them; every count where they are few.
    fn readings(&self, first: u32, last: u32) -> Vec<Reading> {
        spaced_between(first, last, POINTS)
            .filter_map(|count| self.reading(count))
            .collect()
    }

    /// The count whose exact voltage is nearest.
    fn nearest(&self, mv: f64) -> u32 {
        let exact = |count| {
            self.model
                .voltage_uv(count)
                .map_or(f64::INFINITY, |uv| crate::prove::check::millivolts(&uv))
        };
        let rises = exact(self.first) <= exact(self.last);
        let (mut low, mut high) = (self.first, self.last);
        // The first count that has passed the voltage; the last one where none has.
        while low < high {
            let middle = low + (high - low) / 2;
            if (exact(middle) >= mv) == rises {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        let before = low.saturating_sub(1).max(self.first);
        if (exact(before) - mv).abs() < (exact(low) - mv).abs() {
            before
        } else {
            low
        }
    }
}

/// At most `number` evenly spaced counts from `first` to `last`, both among them; every count where they are few.
fn spaced_between(first: u32, last: u32, number: u32) -> impl Iterator<Item = u32> {
    let span = last.saturating_sub(first);
    let gaps = span.min(number.saturating_sub(1));
    let step = move |at: u32| u64::from(span) * u64::from(at) / u64::from(gaps.max(1));
    (0..=gaps).map(move |at| first + step(at) as u32)
}
