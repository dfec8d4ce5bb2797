//! Axes: their range, and the round numbers or names along them.

use std::ops::Range;

#[derive(Debug, Clone, PartialEq)]
pub(super) struct Axis {
    /// Quantity and unit.
    pub(super) label: String,
    pub(super) range: Range<f64>,
    pub(super) marks: Marks,
}

/// What is written along an axis.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Marks {
    /// Round numbers.
    Numbers,
    /// Round numbers, whole ones only.
    WholeNumbers,
    /// A name in the middle of each unit, from the end of the range on down.
    Names(Vec<String>),
    Nothing,
}

impl Axis {
    pub(super) fn numbers(label: impl Into<String>, range: Range<f64>) -> Self {
        Self {
            label: label.into(),
            range,
            marks: Marks::Numbers,
        }
    }

    pub(super) fn counts(range: Range<f64>) -> Self {
        Self {
            label: "count".to_owned(),
            range,
            marks: Marks::WholeNumbers,
        }
    }

    /// Where something is written, and what; at most `most` numbers.
    pub(super) fn texts(&self, most: i32) -> Vec<(f64, String)> {
        match &self.marks {
            Marks::Numbers => numbers(&self.range, most, f64::MIN_POSITIVE),
            Marks::WholeNumbers => numbers(&self.range, most, 1.0),
            Marks::Names(names) => names
                .iter()
                .enumerate()
                .map(|(row, name)| (self.range.end - row as f64 - 0.5, name.clone()))
                .collect(),
            Marks::Nothing => Vec::new(),
        }
    }
}

/// Multiples of 1, 2 or 5 times a power of ten within a range, all with the decimals that the step needs.
fn numbers(range: &Range<f64>, most: i32, least_step: f64) -> Vec<(f64, String)> {
    let raw = ((range.end - range.start) / f64::from(most.max(2))).max(least_step);
    if !raw.is_normal() {
        return Vec::new();
    }
    let mut exponent = raw.log10().floor() as i32;
    let mut leading = [1.0, 2.0, 5.0]
        .into_iter()
        .find(|leading| leading * 10_f64.powi(exponent) >= raw * (1.0 - 1e-9))
        .unwrap_or(10.0);
    if leading == 10.0 {
        (leading, exponent) = (1.0, exponent + 1);
    }
    let step = leading * 10_f64.powi(exponent);
    let decimals = usize::try_from(-exponent).unwrap_or(0);
    let (first, last) = (
        (range.start / step - 1e-9).ceil() as i64,
        (range.end / step + 1e-9).floor() as i64,
    );
    (first..=last)
        .map(|multiple| {
            let value = multiple as f64 * step;
            (value, number_text(value, decimals))
        })
        .collect()
}

/// With digits in groups of three where there are five or more.
fn number_text(value: f64, decimals: usize) -> String {
    if decimals == 0 && value >= 10_000.0 {
        crate::words::numbers::grouped(value as u64)
    } else {
        format!("{value:.decimals$}")
    }
}

#[cfg(test)]
mod tests {
    use super::numbers;

    #[test]
    fn numbers_are_round_and_alike() {
        let texts = |range, most, least| {
            let numbers = numbers(&range, most, least);
            numbers
                .into_iter()
                .map(|(_, text)| text)
                .collect::<Vec<_>>()
        };
        assert_eq!(
            texts(-0.6..0.6, 8, 1e-9),
            ["-0.6", "-0.4", "-0.2", "0.0", "0.2", "0.4", "0.6"]
        );
        assert_eq!(
            texts(1995.0..3660.0, 4, 1e-9),
            ["2000", "2500", "3000", "3500"]
        );
        assert_eq!(texts(0.0..3.0, 10, 1.0), ["0", "1", "2", "3"]);
        assert_eq!(texts(0.0..50_000.0, 2, 1.0), ["0", "50,000"]);
        assert_eq!(texts(0.0..10.0, 3, 1.0), ["0", "5", "10"]);
        // A range that is none has no numbers, and does not hang.
        assert!(texts(1.0..1.0, 8, 0.0).is_empty());
        assert!(texts(0.0..f64::NAN, 8, 0.0).is_empty());
    }
}
