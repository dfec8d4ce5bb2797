//! What each picture holds: axes, marks and curves, as plain data.

use std::ops::Range;

use super::Kind;
use super::axis::Axis;
use super::chart::{NARROW, Panel, Series, Shape, WIDE, svg};
use super::palette::Ink;
use crate::check::Check;
use crate::check::thermistor::ThermistorCheck;
use crate::curves::Curves;
use crate::curves::limits::LimitCurve;
use crate::curves::rounding::Rounding;
use crate::curves::sensor::{ErrorColumn, SensorCurves};
use crate::curves::transfer::{Step, Transfer};
use crate::report::unit;

/// Heights between the axes, in pixels.
const TALL: i32 = 380;
const LOW: i32 = 260;

/// Every picture but the budget's.
pub(super) fn picture(curves: &Curves, kind: Kind) -> Option<String> {
    let panel = panel(curves, kind)?;
    let (width, height) = match kind {
        Kind::Step | Kind::Rounding | Kind::TableError => (WIDE, LOW),
        _ if kind.limit_key().is_some() => (NARROW, LOW),
        _ => (WIDE, TALL),
    };
    Some(svg(&[panel], width, height))
}

fn panel(curves: &Curves, kind: Kind) -> Option<Panel> {
    let check = &curves.check;
    Some(match kind {
        Kind::Transfer => transfer(curves.transfer.as_ref()?),
        Kind::Step => step(&curves.steps, check),
        Kind::Rounding => rounding(curves.rounding.as_ref()?, check),
        Kind::Temperature => temperature(curves.sensor.as_ref()?, check.thermistor.as_ref()?),
        Kind::TableError => table_error(curves.sensor.as_ref()?, check.thermistor.as_ref()?),
        Kind::Budget => return None,
        limit => {
            let key = limit.limit_key()?;
            around(curves.limits.iter().find(|limit| limit.key == key)?)
        }
    })
}

/// The smallest range that holds all values, with a part of its span on both sides.
fn span(values: impl Iterator<Item = f64> + Clone, part: f64) -> Range<f64> {
    let low = values.clone().fold(f64::INFINITY, f64::min);
    let high = values.fold(f64::NEG_INFINITY, f64::max);
    // A range of one value still needs room.
    let room = ((high - low) * part).max(1e-6);
    low - room..high + room
}

fn transfer(curve: &Transfer) -> Panel {
    let points: Vec<(f64, f64)> = curve
        .points
        .iter()
        .map(|reading| (f64::from(reading.count), reading.exact_mv))
        .collect();
    let x = span(points.iter().map(|point| point.0), 0.0);
    let marked = curve.marks.iter().map(|mark| mark.mv);
    let y = span(points.iter().map(|point| point.1).chain(marked), 0.03);
    let across = |mv: f64| ((x.start, mv), (x.end, mv));
    let [min, nominal, max] = curve.cell_mv;
    let mut series = vec![
        Series::new(
            format!("cell, {min} to {max} mV"),
            Ink::Green,
            Shape::rectangle((x.start, min), (x.end, max), 0.2),
        ),
        Series::new(
            format!("nominal, {nominal} mV"),
            Ink::Green,
            Shape::Dashed(across(nominal).0, across(nominal).1),
        ),
    ];
    series.extend(curve.marks.iter().filter(|mark| mark.is_limit).map(|mark| {
        let (from, to) = across(mark.mv);
        let ink = if mark.what == "upper limit" {
            Ink::Vermillion
        } else {
            Ink::Orange
        };
        Series::new(
            format!("{}, {} mV", mark.what, mark.mv),
            ink,
            Shape::Dashed(from, to),
        )
    }));
    series.push(Series::new("exact voltage", Ink::Blue, Shape::Line(points)));
    Panel {
        title: None,
        x: Axis::counts(x),
        y: Axis::numbers("cell voltage, mV", y),
        series,
    }
}

fn step(steps: &[Step], check: &Check) -> Panel {
    let points: Vec<(f64, f64)> = steps.iter().map(|step| (step.mv, step.step_mv)).collect();
    let x = span(points.iter().map(|point| point.0), 0.0);
    let highest = points.iter().map(|point| point.1).fold(0.0, f64::max);
    let mut series = vec![Series::new("one count", Ink::Blue, Shape::Line(points))];
    let unit_mv = f64::from(check.unit_uv) / 1000.0;
    let mut top = highest;
    // Much larger or much smaller, it would leave nothing to see of the curve or of itself.
    if (0.2..=3.0).contains(&(unit_mv / highest)) {
        top = top.max(unit_mv);
        series.push(Series::new(
            format!("output unit, {}", unit(check.unit_uv)),
            Ink::Vermillion,
            Shape::Dashed((x.start, unit_mv), (x.end, unit_mv)),
        ));
    }
    Panel {
        title: None,
        x: Axis::numbers("cell voltage, mV", x),
        y: Axis::numbers("step, mV a count", 0.0..top * 1.15),
        series,
    }
}

fn rounding(rounding: &Rounding, check: &Check) -> Panel {
    let ends = |column: &crate::curves::rounding::RoundingColumn| {
        (f64::from(column.first) - 0.5, f64::from(column.last) + 0.5)
    };
    let columns = &rounding.columns;
    let x = span(
        columns
            .iter()
            .flat_map(|column| [ends(column).0, ends(column).1]),
        0.0,
    );
    let outline = outline(columns.iter().map(|column| {
        let (from, to) = ends(column);
        (from, to, column.lowest, column.highest)
    }));
    let bound = |error: f64| Shape::Dashed((x.start, error), (x.end, error));
    let label = if rounding.looked_at == rounding.counts {
        "answer less exact voltage, every count"
    } else {
        "answer less exact voltage, 256 counts a column"
    };
    Panel {
        title: None,
        series: vec![
            Series::new(label, Ink::Blue, Shape::Area(outline.clone(), 0.6)),
            Series::new("", Ink::Blue, closed(outline)).unnamed(),
            Series::new("half a unit", Ink::Vermillion, bound(0.5)),
            Series::new("", Ink::Vermillion, bound(-0.5)).unnamed(),
        ],
        x: Axis::counts(x),
        y: Axis::numbers(
            format!("error, units of {}", unit(check.unit_uv)),
            -0.65..0.65,
        ),
    }
}

/// The outline of columns (from, to, lowest, highest): the upper edge onwards, the lower edge back.
fn outline(
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
fn closed(mut outline: Vec<(f64, f64)>) -> Shape {
    outline.extend(outline.first().copied());
    Shape::Line(outline)
}

fn temperature(sensor: &SensorCurves, check: &ThermistorCheck) -> Panel {
    let points: Vec<(f64, f64)> = sensor
        .points
        .iter()
        .map(|point| (f64::from(point.count), point.law_c))
        .collect();
    let y = span(points.iter().map(|point| point.1), 0.05);
    let top = f64::from(sensor.largest_count);
    let (low_wire, high_wire) = check.wires;
    let wire = |from: u32, to: f64| Shape::rectangle((f64::from(from), y.start), (to, y.end), 0.25);
    let broken = |means| {
        if means == "short circuit" {
            Ink::Vermillion
        } else {
            Ink::Orange
        }
    };
    Panel {
        title: None,
        series: vec![
            Series::new(
                format!("{}, up to {low_wire}", sensor.low_wire_means),
                broken(sensor.low_wire_means),
                wire(0, f64::from(low_wire)),
            ),
            Series::new(
                format!("{}, from {high_wire} on", sensor.high_wire_means),
                broken(sensor.high_wire_means),
                wire(high_wire, top),
            ),
            Series::new(
                "temperature by the sensor's law",
                Ink::Blue,
                Shape::Line(points),
            ),
        ],
        x: Axis::counts(0.0..top),
        y: Axis::numbers("temperature, degC", y),
    }
}

fn table_error(sensor: &SensorCurves, check: &ThermistorCheck) -> Panel {
    let columns = &sensor.errors;
    let x = span(
        columns
            .iter()
            .flat_map(|column| [column.coldest_c, column.hottest_c]),
        0.0,
    );
    // Temperatures fall along the counts of some sensors; an outline must run one way.
    let falls = columns.first().map(|column| column.coldest_c)
        > columns.last().map(|column| column.coldest_c);
    let mut rising: Vec<&ErrorColumn> = columns.iter().collect();
    if falls {
        rising.reverse();
    }
    let band = |errors: fn(&ErrorColumn) -> (f64, f64)| {
        outline(rising.iter().map(|column| {
            let (lowest, highest) = errors(column);
            (column.coldest_c, column.hottest_c, lowest, highest)
        }))
    };
    let bound_mc = f64::from(check.max_error_mc);
    let bound = |error: f64| Shape::Dashed((x.start, error), (x.end, error));
    let answers = band(|column| column.answer_mc);
    Panel {
        title: None,
        series: vec![
            Series::new(
                "answers, rounded to 0.1 degC",
                Ink::Sky,
                Shape::Area(answers, 0.6),
            ),
            Series::new(
                "before rounding",
                Ink::Blue,
                closed(band(|column| column.table_mc)),
            ),
            Series::new(
                format!("max_error_mc = {}", check.max_error_mc),
                Ink::Vermillion,
                bound(bound_mc),
            ),
            Series::new("", Ink::Vermillion, bound(-bound_mc)).unnamed(),
        ],
        x: Axis::numbers("temperature, degC", x),
        y: Axis::numbers("error, m degC", -1.15 * bound_mc..1.15 * bound_mc),
    }
}

fn around(limit: &LimitCurve) -> Panel {
    let points: Vec<(f64, f64)> = limit
        .points
        .iter()
        .map(|(count, value)| (f64::from(*count), *value))
        .collect();
    let x = span(points.iter().map(|point| point.0), 0.02);
    let guarded = limit.guard.as_ref().map(|guard| guard.threshold_mv);
    let marked = [limit.limit, limit.hold].into_iter().chain(guarded);
    let y = span(points.iter().map(|point| point.1).chain(marked), 0.06);
    // A comparison turns between two counts.
    let between = |count: u32| f64::from(count) + if limit.above { 0.5 } else { -0.5 };
    let (trip, hold) = (between(limit.trip_count), between(limit.hold_count));
    let word = if limit.above { "above" } else { "below" };
    let mut series = Vec::new();
    if hold != trip {
        series.push(Series::new(
            format!("hysteresis, to {} {}", limit.hold, limit.unit),
            Ink::Orange,
            Shape::rectangle((hold, y.start), (trip, y.end), 0.3),
        ));
    }
    if let Some(threshold) = guarded {
        series.push(Series::new(
            format!("guard band, from {threshold} mV"),
            Ink::Green,
            Shape::rectangle((x.start, threshold), (x.end, limit.limit), 0.3),
        ));
    }
    series.extend([
        Series::new(
            format!("limit, {} {}", limit.limit, limit.unit),
            Ink::Vermillion,
            Shape::Dashed((x.start, limit.limit), (x.end, limit.limit)),
        ),
        Series::new(
            format!("trips {word} {}", limit.trip_count),
            Ink::Vermillion,
            Shape::Line(vec![(trip, y.start), (trip, y.end)]),
        ),
        Series::new("answers", Ink::Blue, Shape::Dots(points)),
    ]);
    Panel {
        title: None,
        x: Axis::counts(x),
        y: Axis::numbers(
            if limit.unit == "mV" {
                "cell voltage, mV"
            } else {
                "temperature, degC"
            },
            y,
        ),
        series,
    }
}
