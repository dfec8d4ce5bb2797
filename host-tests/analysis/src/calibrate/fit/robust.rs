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

    #[test]
    fn medians_are_in_the_middle() {
        let of = |values: &[f64]| median(values.iter().copied());
        assert_eq!(of(&[]), None);
        assert_eq!(of(&[10.0, 1.0]), Some(5.5));
        assert_eq!(of(&[10.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(of(&[10.0, 1.0, 2.0, 4.0]), Some(3.0));
        assert_eq!(of(&[10.0, 1.0, 2.0, 4.0, 3.0]), Some(3.0));
    }

    /// Three readings cannot outvote a wrong one, whatever is fitted.
    #[test]
    fn three_readings_are_too_few() {
        let one = [level(3000.0, &[3000.0, 3000.0, 3040.0])];
        assert!(outliers(&one, false, 0.5).is_empty());
    }

    /// Two of four voltages have one wrong reading of two. All readings vote: the middle ones of each voltage would not agree.
    #[test]
    fn every_one_of_few_readings_votes() {
        let wrong = |at: f64| level(at, &[at, at + 40.0]);
        let right = |at: f64| level(at, &[at, at]);
        let levels = [right(2000.0), wrong(2500.0), wrong(3000.0), right(3500.0)];
        assert_eq!(outliers(&levels, true, 0.5).len(), 2);
    }

    /// Of many readings the middle one of each voltage votes: three of fifteen that read too little do not.
    #[test]
    fn the_middle_of_many_readings_votes() {
        let levels = [2000.0, 2400.0, 2800.0, 3200.0, 3600.0].map(|at| {
            let places: Vec<f64> = (0..15)
                .map(|row| if row < 3 { at - 9.0 } else { at })
                .collect();
            level(at, &places)
        });
        assert_eq!(outliers(&levels, true, 0.5).len(), 15);
    }

    /// An outlier is further off than the limit, over the root of what is left of its leverage, and not as far.
    fn begins(limit: f64, found: impl Fn(f64) -> usize) {
        for size in [limit, -limit] {
            assert_eq!((found(size * 0.999), found(size * 1.001)), (0, 1));
        }
    }

    /// Five times the noise, with the leverage of the last of six voltages: 1/6 + (5/2)^2 / 17.5.
    #[test]
    fn noise_limits_what_is_judged() {
        let limit = 5.0 * 0.7 / (1.0 - 1.0 / 6.0 - 6.25 / 17.5_f64).sqrt();
        begins(limit, |size| {
            let levels: Vec<Level> = (1..=6)
                .map(|at| {
                    let position = 500.0 * f64::from(at);
                    level(position, &[position + if at == 6 { size } else { 0.0 }])
                })
                .collect();
            outliers(&levels, true, 0.7).len()
        });
    }

    /// Five scaled median deviations, here of 1, with the leverage of one of five readings at one voltage.
    #[test]
    fn the_median_deviation_limits_what_is_judged() {
        let limit = 5.0 * 1.482_602_218_505_602 / 0.8_f64.sqrt();
        begins(limit, |size| {
            let others = if size > 0.0 {
                [-2.0, -1.0, 0.0, 1.0]
            } else {
                [-1.0, 0.0, 1.0, 2.0]
            };
            let mut places = others.map(|off| 1000.0 + off).to_vec();
            places.push(1000.0 + size);
            outliers(&[level(1000.0, &places)], false, 0.1).len()
        });
    }

    /// Through the origin a reading at three times the others' voltage has a leverage of 9/12: at twice the limit it is no outlier yet.
    #[test]
    fn a_reading_at_its_limit_is_none() {
        let levels = [level(1.0, &[1.0; 3]), level(3.0, &[13.0])];
        assert!(outliers(&levels, false, 1.0).is_empty());
        assert_eq!(outliers(&levels, false, 0.999).len(), 1);
    }
}
