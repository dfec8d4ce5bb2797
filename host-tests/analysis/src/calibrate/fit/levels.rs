//! Readings of one module gathered by voltage: rows at the same voltage are repeats, and tell noise from everything else.

use super::error::Error;
use super::meter::Meter;
use super::readings::Reading;
use super::rounding::{self, HARMONICS};
use super::transfer::Transfer;

/// Readings within this part of the cell's range are repeats of one voltage.
pub const SAME_VOLTAGE: f64 = 0.01;

/// So many rows may show one figure by coincidence where the supply moves by more than a digit.
const COINCIDENCE: usize = 3;

/// One reading in positions and count units.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    /// Nominal position of the meter's voltage.
    pub position: f64,
    /// Where the count stands.
    pub place: f64,
    /// Line in the file.
    pub line: u64,
}

/// The repeats of one voltage.
#[derive(Debug, Clone)]
pub struct Level {
    /// The rows, by place corrected for their own voltage.
    pub rows: Vec<Row>,
    /// Mean position.
    pub position: f64,
    /// Mean place.
    pub place: f64,
    /// How alike its rows are to the converter's rounding, as [`rounding::alike`].
    pub alike: [f64; HARMONICS],
    /// The part of the display's rounding that its rows share, 0 to 1.
    pub display_shared: f64,
}

impl Level {
    /// A row's distance from the level's mean, in counts, its own voltage allowed for.
    pub fn deviation(&self, row: &Row) -> f64 {
        // The nominal slope is 1; what a module's own slope differs is too small to matter within one voltage.
        (row.place - self.place) - (row.position - self.position)
    }

    /// Sum of squared distances from the mean.
    pub fn scatter(&self) -> f64 {
        self.rows
            .iter()
            .map(|row| self.deviation(row).powi(2))
            .sum()
    }

    /// Whether the meter's figure moved between its rows.
    pub fn moves(&self) -> bool {
        self.display_shared < 1.0
    }

    /// Number of rows.
    pub fn repeats(&self) -> f64 {
        self.rows.len() as f64
    }

    /// What the meter's display rounds, of the mean of the rows, in counts.
    pub fn display(&self, meter: &Meter, transfer: &Transfer) -> Error {
        display(
            meter.display_counts(transfer, self.position),
            self.repeats(),
            self.display_shared,
        )
    }

    fn new(mut rows: Vec<Row>, transfer: &Transfer, meter: &Meter) -> Self {
        rows.sort_by(|one, other| {
            let key = |row: &Row| row.place - row.position;
            key(one)
                .total_cmp(&key(other))
                .then(one.line.cmp(&other.line))
        });
        let mean = |of: &dyn Fn(&Row) -> f64| rows.iter().map(of).sum::<f64>() / rows.len() as f64;
        let (position, place) = (mean(&|row| row.position), mean(&|row| row.place));
        let shown: Vec<f64> = rows
            .iter()
            .map(|row| transfer.voltage_mv(row.position))
            .collect();
        Self {
            alike: rounding::alike(
                rows.iter().map(|row| row.position / transfer.per_sample),
                meter.resolution_mv * transfer.counts_per_mv(transfer.voltage_mv(position)).abs()
                    / transfer.per_sample,
            ),
            display_shared: meter.display_shared(&shown),
            rows,
            position,
            place,
        }
    }
}

/// Decides by the batch whether a voltage's two or three rows that show one figure share its rounding.
///
/// Where most of the batch's figures move between repeats, so few alike are a coincidence, and the supply moved here as well.
/// More rows alike are none.
pub fn settle(batch: &mut [Vec<Level>]) {
    let repeated = |level: &&Level| level.rows.len() > 1;
    let all = batch.iter().flatten().filter(repeated).count();
    let moving = batch.iter().flatten().filter(|level| level.moves()).count();
    if 2 * moving <= all {
        return;
    }
    for level in batch.iter_mut().flatten() {
        if (2..=COINCIDENCE).contains(&level.rows.len()) && !level.moves() {
            level.display_shared = 0.0;
        }
    }
}

/// Rounding of the mean of `repeats` figures, each of standard deviation `each`, that share a part of it.
pub fn display(each: f64, repeats: f64, shared: f64) -> Error {
    let variance = each.powi(2);
    Error::rectangular(variance * shared).and(Error::mean_of_rectangular(
        variance * (1.0 - shared),
        repeats,
    ))
}

/// The levels of a module, by rising position; the same whatever the order of the rows.
pub fn levels(readings: &[Reading], transfer: &Transfer, meter: &Meter) -> Vec<Level> {
    let mut rows: Vec<Row> = readings
        .iter()
        .filter(|reading| reading.count > 0 && reading.count < transfer.largest)
        .map(|reading| Row {
            position: transfer.position(reading.meter_mv),
            place: transfer.place(reading.count),
            line: reading.line,
        })
        .collect();
    rows.sort_by(|one, other| {
        one.position
            .total_cmp(&other.position)
            .then(one.place.total_cmp(&other.place))
    });
    let (low, high) = transfer.span();
    let width = (high - low) * SAME_VOLTAGE;
    let mut levels: Vec<Level> = Vec::new();
    let mut gathered: Vec<Row> = Vec::new();
    for row in rows {
        if gathered
            .first()
            .is_some_and(|first| row.position - first.position > width)
        {
            levels.push(Level::new(std::mem::take(&mut gathered), transfer, meter));
        }
        gathered.push(row);
    }
    if !gathered.is_empty() {
        levels.push(Level::new(gathered, transfer, meter));
    }
    levels
}

#[cfg(test)]
mod tests {
    use super::*;

    fn level(rows: usize, display_shared: f64) -> Level {
        let row = Row {
            position: 100.0,
            place: 100.0,
            line: 1,
        };
        Level {
            rows: vec![row; rows],
            position: 100.0,
            place: 100.0,
            alike: [1.0; HARMONICS],
            display_shared,
        }
    }

    fn settled(mut batch: Vec<Vec<Level>>) -> Vec<f64> {
        settle(&mut batch);
        batch
            .into_iter()
            .flatten()
            .map(|level| level.display_shared)
            .collect()
    }

    /// Where more than half of the repeated figures move, two or three alike are a coincidence; four are none, and one says nothing.
    #[test]
    fn the_batch_tells_whether_figures_alike_are_a_coincidence() {
        let moving = || vec![level(2, 0.2), level(3, 0.0), level(5, 0.9)];
        assert_eq!(
            settled(vec![moving(), vec![level(2, 1.0), level(3, 1.0)]]),
            [0.2, 0.0, 0.9, 0.0, 0.0]
        );
        assert_eq!(
            settled(vec![moving(), vec![level(4, 1.0), level(1, 1.0)]]),
            [0.2, 0.0, 0.9, 1.0, 1.0]
        );
        // Half are not more than half.
        let still = vec![level(2, 1.0), level(2, 1.0), level(3, 1.0)];
        assert_eq!(
            settled(vec![moving(), still]),
            [0.2, 0.0, 0.9, 1.0, 1.0, 1.0]
        );
        // Voltages that are read once have no vote.
        let once = || level(1, 1.0);
        assert_eq!(
            settled(vec![moving(), vec![level(2, 1.0), once(), once(), once()]]),
            [0.2, 0.0, 0.9, 0.0, 1.0, 1.0, 1.0]
        );
    }

    /// Of the rounding a quarter is shared: 4 / 4 of it in the mean, and of the rest a row's part.
    #[test]
    fn a_mean_keeps_what_its_figures_share() {
        assert_eq!(display(2.0, 4.0, 0.25).variance, 1.0 + 3.0 / 4.0);
        assert_eq!(display(2.0, 1.0, 1.0).variance, 4.0);
    }
}
