//! Count to temperature, and how far the table is from the sensor's law.

use num_traits::ToPrimitive;
use serde::Serialize;
use tallyvolt_model::front_end::{FrontEnd, SensorSide, Thermistor};
use tallyvolt_model::thermistor::ThermistorModel;

use super::characteristic::{POINTS, spaced_between};
use super::rounding::{COUNTS_A_COLUMN, columns};
use tallyvolt_analysis::describe::thermistor_table::BuiltTable;
use tallyvolt_analysis::prove::check::thermistor::exact;

/// The curves of a thermistor.
#[derive(Debug, Clone, Serialize)]
pub struct SensorCurves {
    /// The largest count of the sensor.
    pub largest_count: u32,
    /// What counts up to the low wire mean: `short circuit` or `open circuit`.
    pub low_wire_means: &'static str,
    /// What counts from the high wire on mean.
    pub high_wire_means: &'static str,
    /// Evenly spaced counts of the table's range.
    pub points: Vec<SensorPoint>,
    /// Errors, column by column along the counts.
    pub errors: Vec<ErrorColumn>,
}

/// One count.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SensorPoint {
    /// The count.
    pub count: u32,
    /// Temperature by the sensor's law, less the offset of a calibrated reading, degC.
    pub law_c: f64,
    /// Firmware's answer, degC.
    pub read_c: f64,
}

/// A run of counts. Errors are firmware's answer less the law, in thousandths of a degree.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ErrorColumn {
    /// Coldest temperature of the run by the law, degC.
    pub coldest_c: f64,
    /// Hottest.
    pub hottest_c: f64,
    /// Least and largest error of the answers.
    pub answer_mc: (f64, f64),
    /// The same before they are rounded to 0.1 degC.
    pub table_mc: (f64, f64),
}

impl SensorCurves {
    pub(super) fn of(front_end: &FrontEnd, drawn: &Thermistor, built: &BuiltTable) -> Self {
        let model = ThermistorModel::new(front_end, drawn);
        let (first, last) = (
            built.table.first,
            built.table.first + built.table.counts - 1,
        );
        let at = |count| {
            Some(SensorPoint {
                count,
                law_c: model.celsius(count)?,
                read_c: f64::from(exact(built, count).ok()?.0) / 10.0,
            })
        };
        let (low_wire_means, high_wire_means) = match drawn.side {
            SensorSide::Low => ("short circuit", "open circuit"),
            SensorSide::High => ("open circuit", "short circuit"),
        };
        let errors = columns(first, last).filter_map(|(first, last)| {
            spaced_between(first, last, COUNTS_A_COLUMN)
                .filter_map(|count| {
                    let point = at(count)?;
                    let table_c = built.table.tenths(count)?.to_f64()? / 10.0;
                    let error_mc = |celsius: f64| (celsius - point.law_c) * 1000.0;
                    let (answer, table) = (error_mc(point.read_c), error_mc(table_c));
                    Some(ErrorColumn {
                        coldest_c: point.law_c,
                        hottest_c: point.law_c,
                        answer_mc: (answer, answer),
                        table_mc: (table, table),
                    })
                })
                .reduce(ErrorColumn::with)
        });
        Self {
            largest_count: model.largest_count(),
            low_wire_means,
            high_wire_means,
            errors: errors.collect(),
            points: spaced_between(first, last, POINTS).filter_map(at).collect(),
        }
    }
}

impl ErrorColumn {
    fn with(self, other: Self) -> Self {
        let both = |one: (f64, f64), other: (f64, f64)| (one.0.min(other.0), one.1.max(other.1));
        Self {
            coldest_c: self.coldest_c.min(other.coldest_c),
            hottest_c: self.hottest_c.max(other.hottest_c),
            answer_mc: both(self.answer_mc, other.answer_mc),
            table_mc: both(self.table_mc, other.table_mc),
        }
    }
}
