//! Temperatures: count to temperature, and the table's error.

use super::axis::Axis;
use super::figures::{LOW, TALL, closed, ends, outline, span};
use super::palette::Ink;
use super::picture::Picture;
use super::series::{Series, Shape};
use crate::picture::curves::sensor::{ErrorColumn, SensorCurves};
use crate::words::numbers::rounded_up;
use tallyvolt_analysis::prove::check::thermistor::ThermistorCheck;

pub(super) fn temperature(sensor: &SensorCurves, check: &ThermistorCheck) -> Picture {
    let points: Vec<(f64, f64)> = sensor
        .points
        .iter()
        .map(|point| (f64::from(point.count), point.law_c))
        .collect();
    let y = span(points.iter().map(|point| point.1), 0.05);
    let top = f64::from(sensor.largest_count);
    let (low_wire, high_wire) = check.wires;
    let wire = |means: &str, counts: String, from: f64, to: f64| {
        let ink = match means {
            "short circuit" => Ink::Vermillion,
            _ => Ink::Orange,
        };
        let counted = Shape::rectangle((from, y.start), (to, y.end), 0.25);
        Series::new(format!("{means}, {counts}"), ink, counted)
    };
    let (low, high) = (f64::from(low_wire), f64::from(high_wire));
    let described = format!(
        "Temperature against count: {} Counts up to {low_wire} are a {}, counts from {high_wire} on a {}.",
        ends(&points, "°C"),
        sensor.low_wire_means,
        sensor.high_wire_means
    );
    Picture {
        series: vec![
            wire(sensor.low_wire_means, format!("up to {low_wire}"), 0.0, low),
            wire(
                sensor.high_wire_means,
                format!("from {high_wire} on"),
                high,
                top,
            ),
            Series::new(
                "temperature by the sensor's law",
                Ink::Blue,
                Shape::Line(points),
            ),
        ],
        x: Axis::counts(0.0..top),
        y: Axis::numbers("temperature, °C", y),
        height: TALL,
        described,
    }
}

pub(super) fn table_error(sensor: &SensorCurves, check: &ThermistorCheck) -> Picture {
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
            (
                column.coldest_c,
                column.hottest_c,
                lowest / 1000.0,
                highest / 1000.0,
            )
        }))
    };
    let allowed = f64::from(check.max_error_mc) / 1000.0;
    let [above, below] = Series::bounds(format!("allowed, {allowed} °C"), &x, allowed);
    let answers = band(|column| column.answer_mc);
    let described = format!(
        "Error of the temperature table over its range: answers within {:.3} °C of the sensor{}, {:.3} before they are rounded to \
         0.1 °C; {allowed} °C are allowed.",
        rounded_up(check.certified_mc() / 1000.0, 3),
        if check.interpolation_mc > 0.0 {
            format!(
                ", {:.3} °C of it between the maker's points and not drawn",
                rounded_up(check.interpolation_mc / 1000.0, 3)
            )
        } else {
            String::new()
        },
        rounded_up(check.unrounded_mc() / 1000.0, 3)
    );
    Picture {
        series: vec![
            Series::new(
                "answers, rounded to 0.1 °C",
                Ink::Purple,
                Shape::Area(answers, 0.6),
            ),
            Series::new(
                "before rounding",
                Ink::Blue,
                closed(band(|column| column.table_mc)),
            ),
            above,
            below,
        ],
        x: Axis::numbers("temperature, °C", x),
        y: Axis::numbers("error, °C", -1.15 * allowed..1.15 * allowed),
        height: LOW,
        described,
    }
}
