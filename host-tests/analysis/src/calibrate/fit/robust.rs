//! A line that half of the readings cannot move, and the readings that lie off it.
//!
//! *Repeated median* (Siegel 1982): a reading's slope is the median of its slopes to all readings at other voltages, and the
//! line's slope is the median of those; the intercept is the median of what is left. A reading is an outlier by the *Hampel
//! identifier*: further from the line than five times the median absolute deviation, scaled by 1.4826 to a normal
//! distribution's standard deviation, and never less than what the noise allows. With a handful of readings the line itself
//! is uncertain where a reading is left out of it: the limit is divided by sqrt(1 - h), h the reading's leverage.

use super::levels::{Level, Row};

/// Fewer readings cannot outvote a wrong one.
const READINGS_MIN: usize = 4;
/// Above this many readings the levels' middle rows stand for them: the work grows as the square.
const READINGS_MAX: usize = 64;
/// Multiple of the scaled deviation beyond which a reading is an outlier.
const LIMIT: f64 = 5.0;
/// 1 / (normal quantile of 3/4).
const SCALE: f64 = 1.482_602_218_505_602;

/// Readings off the robust line, with their distance in counts; `noise` is the standard deviation of a reading in counts.
///
/// Without `offset` the line goes through the origin.
pub fn outliers(levels: &[Level], offset: bool, noise: f64) -> Vec<(Row, f64)> {
    let rows: Vec<(usize, Row)> = levels
        .iter()
        .enumerate()
        .flat_map(|(level, gathered)| gathered.rows.iter().map(move |row| (level, *row)))
        .collect();
    if rows.len() < READINGS_MIN || (offset && levels.len() < 2) {
        return Vec::new();
    }
    let voters: Vec<(usize, Row)> = if rows.len() <= READINGS_MAX {
        rows.clone()
    } else {
        let stride = levels.len().div_ceil(READINGS_MAX);
        let middle = |level: &Level| level.rows.get(level.rows.len() / 2).copied();
        levels
            .iter()
            .enumerate()
            .step_by(stride)
            .filter_map(|(at, level)| Some((at, middle(level)?)))
            .collect()
    };
    let slope = if offset {
        median(voters.iter().filter_map(|(level, row)| {
            median(
                voters
                    .iter()
                    .filter(|(other, _)| other != level)
                    .map(|(_, other)| (other.place - row.place) / (other.position - row.position)),
            )
        }))
    } else {
        median(voters.iter().map(|(_, row)| row.place / row.position))
    };
    let Some(slope) = slope else {
        return Vec::new();
    };
    let left = |row: &Row| row.place - slope * row.position;
    let intercept = if offset {
        median(voters.iter().map(|(_, row)| left(row))).unwrap_or(0.0)
    } else {
        0.0
    };
    let distance = |row: &Row| left(row) - intercept;
    let deviation = median(rows.iter().map(|(_, row)| distance(row).abs())).unwrap_or(0.0);
    let limit = LIMIT * (SCALE * deviation).max(noise);
    let number = rows.len() as f64;
    let mean = if offset {
        rows.iter().map(|(_, row)| row.position).sum::<f64>() / number
    } else {
        0.0
    };
    let squares: f64 = rows
        .iter()
        .map(|(_, row)| (row.position - mean).powi(2))
        .sum();
    let leverage = |row: &Row| {
        let constant = if offset { number.recip() } else { 0.0 };
        constant + (row.position - mean).powi(2) / squares
    };
    rows.iter()
        .map(|(_, row)| (*row, distance(row)))
        // A reading that alone decides the line (leverage 1) cannot be judged by it: its limit is infinite.
        .filter(|(row, distance)| distance.abs() * (1.0 - leverage(row)).max(0.0).sqrt() > limit)
        .collect()
}

/// The median; of an even number the mean of the middle two.
fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    let upper = *values.get(values.len() / 2)?;
    if values.len() % 2 == 1 {
        return Some(upper);
    }
    let lower = *values.get(values.len() / 2 - 1)?;
    Some(f64::midpoint(lower, upper))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibrate::fit::rounding::HARMONICS;

    fn level(position: f64, places: &[f64]) -> Level {
        let rows: Vec<Row> = places
            .iter()
            .map(|place| Row {
                position,
                place: *place,
                line: 1,
            })
            .collect();
        let place = places.iter().sum::<f64>() / places.len() as f64;
        Level {
            rows,
            position,
            place,
            alike: [1.0; HARMONICS],
            display_shared: 1.0,
        }
    }

    #[test]
    fn one_wrong_reading_of_four_is_found_and_no_other() {
        for wrong in 0..4 {
            let levels: Vec<Level> = (0..4)
                .map(|at| {
                    level(
                        1000.0 * f64::from(at + 1),
                        &[1003.0 * f64::from(at + 1) + if at == wrong { 40.0 } else { 2.0 }],
                    )
                })
                .collect();
            let found = outliers(&levels, true, 0.7);
            assert_eq!(found.len(), 1, "{wrong}: {found:?}");
            assert_eq!(found[0].0.position, 1000.0 * f64::from(wrong + 1));
        }
    }

    #[test]
    fn two_levels_of_repeats_and_a_gain_alone_find_theirs() {
        let levels = [
            level(2000.0, &[2010.0, 2011.0, 2010.5]),
            level(3000.0, &[3015.0, 3016.0, 2980.0]),
        ];
        assert_eq!(outliers(&levels, true, 0.5).len(), 1);
        let one = [level(3000.0, &[3015.0, 3016.0, 3015.5, 3050.0])];
        assert_eq!(outliers(&one, false, 0.5).len(), 1);
        assert!(outliers(&[level(3000.0, &[3015.0, 3050.0])], false, 0.5).is_empty());
    }
}
