//! The check of a thermistor: every count against the exact fraction of its table, and the table against the sensor's law.

use serde::Serialize;
use tallyvolt::{Count, Temperature, TemperatureFault};
use tallyvolt_model::channel::{Place, SensorOutcome, sensor};
use tallyvolt_model::front_end::{FrontEnd, Thermistor};
use tallyvolt_model::thermistor::ThermistorModel;

use crate::describe::thermistor_table::BuiltTable;
use crate::describe::thermistor_table::offset::SensorOffset;

/// What a thermistor's table can do.
#[derive(Debug, Clone, Serialize)]
pub struct ThermistorCheck {
    /// Counts compared: all of them, and three beyond the largest.
    pub counts_swept: u64,
    /// Counts whose temperature or fault differed from the table's exact fraction.
    pub wrong_counts: u64,
    /// The first wrong count.
    pub wrong_example: Option<u32>,
    /// Whether temperatures never turn back along the counts.
    pub monotonic: bool,
    /// Entries of the table.
    pub entries: usize,
    /// Bytes of the table.
    pub bytes: usize,
    /// Counts from entry to entry.
    pub step: u32,
    /// Entries a tenth of a degree.
    pub entries_per_tenth: u32,
    /// First and last count that are temperatures.
    pub counts: (u32, u32),
    /// Coldest and hottest temperature answered, degC.
    pub range_c: (f64, f64),
    /// Largest count of a broken or shorted wire at the low end, and the smallest at the high end.
    pub wires: (u32, u32),
    /// Largest distance of an answer from the sensor's law over every count, in m degC.
    pub answer_error_mc: f64,
    /// The same before rounding to 0.1 degC.
    pub table_error_mc: f64,
    /// Largest distance of a maker's table from the curve behind it, in m degC; 0 for a formula.
    pub interpolation_mc: f64,
    /// The error asked for.
    pub max_error_mc: u32,
    /// The calibrated reading whose offset every answer has taken off, if there is one.
    pub offset: Option<SensorOffset>,
    /// Largest step of the law from one count to the next, in m degC: what the converter resolves.
    pub largest_step_mc: f64,
}

impl ThermistorCheck {
    /// No wrong count, monotonic, and the certified error within what was asked for.
    pub fn holds(&self) -> bool {
        self.wrong_counts == 0
            && self.monotonic
            && self.certified_mc() <= f64::from(self.max_error_mc)
    }

    /// Largest distance of an answer from the sensor: from the law, and from there to the curve behind a maker's points.
    pub fn certified_mc(&self) -> f64 {
        self.answer_error_mc + self.interpolation_mc
    }

    /// The same before answers are rounded to 0.1 degC.
    pub fn unrounded_mc(&self) -> f64 {
        self.table_error_mc + self.interpolation_mc
    }
}

/// Checks a built table, with any subject that claims to answer for it.
pub fn check(
    front_end: &FrontEnd,
    thermistor: &Thermistor,
    built: &BuiltTable,
    subject: &dyn Fn(Count) -> Result<Temperature, TemperatureFault>,
) -> ThermistorCheck {
    let model = ThermistorModel::new(front_end, thermistor);
    let largest = model.largest_count();
    let (mut counts_swept, mut wrong_counts, mut wrong_example) = (0, 0, None);
    let mut temperatures: Vec<i16> = Vec::new();
    for count in (0..=largest).chain([largest + 1, u32::MAX / 2, u32::MAX]) {
        let answered = subject(Count(count));
        counts_swept += 1;
        if answered != exact(built, count) {
            wrong_counts += 1;
            wrong_example = wrong_example.or(Some(count));
        }
        temperatures.extend(answered.ok().map(|temperature| temperature.0));
    }
    let table = &built.table;
    let last = table.first + table.counts - 1;
    let steps = (table.first..last)
        .filter_map(|count| Some((model.celsius(count + 1)? - model.celsius(count)?).abs()));
    let degrees =
        |tenths: Option<&i16>| tenths.map_or(f64::NAN, |tenths| f64::from(*tenths) / 10.0);
    ThermistorCheck {
        counts_swept,
        wrong_counts,
        wrong_example,
        monotonic: temperatures.is_sorted() || temperatures.iter().rev().is_sorted(),
        entries: table.entries.len(),
        bytes: size_of_val(&table.entries[..]),
        step: table.step,
        entries_per_tenth: table.entries_per_tenth,
        counts: (table.first, last),
        range_c: (
            degrees(temperatures.iter().min()),
            degrees(temperatures.iter().max()),
        ),
        wires: (table.low_wire, table.high_wire),
        answer_error_mc: built.answer_error_mc,
        table_error_mc: built.table_error_mc,
        interpolation_mc: built.interpolation_mc,
        max_error_mc: thermistor.max_error_mc,
        offset: built.offset,
        largest_step_mc: steps.fold(0.0, f64::max) * 1000.0,
    }
}

/// What firmware must answer: the rounded fraction, or the fault of the count's place.
///
/// # Errors
/// [`TemperatureFault`] outside the table.
pub fn exact(built: &BuiltTable, count: u32) -> Result<Temperature, TemperatureFault> {
    match sensor(&built.table, count) {
        // A table's entries are 16 bits wide, so what lies between them is.
        (SensorOutcome::Tenths(tenths), _) => {
            Ok(Temperature(i16::try_from(tenths).unwrap_or(i16::MAX)))
        }
        (SensorOutcome::Short, _) => Err(TemperatureFault::ShortCircuit),
        (SensorOutcome::Open, _) => Err(TemperatureFault::OpenCircuit),
        (SensorOutcome::OutOfTable, Place::High) => Err(TemperatureFault::AboveTable),
        (SensorOutcome::OutOfTable, _) => Err(TemperatureFault::BelowTable),
    }
}
