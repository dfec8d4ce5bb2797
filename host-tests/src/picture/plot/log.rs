//! A module's log over time: its readings and the meter's, and the difference of the two, with the limits of both.

use std::ops::Range;

use super::axis::Axis;
use super::figures::{LOW, closed, outline, span};
use super::palette::Ink;
use super::picture::Picture;
use super::series::{Series, Shape};
use tallyvolt_analysis::calibrate::replay::Limit;
use tallyvolt_analysis::calibrate::replay::trace::{Column, Trace};

/// What the pictures of all modules of a log have in common.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Scales {
    time: Time,
    volts: Range<f64>,
    errors_mv: Range<f64>,
    /// Lower and upper limit of the front end, volts.
    limits: [Option<f64>; 2],
}

#[derive(Debug, Clone, PartialEq)]
struct Time {
    zero_s: f64,
    unit_s: f64,
    unit: &'static str,
    range: Range<f64>,
}

impl Scales {
    /// One scale for all traces; limits of the front end in millivolts, those of the errors by module.
    pub(crate) fn of(
        traces: &[Trace],
        limits_mv: [Option<f64>; 2],
        errors: &[Option<Limit>],
    ) -> Self {
        let columns = || traces.iter().flat_map(Trace::columns);
        let limits = limits_mv.map(|limit| limit.map(|mv| mv / 1000.0));
        let read = columns()
            .flat_map(|column| [column.read_mv, column.meter_mv])
            .flatten();
        let volts = read.flat_map(|(low, high)| [low / 1000.0, high / 1000.0]);
        let shown = errors.iter().flatten().map(|limit| limit.mv());
        let found = columns().filter_map(|column| column.error_mv);
        let largest = found
            .flat_map(|(low, high)| [low.abs(), high.abs()])
            .chain(shown)
            .fold(0.1, f64::max);
        let volts = span(volts.chain(limits.into_iter().flatten()), 0.08);
        Self {
            time: Time::of(columns().flat_map(|column| [column.from_s, column.to_s])),
            volts: if volts.start.is_finite() {
                volts
            } else {
                0.0..1.0
            },
            errors_mv: -1.15 * largest..1.15 * largest,
            limits,
        }
    }
}

impl Time {
    fn of(times: impl Iterator<Item = f64> + Clone) -> Self {
        let first = times.clone().fold(f64::INFINITY, f64::min);
        let last = times.fold(f64::NEG_INFINITY, f64::max);
        let seconds = if first.is_finite() { last - first } else { 0.0 };
        let (unit_s, unit) = match seconds {
            few if few <= 300.0 => (1.0, "s"),
            some if some <= 18_000.0 => (60.0, "min"),
            many if many <= 432_000.0 => (3600.0, "h"),
            _ => (86_400.0, "days"),
        };
        Self {
            zero_s: if first.is_finite() { first } else { 0.0 },
            unit_s,
            unit,
            range: 0.0..(seconds / unit_s).max(1e-3),
        }
    }

    fn at(&self, seconds: f64) -> f64 {
        (seconds - self.zero_s) / self.unit_s
    }

    fn axis(&self) -> Axis {
        Axis::numbers(
            format!("time since the first row, {}", self.unit),
            self.range.clone(),
        )
    }
}

/// The voltages of a module. `gap_s` is the time without a row that leaves a gap.
pub(crate) fn voltages(module: &str, trace: &Trace, gap_s: Option<f64>, scales: &Scales) -> String {
    let time = &scales.time;
    let mut series = Vec::new();
    for (limit, (word, ink)) in scales.limits.iter().zip([
        ("lower limit", Ink::Orange),
        ("upper limit", Ink::Vermillion),
    ]) {
        if let Some(volts) = limit {
            series.push(Series::new(
                format!("{word}, {volts:.2} V"),
                ink,
                Shape::across(&time.range, *volts),
            ));
        }
    }
    let volts = |ends: Option<(f64, f64)>| ends.map(|(low, high)| (low / 1000.0, high / 1000.0));
    series.extend(bands(trace, gap_s, time, Ink::Blue, "readings", |column| {
        volts(column.read_mv)
    }));
    series.extend(points(trace, time, Ink::Purple, "meter", |column| {
        volts(column.meter_mv)
    }));
    let faults: Vec<(f64, f64)> = trace
        .columns()
        .filter(|column| column.fault)
        .map(|column| (time.at(column.from_s), scales.volts.start))
        .collect();
    let faulty = faults.len();
    if faulty > 0 {
        series.push(Series::new(
            "no voltage",
            Ink::Vermillion,
            Shape::Crosses(faults),
        ));
    }
    let described = match ends(trace, |column| volts(column.read_mv)) {
        Some((low, high)) => format!(
            "Readings of {module} over time, {low:.3} to {high:.3} V, with the meter's where it was read."
        ),
        None => format!("{module} over time: no count of it is a voltage."),
    };
    Picture {
        x: time.axis(),
        y: Axis::numbers("cell voltage, V", scales.volts.clone()),
        series,
        height: LOW,
        described,
    }
    .svg(&format!("Voltage of {module}"))
}

/// The errors of a module; none where no row has a meter's reading.
pub(crate) fn errors(
    module: &str,
    trace: &Trace,
    limit: Option<Limit>,
    scales: &Scales,
) -> Option<String> {
    let time = &scales.time;
    let (low, high) = ends(trace, |column| column.error_mv)?;
    let mut series = Vec::new();
    let mut judged = String::new();
    if let Some(limit) = limit {
        let mv = limit.mv();
        let label = match limit {
            Limit::EveryRow(_) => format!("limit of every row, {mv:.2} mV"),
            Limit::RootMeanSquare(_) => format!("limit of the root mean square, {mv:.2} mV"),
        };
        judged = format!(" {label}.");
        series.extend(Series::bounds(label, &time.range, mv));
    }
    series.extend(points(
        trace,
        time,
        Ink::Blue,
        "reading less meter",
        |column| column.error_mv,
    ));
    let picture = Picture {
        x: time.axis(),
        y: Axis::numbers("error, mV", scales.errors_mv.clone()),
        series,
        height: LOW,
        described: format!(
            "Readings of {module} less the meter's over time, {low:+.2} to {high:+.2} mV.{judged}"
        ),
    };
    Some(picture.svg(&format!("Error of {module}")))
}

/// The lowest and the highest value of all columns.
fn ends(trace: &Trace, of: impl Fn(&Column) -> Option<(f64, f64)>) -> Option<(f64, f64)> {
    let ends = trace.columns().filter_map(of);
    ends.reduce(|all, one| (all.0.min(one.0), all.1.max(one.1)))
}

/// What is read now and then: the lowest and the highest value of each column, joined, with no line from one to the next.
fn points(
    trace: &Trace,
    time: &Time,
    ink: Ink,
    label: &str,
    of: impl Fn(&Column) -> Option<(f64, f64)>,
) -> Vec<Series> {
    let columns: Vec<(f64, f64, f64)> = trace
        .columns()
        .filter_map(|column| {
            let (low, high) = of(column)?;
            Some((time.at((column.from_s + column.to_s) / 2.0), low, high))
        })
        .collect();
    let ends = columns
        .iter()
        .flat_map(|(x, low, high)| [(*x, *low), (*x, *high)]);
    let mut ends: Vec<(f64, f64)> = ends.collect();
    // A column of one row is one dot.
    ends.dedup();
    if ends.is_empty() {
        return Vec::new();
    }
    vec![
        Series::new("", ink, Shape::Upright(columns)).unnamed(),
        Series::new(label, ink, Shape::Dots(ends)),
    ]
}

/// What lies between the lowest and the highest value of each column, broken where there are gaps.
fn bands(
    trace: &Trace,
    gap_s: Option<f64>,
    time: &Time,
    ink: Ink,
    label: &str,
    of: impl Fn(&Column) -> Option<(f64, f64)>,
) -> Vec<Series> {
    let columns: Vec<(f64, f64, f64, f64)> = trace
        .columns()
        .filter_map(|column| {
            let (low, high) = of(column)?;
            Some((column.from_s, column.to_s, low, high))
        })
        .collect();
    let joined = |one: &(f64, f64, f64, f64), next: &(f64, f64, f64, f64)| {
        gap_s.is_none_or(|gap| next.0 - one.1 <= gap)
    };
    let stretches = columns.chunk_by(joined).map(|stretch| {
        stretch
            .iter()
            .map(|(from, to, low, high)| (time.at(*from), time.at(*to), *low, *high))
    });
    stretches
        .enumerate()
        .map(|(place, stretch)| {
            let edge = Series::new(label, ink, closed(outline(stretch)));
            if place == 0 { edge } else { edge.unnamed() }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{Scales, errors, voltages};
    use tallyvolt_analysis::calibrate::replay::Limit;
    use tallyvolt_analysis::calibrate::replay::trace::Trace;

    fn trace(rows: impl Iterator<Item = (f64, Option<f64>, Option<f64>)>) -> Trace {
        let mut trace = Trace::default();
        for (time, read, meter) in rows {
            trace.push(time, read, meter);
        }
        trace
    }

    #[test]
    fn gaps_part_the_curve_and_faults_are_crossed() {
        let minutes = (0..100).filter(|minute| !(40..60).contains(minute));
        let log = trace(minutes.map(|minute| {
            let read = (minute != 70).then_some(3300.0 + f64::from(minute));
            (
                60.0 * f64::from(minute),
                read,
                (minute % 10 == 0).then_some(3301.0),
            )
        }));
        let traces = [log];
        let scales = Scales::of(&traces, [Some(2800.0), Some(3600.0)], &[None]);
        let curves = |gap| {
            let picture = voltages("hut-01", &traces[0], gap, &scales);
            assert!(picture.contains("no voltage") && picture.contains("upper limit, 3.60 V"));
            assert!(picture.contains("over time, 3.300 to 3.399 V"));
            picture.matches("<polyline").count()
        };
        assert_eq!(curves(Some(180.0)), curves(None) + 1);
        let limit = Some(Limit::EveryRow(2.0));
        let errors = errors("hut-01", &traces[0], limit, &scales).unwrap_or_default();
        assert!(
            errors.contains("limit of every row, 2.00 mV") && errors.contains("-1.00 to +89.00 mV")
        );
    }

    #[test]
    fn a_log_without_a_voltage_or_a_meter_has_a_picture_or_none() {
        let traces = [trace([(5.0, None, Some(3300.0))].into_iter())];
        let scales = Scales::of(&traces, [None; 2], &[None]);
        let picture = voltages("hut-01", &traces[0], None, &scales);
        assert!(picture.contains("no count of it is a voltage") && !picture.contains("NaN"));
        assert_eq!(errors("hut-01", &traces[0], None, &scales), None);
        let nothing = Scales::of(&[], [None; 2], &[]);
        assert!(nothing.volts.start < nothing.volts.end);
    }
}
