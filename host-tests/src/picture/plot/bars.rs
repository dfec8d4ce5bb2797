//! Rows of bars on one scale, each row under its name: readable in a narrow picture however long the names are.

use super::axis::{Axis, Marks};
use super::palette::Ink;
use super::pen::shortened;
use super::picture::Picture;
use super::series::{Series, Shape};

/// Pixels of a row: its name, the gap below it, from one bar to the next, and a bar.
const NAME: i32 = 23;
const GAP: i32 = 7;
const PITCH: i32 = 10;
const BAR: i32 = 9;

/// Longer names are cut: the picture is no wider.
const CHARACTERS: usize = 45;

/// A row's name, and a value for each kind of bar.
pub(super) type Row<'a> = (&'a str, Vec<f64>);

/// The picture of rows, first one on top. `kinds` are the bars of each row.
pub(super) fn bars(
    rows: &[Row<'_>],
    kinds: &[(&str, Ink)],
    label: &str,
    described: String,
) -> Picture {
    let count = |length: usize| i32::try_from(length).unwrap_or(1);
    let row_height = NAME + count(kinds.len()) * PITCH + GAP;
    let height = count(rows.len()) * row_height;
    let values = rows.iter().flat_map(|(_, values)| values);
    let widest = values.fold(0.0, |most: f64, value| most.max(*value));
    let mut series = Vec::new();
    for (row, (name, values)) in rows.iter().enumerate() {
        let top = f64::from(height - count(row) * row_height);
        for (place, ((kind, ink), value)) in kinds.iter().zip(values).enumerate() {
            let upper = top - f64::from(NAME + count(place) * PITCH);
            let bar = Shape::rectangle((0.0, upper), (*value, upper - f64::from(BAR)), 1.0);
            let bar = Series::new(*kind, *ink, bar);
            series.push(if row == 0 { bar } else { bar.unnamed() });
        }
        let name = Shape::Label(
            format!("\u{a0}{}", shortened(name, CHARACTERS)),
            (0.0, top - f64::from(NAME / 2)),
        );
        series.push(Series::new("", Ink::Text, name).unnamed());
    }
    Picture {
        // A picture without a value still has an axis.
        x: Axis::numbers(label, 0.0..(widest * 1.05).max(1e-6)),
        y: Axis {
            label: String::new(),
            range: 0.0..f64::from(height),
            marks: Marks::Nothing,
        },
        series,
        height,
        described,
    }
}
