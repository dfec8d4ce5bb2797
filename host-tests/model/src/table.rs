//! Interpolation in a table, as an exact fraction.

use num_rational::Rational64;

use crate::front_end::SensorSide;

/// The table's value at a position in tenths of a degree: on the straight line between two entries; none beyond the last.
///
/// Numbers stay small: entries of 16 bits, steps of 14 and fractions of 6 make terms below 2^37.
#[must_use]
pub fn tenths(
    entries: &[i16],
    step: u32,
    entries_per_tenth: u32,
    position: u32,
) -> Option<Rational64> {
    let from = usize::try_from(position / step).ok()?;
    let pair = entries.get(from..from + 2)?;
    let [low, high] =
        [*pair.first()?, *pair.last()?].map(|entry| Rational64::from(i64::from(entry)));
    let part = Rational64::new((position % step).into(), step.into());
    let steps = low + (high - low) * part;
    Some(steps / i64::from(entries_per_tenth))
}

/// The nearest integer; a tie goes upward.
#[must_use]
pub fn nearest_ties_up(value: Rational64) -> i64 {
    (value + Rational64::new(1, 2)).floor().to_integer()
}

/// A sensor's table in plain numbers, with the counts around it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SensorTable {
    /// Where the sensor sits.
    pub side: SensorSide,
    /// Entries in steps of a tenth of a degree / `entries_per_tenth`.
    pub entries: Vec<i16>,
    /// Counts between two entries.
    pub step: u32,
    /// How finely a tenth of a degree is divided.
    pub entries_per_tenth: u32,
    /// Count of the first entry.
    pub first: u32,
    /// Counts that are temperatures.
    pub counts: u32,
    /// Largest count of a broken or shorted wire at the low end.
    pub low_wire: u32,
    /// Smallest one at the high end.
    pub high_wire: u32,
}

impl SensorTable {
    /// The exact value at a count, in tenths of a degree; none outside the table.
    #[must_use]
    pub fn tenths(&self, count: u32) -> Option<Rational64> {
        let position = count.checked_sub(self.first)?;
        (position < self.counts).then_some(())?;
        tenths(&self.entries, self.step, self.entries_per_tenth, position)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        // From 10 to -5 over 4 positions, two entries a tenth: three quarters of the way is -1.25, so -0.625 tenths.
        assert_eq!(tenths(&[10, -5, -6], 4, 2, 3), Some(Rational64::new(-5, 8)));
        assert_eq!(tenths(&[10, -5, -6], 4, 2, 4), Some(Rational64::new(-5, 2)));
        assert_eq!(tenths(&[10, -5, -6], 4, 2, 8), None);
        assert_eq!(nearest_ties_up(Rational64::new(-5, 2)), -2);
    }
}
