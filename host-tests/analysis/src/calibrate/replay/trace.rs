//! A module's log over time in a bounded number of columns, however long it is: what a picture can show.

use std::collections::{BTreeMap, HashMap};
use std::path::Path;

use super::Module;
use super::log::{self, Entry, Largest};
use crate::calibrate::fit::transfer::Transfer;
use crate::files::rows::problem::RowsError;

/// Columns that are kept at most; beyond, they become twice as wide.
const COLUMNS_MAX: usize = 480;
/// Width of a column at first, in seconds.
const FIRST_WIDTH_S: f64 = 1e-3;

/// The rows of one stretch of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Column {
    /// Time of its earliest row, in seconds.
    pub from_s: f64,
    /// Time of its latest row.
    pub to_s: f64,
    /// Lowest and highest reading in millivolts; none where every count is a fault.
    pub read_mv: Option<(f64, f64)>,
    /// Lowest and highest reading of the meter.
    pub meter_mv: Option<(f64, f64)>,
    /// Lowest and highest reading less the meter's.
    pub error_mv: Option<(f64, f64)>,
    /// Whether a count was no voltage.
    pub fault: bool,
}

/// A module's columns, by time.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    width_s: f64,
    columns: BTreeMap<i64, Column>,
}

impl Default for Trace {
    fn default() -> Self {
        Self {
            width_s: FIRST_WIDTH_S,
            columns: BTreeMap::new(),
        }
    }
}

impl Trace {
    /// The columns, by time.
    pub fn columns(&self) -> impl Iterator<Item = &Column> + Clone {
        self.columns.values()
    }

    /// Takes a row.
    pub fn push(&mut self, time_s: f64, read_mv: Option<f64>, meter_mv: Option<f64>) {
        let both = |value: f64| (value, value);
        let row = Column {
            from_s: time_s,
            to_s: time_s,
            read_mv: read_mv.map(both),
            meter_mv: meter_mv.map(both),
            error_mv: read_mv
                .zip(meter_mv)
                .map(|(read, meter)| both(read - meter)),
            fault: read_mv.is_none(),
        };
        self.add((time_s / self.width_s).floor() as i64, row);
        while self.columns.len() > COLUMNS_MAX {
            self.width_s *= 2.0;
            for (place, column) in std::mem::take(&mut self.columns) {
                self.add(place.div_euclid(2), column);
            }
        }
    }

    fn add(&mut self, place: i64, column: Column) {
        let known = self.columns.entry(place).or_insert(column);
        *known = known.with(column);
    }
}

impl Column {
    fn with(self, other: Self) -> Self {
        let wider = |one: Option<(f64, f64)>, other: Option<(f64, f64)>| match (one, other) {
            (Some(one), Some(other)) => Some((one.0.min(other.0), one.1.max(other.1))),
            (known, None) | (None, known) => known,
        };
        Self {
            from_s: self.from_s.min(other.from_s),
            to_s: self.to_s.max(other.to_s),
            read_mv: wider(self.read_mv, other.read_mv),
            meter_mv: wider(self.meter_mv, other.meter_mv),
            error_mv: wider(self.error_mv, other.error_mv),
            fault: self.fault || other.fault,
        }
    }
}

/// The traces of `modules`, in their order, from a second reading of the log that they were replayed from. Rows that the
/// first reading refused stay out.
///
/// `progress` is told bytes of the file.
///
/// # Errors
/// [`RowsError`] when the file cannot be read any more.
pub fn traces(
    path: &Path,
    largest: Largest,
    transfer: &Transfer,
    modules: &[&Module],
    progress: &dyn Fn(u64),
) -> Result<Vec<Trace>, RowsError> {
    let mut traces = vec![Trace::default(); modules.len()];
    let places: HashMap<&[u8], usize> = modules
        .iter()
        .enumerate()
        .map(|(place, module)| (module.name.as_bytes(), place))
        .collect();
    let mut each = |entry: Entry<'_>| {
        if let Some(&place) = places.get(entry.module) {
            let read_mv = modules[place].log.reading_mv(entry.count, transfer);
            traces[place].push(entry.time_s, read_mv, entry.meter_mv);
        }
        Ok(())
    };
    log::read(path, largest, progress, &mut each)?;
    Ok(traces)
}

#[cfg(test)]
mod tests {
    use super::{COLUMNS_MAX, Trace};

    #[test]
    fn a_trace_keeps_extremes_and_stays_bounded() {
        let mut trace = Trace::default();
        let rows = 100_000;
        for row in 0..rows {
            // One peak, one dip and one fault in a long quiet log.
            let read = match row {
                70_001 => Some(3700.0),
                70_002 => Some(2500.0),
                90_000 => None,
                _ => Some(3300.0),
            };
            trace.push(f64::from(row) * 0.25, read, Some(3300.5));
        }
        let columns: Vec<_> = trace.columns().collect();
        assert!(columns.len() <= COLUMNS_MAX && columns.len() > COLUMNS_MAX / 4);
        let (first, last) = (columns[0], columns[columns.len() - 1]);
        assert_eq!((first.from_s, last.to_s), (0.0, 24_999.75));
        let ends = columns.iter().filter_map(|column| column.read_mv);
        let ends = ends.fold((f64::MAX, f64::MIN), |all, one| {
            (all.0.min(one.0), all.1.max(one.1))
        });
        assert_eq!(ends, (2500.0, 3700.0));
        assert_eq!(columns.iter().filter(|column| column.fault).count(), 1);
        let errors = columns.iter().filter_map(|column| column.error_mv);
        assert_eq!(errors.map(|error| error.1).fold(f64::MIN, f64::max), 399.5);
        for pair in columns.windows(2) {
            assert!(pair[0].to_s < pair[1].from_s);
        }
    }

    #[test]
    fn rows_before_the_first_and_far_apart_have_their_columns() {
        let mut trace = Trace::default();
        for time in [5.0, -3.0, 1e13, 5.0] {
            trace.push(time, Some(3000.0), None);
        }
        let times: Vec<f64> = trace.columns().map(|column| column.from_s).collect();
        assert_eq!(times, [-3.0, 5.0, 1e13]);
    }
}
