//! Readings around a limit: where it trips, where an active alarm holds, where its guard band begins.

use std::ops::Range;

use super::axis::Axis;
use super::figures::{LOW, edge, span};
use super::palette::Ink;
use super::picture::Picture;
use super::series::{Series, Shape};
use crate::picture::curves::limits::LimitCurve;
use crate::words::numbers::told;

/// The picture of one limit. It shows as much of both axes as the widest of `all` with its unit needs, so that pictures side
/// by side compare.
pub(super) fn around(limit: &LimitCurve, all: &[LimitCurve]) -> Picture {
    let alike = || all.iter().filter(|other| other.unit == limit.unit);
    let width = |range: Range<f64>| range.end - range.start;
    let widest = |of: fn(&LimitCurve) -> Range<f64>| {
        let range = of(limit);
        let most = alike()
            .map(|other| width(of(other)))
            .fold(width(range.clone()), f64::max);
        let room = (most - width(range.clone())) / 2.0;
        range.start - room..range.end + room
    };
    let (x, y) = (widest(counts), widest(values));
    let scale = scale(limit);
    let shown = |value: f64| limit.shown(value);
    let guarded = limit.guard.as_ref().map(|guard| guard.threshold_mv / scale);
    let (at, hold_at) = (limit.limit / scale, limit.hold / scale);
    // A comparison turns between two counts.
    let between = |count: u32| f64::from(count) + if limit.above { 0.5 } else { -0.5 };
    let (trip, hold) = (between(limit.trip_count), between(limit.hold_count));
    let word = if limit.above { "above" } else { "below" };
    let upright = |at: f64| Shape::Line(vec![(at, y.start), (at, y.end)]);
    let mut series = Vec::new();
    if hold != trip {
        series.push(Series::new(
            format!("hysteresis, to {}", shown(limit.hold)),
            Ink::Orange,
            Shape::rectangle((hold, y.start), (trip, y.end), 0.3),
        ));
        series.push(Series::new("", Ink::Orange, upright(hold)).unnamed());
    }
    if let Some(threshold) = guarded {
        series.push(Series::new(
            format!("guard band, from {}", shown(threshold * scale)),
            Ink::Green,
            Shape::rectangle((x.start, threshold), (x.end, at), 0.3),
        ));
        series.push(edge(&x, threshold));
    }
    series.extend([
        Series::new(
            format!("limit, {}", shown(limit.limit)),
            Ink::Vermillion,
            Shape::across(&x, at),
        ),
        Series::new(
            format!("trips {word} {}", limit.trip_count),
            Ink::Vermillion,
            upright(trip),
        ),
        Series::new("answers", Ink::Blue, Shape::Dots(points(limit))),
    ]);
    let hysteresis = if hold_at == at {
        String::new()
    } else {
        format!(" An active alarm clears from {} on.", shown(limit.hold))
    };
    let guard = told(guarded, "", |threshold| {
        format!(" The guard band begins at {}.", shown(threshold * scale))
    });
    let compared = if limit.compared == limit.limit {
        String::new()
    } else {
        format!(
            " on the true value, compared with {}",
            shown(limit.compared)
        )
    };
    Picture {
        described: format!(
            "Readings around the limit of {}{compared}: it trips at counts {word} {}.{hysteresis}{guard}",
            shown(limit.limit),
            limit.trip_count
        ),
        x: Axis::counts(x),
        y: Axis::numbers(
            if limit.unit == "mV" {
                "cell voltage, V"
            } else {
                "temperature, °C"
            },
            y,
        ),
        series,
        height: LOW,
    }
}

/// Units of a limit in one of what is shown: volts, degrees.
fn scale(limit: &LimitCurve) -> f64 {
    if limit.unit == "mV" { 1000.0 } else { 1.0 }
}

fn points(limit: &LimitCurve) -> Vec<(f64, f64)> {
    let scale = scale(limit);
    let shown = |(count, value): &(u32, f64)| (f64::from(*count), value / scale);
    limit.points.iter().map(shown).collect()
}

fn counts(limit: &LimitCurve) -> Range<f64> {
    span(points(limit).iter().map(|point| point.0), 0.02)
}

fn values(limit: &LimitCurve) -> Range<f64> {
    let scale = scale(limit);
    let guarded = limit.guard.as_ref().map(|guard| guard.threshold_mv);
    let marked = [limit.limit, limit.hold].into_iter().chain(guarded);
    let points = points(limit);
    let values = points.iter().map(|point| point.1);
    span(values.chain(marked.map(|value| value / scale)), 0.06)
}

#[cfg(test)]
mod tests {
    use super::{LimitCurve, around};

    fn curve(unit: &'static str, counts: std::ops::Range<u32>, of: fn(u32) -> f64) -> LimitCurve {
        let middle = counts.start.midpoint(counts.end);
        LimitCurve {
            key: "over_voltage_mv",
            unit,
            limit: of(middle),
            compared: of(middle),
            hold: of(middle),
            above: true,
            trip_count: middle,
            hold_count: middle,
            guard: None,
            points: counts.map(|count| (count, of(count))).collect(),
        }
    }

    #[test]
    fn limits_with_one_unit_have_one_scale() {
        let all = [
            curve("mV", 100..140, |count| f64::from(count) * 10.0),
            curve("mV", 900..950, |count| f64::from(count) * 2.0),
            curve("degC", 100..110, f64::from),
        ];
        let spans = all.each_ref().map(|limit| {
            let picture = around(limit, &all);
            let wide = |range: &std::ops::Range<f64>| range.end - range.start;
            let near = |axis: f64, middle: f64| (axis - middle).abs() < 1.0;
            let middle = f64::from(
                limit.points[0]
                    .0
                    .midpoint(limit.points.last().map_or(0, |last| last.0)),
            );
            assert!(near(
                picture.x.range.start.midpoint(picture.x.range.end),
                middle
            ));
            (wide(&picture.x.range), wide(&picture.y.range))
        });
        let close = |one: f64, other: f64| (one / other - 1.0).abs() < 1e-9;
        assert!(
            close(spans[0].0, spans[1].0) && close(spans[0].1, spans[1].1),
            "{spans:?}"
        );
        // Degrees are no volts.
        assert!(!close(spans[0].0, spans[2].0));
    }
}
