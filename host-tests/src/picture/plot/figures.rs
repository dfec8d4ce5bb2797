//! Voltages: count to voltage, the step of a count, rounding.

use std::ops::Range;

use super::axis::Axis;
use super::palette::Ink;
use super::picture::Picture;
use super::series::{Series, Shape};
use crate::picture::curves::rounding::{Rounding, RoundingColumn};
use crate::picture::curves::transfer::{Step, Transfer};
use crate::picture::curves::values::near_millivolts;
use tallyvolt_analysis::prove::check::found::Check;

/// Heights between the axes, in pixels.
pub(super) const TALL: i32 = 290;
pub(super) const LOW: i32 = 190;

/// The smallest range that holds all values, with a part of its span on both sides.
pub(super) fn span(values: impl Iterator<Item = f64> + Clone, part: f64) -> Range<f64> {
    let low = values.clone().fold(f64::INFINITY, f64::min);
    let high = values.fold(f64::NEG_INFINITY, f64::max);
    // A range of one value still needs room.
    let room = ((high - low) * part).max(1e-6);
    low - room..high + room
}

pub(super) fn transfer(curve: &Transfer) -> Picture {
    let points: Vec<(f64, f64)> = curve
        .points
        .iter()
        .map(|reading| (f64::from(reading.count), reading.exact_mv / 1000.0))
        .collect();
    let x = span(points.iter().map(|point| point.0), 0.0);
    let marked = curve.marks.iter().map(|mark| mark.mv / 1000.0);
    let y = span(points.iter().map(|point| point.1).chain(marked), 0.03);
    let [min, nominal, max] = curve.cell_mv.map(|mv| mv / 1000.0);
    let mut series = vec![
        Series::new(
            format!("cell, {min:.2} to {max:.2} V"),
            Ink::Green,
            Shape::rectangle((x.start, min), (x.end, max), 0.2),
        ),
        // The area is faint; its edges are not.
        edge(&x, min),
        edge(&x, max),
        Series::new(
            format!("nominal, {nominal:.2} V"),
            Ink::Green,
            Shape::across(&x, nominal),
        ),
    ];
    series.extend(curve.marks.iter().filter(|mark| mark.is_limit).map(|mark| {
        let ink = if mark.what == "upper limit" {
            Ink::Vermillion
        } else {
            Ink::Orange
        };
        Series::new(
            format!("{}, {:.2} V", mark.what, mark.mv / 1000.0),
            ink,
            Shape::across(&x, mark.mv / 1000.0),
        )
    }));
    let described = format!(
        "Cell voltage against count: {} The cell's range, {min:.3} to {max:.3} V, is marked{}.",
        ends(&points, "V"),
        if curve.marks.iter().any(|mark| mark.is_limit) {
            ", and so are the limits"
        } else {
            ""
        }
    );
    series.push(Series::new("exact voltage", Ink::Blue, Shape::Line(points)));
    Picture {
        x: Axis::counts(x),
        y: Axis::numbers("cell voltage, V", y),
        series,
        height: TALL,
        described,
    }
}

/// A line that has its name from the area it bounds.
pub(super) fn edge(x: &Range<f64>, at: f64) -> Series {
    let line = Shape::Line(vec![(x.start, at), (x.end, at)]);
    Series::new("", Ink::Green, line).unnamed()
}

/// The ends of a curve in a sentence.
pub(super) fn ends(points: &[(f64, f64)], unit: &str) -> String {
    match (points.first(), points.last()) {
        (Some(first), Some(last)) => format!(
            "{:.3} {unit} at count {:.0}, {:.3} {unit} at count {:.0}.",
            first.1, first.0, last.1, last.0
        ),
        _ => "no count is one.".to_owned(),
    }
}

pub(super) fn step(steps: &[Step], check: &Check) -> Picture {
    let points: Vec<(f64, f64)> = steps
        .iter()
        .map(|step| (step.mv / 1000.0, step.step_mv))
        .collect();
    let x = span(points.iter().map(|point| point.0), 0.0);
    let highest = points.iter().map(|point| point.1).fold(0.0, f64::max);
    let described = format!(
        "Millivolts for one count against cell voltage: {} for the emptiest cell, {} for the fullest.",
        near_millivolts(check.step_mv.at_min),
        near_millivolts(check.step_mv.at_max)
    );
    let mut series = vec![Series::new("one count", Ink::Blue, Shape::Line(points))];
    let unit_mv = f64::from(check.unit_uv) / 1000.0;
    let mut top = highest;
    // Much larger or much smaller, it would leave nothing to see of the curve or of itself.
    if (0.2..=3.0).contains(&(unit_mv / highest)) {
        top = top.max(unit_mv);
        series.push(Series::new(
            format!("step of the answers, {unit_mv} mV"),
            Ink::Vermillion,
            Shape::across(&x, unit_mv),
        ));
    }
    Picture {
        x: Axis::numbers("cell voltage, V", x),
        y: Axis::numbers("step, mV a count", 0.0..top * 1.15),
        series,
        height: LOW,
        described,
    }
}

pub(super) fn rounding(rounding: &Rounding, check: &Check) -> Picture {
    let ends =
        |column: &RoundingColumn| (f64::from(column.first) - 0.5, f64::from(column.last) + 0.5);
    let columns = &rounding.columns;
    let x = span(
        columns
            .iter()
            .flat_map(|column| [ends(column).0, ends(column).1]),
        0.0,
    );
    let unit_mv = f64::from(check.unit_uv) / 1000.0;
    let outline = outline(columns.iter().map(|column| {
        let (from, to) = ends(column);
        (from, to, column.lowest * unit_mv, column.highest * unit_mv)
    }));
    let half = unit_mv / 2.0;
    let [above, below] = Series::bounds(format!("half a step, {half} mV"), &x, half);
    let label = if rounding.looked_at == rounding.counts {
        "answer less exact voltage, every count"
    } else {
        "answer less exact, 256 counts a column"
    };
    Picture {
        described: format!(
            "Answer less exact voltage against count, over {} counts: at most {:.4} of a step of {unit_mv} mV.",
            crate::words::numbers::grouped(rounding.counts),
            check.largest_rounding_error_units
        ),
        series: vec![
            Series::new(label, Ink::Blue, Shape::Area(outline.clone(), 0.6)),
            Series::new("", Ink::Blue, closed(outline)).unnamed(),
            above,
            below,
        ],
        x: Axis::counts(x),
        y: Axis::numbers("error, mV", -0.65 * unit_mv..0.65 * unit_mv),
        height: LOW,
    }
}

/// The outline of columns (from, to, lowest, highest): the upper edge onwards, the lower edge back.
pub(super) fn outline(
    columns: impl DoubleEndedIterator<Item = (f64, f64, f64, f64)> + Clone,
) -> Vec<(f64, f64)> {
    let upper = columns
        .clone()
        .flat_map(|(from, to, _, highest)| [(from, highest), (to, highest)]);
    let lower = columns
        .rev()
        .flat_map(|(from, to, lowest, _)| [(to, lowest), (from, lowest)]);
    upper.chain(lower).collect()
}

/// An area without height still shows its edge.
pub(super) fn closed(mut outline: Vec<(f64, f64)>) -> Shape {
    outline.extend(outline.first().copied());
    Shape::Line(outline)
}
