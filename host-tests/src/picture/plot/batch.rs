//! A value of every module of a batch with its interval, suspects marked.

use super::axis::{Axis, Marks};
use super::figures::{TALL, span};
use super::palette::Ink;
use super::pen::shortened;
use super::picture::Picture;
use super::series::{Series, Shape};

/// Up to so many modules have a row each, with their name.
const NAMED: usize = 40;
/// Height of a row, in pixels.
const ROW: i32 = 24;
/// Longer names are cut.
const NAME: usize = 14;
/// Columns of a larger batch.
const COLUMNS: usize = 200;
/// A suspect further away than this many spans of the good ones is drawn at the edge.
const SPANS: f64 = 3.0;

/// A module's value.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Interval {
    pub(crate) module: String,
    pub(crate) value: f64,
    /// Half of its 95 % interval.
    pub(crate) half: f64,
    pub(crate) suspect: bool,
}

/// A module's number in the order of the readings, its value and the ends of its interval, all as far as the picture reaches.
struct Shown {
    number: usize,
    low: f64,
    value: f64,
    high: f64,
    suspect: bool,
}

/// The picture; `what` names value and unit, `title` the picture.
pub(crate) fn svg(title: &str, what: &str, modules: &[Interval]) -> String {
    let range = range(modules);
    let edge = |value: f64| value.clamp(range.start, range.end);
    let beyond = modules.iter().filter(|of| of.value != edge(of.value));
    let outside = beyond.count();
    let shown = modules.iter().enumerate().map(|(number, of)| Shown {
        number,
        low: edge(of.value - of.half),
        value: edge(of.value),
        high: edge(of.value + of.half),
        suspect: of.suspect,
    });
    let (good, suspect): (Vec<Shown>, Vec<Shown>) = shown.partition(|of| !of.suspect);
    let count = modules.len();
    let mut described = format!(
        "{what} of {count} modules with 95 % intervals; {} suspect.",
        suspect.len()
    );
    let mut label = "suspect".to_owned();
    if outside > 0 {
        label += &format!(", {outside} beyond the edge");
        described += &format!(" {outside} lie beyond the picture and are drawn at its edge.");
    }
    let values = Axis::numbers(what, range.clone());
    let picture = if count <= NAMED {
        let row = |of: &Shown| (count - of.number) as f64 - 0.5;
        let level = |of: &[Shown]| {
            let intervals = of.iter().map(|of| (of.low, of.high, row(of)));
            Shape::Level(intervals.collect())
        };
        let points = |of: &[Shown]| of.iter().map(|of| (of.value, row(of))).collect();
        let names = modules.iter().map(|of| shortened(&of.module, NAME));
        Picture {
            x: values,
            y: Axis {
                label: String::new(),
                range: 0.0..count as f64,
                marks: Marks::Names(names.collect()),
            },
            series: marked(
                level(&good),
                points(&good),
                level(&suspect),
                points(&suspect),
                label,
            ),
            height: i32::try_from(count).unwrap_or(1) * ROW,
            described,
        }
    } else {
        let wide = count.div_ceil(COLUMNS);
        let column = |of: &Shown| of.number as f64 + 1.0;
        let columns = good.chunk_by(|one, other| one.number / wide == other.number / wide);
        let upright = columns.filter_map(|chunk| {
            let low = chunk.iter().map(|of| of.low).reduce(f64::min)?;
            let high = chunk.iter().map(|of| of.high).reduce(f64::max)?;
            Some((column(chunk.first()?), low, high))
        });
        let alone = suspect.iter().map(|of| (column(of), of.low, of.high));
        let points = |of: &[Shown]| of.iter().map(|of| (column(of), of.value)).collect();
        let dots = if wide == 1 { points(&good) } else { Vec::new() };
        Picture {
            x: Axis {
                label: "module, in the order of the readings".to_owned(),
                ..Axis::counts(0.0..count as f64 + 1.0)
            },
            y: values,
            series: marked(
                Shape::Upright(upright.collect()),
                dots,
                Shape::Upright(alone.collect()),
                points(&suspect),
                label,
            ),
            height: TALL,
            described,
        }
    };
    picture.svg(title)
}

fn marked(
    good: Shape,
    dots: Vec<(f64, f64)>,
    suspect: Shape,
    crosses: Vec<(f64, f64)>,
    label: String,
) -> Vec<Series> {
    let mut series = vec![
        Series::new("95 % interval", Ink::Blue, good),
        Series::new("", Ink::Blue, Shape::Dots(dots)).unnamed(),
    ];
    if !crosses.is_empty() {
        series.push(Series::new("", Ink::Vermillion, suspect).unnamed());
        series.push(Series::new(label, Ink::Vermillion, Shape::Crosses(crosses)));
    }
    series
}

/// What the good modules need, and the suspects as far as they are near.
fn range(modules: &[Interval]) -> std::ops::Range<f64> {
    let any_good = modules.iter().any(|module| !module.suspect);
    let both = |module: &Interval| [module.value - module.half, module.value + module.half];
    let ends = modules
        .iter()
        .filter(|module| !(any_good && module.suspect))
        .flat_map(both)
        .filter(|end| end.is_finite());
    let good = span(ends, 0.05);
    let reach = SPANS * (good.end - good.start);
    let near = modules
        .iter()
        .filter(|module| (good.start - reach..=good.end + reach).contains(&module.value))
        .flat_map(both)
        .filter(|end| (good.start - 2.0 * reach..=good.end + 2.0 * reach).contains(end));
    span(near.chain([good.start, good.end]), 0.03)
}

#[cfg(test)]
mod tests {
    use super::{Interval, svg};

    fn batch(number: usize, suspect: impl Fn(usize) -> Option<f64>) -> Vec<Interval> {
        (0..number)
            .map(|module| Interval {
                module: format!("hut-lighting-bank-{module}"),
                value: suspect(module).unwrap_or(1.0 + 1e-4 * (module % 7) as f64),
                half: 5e-4,
                suspect: suspect(module).is_some(),
            })
            .collect()
    }

    #[test]
    fn suspects_are_marked_and_those_far_away_do_not_flatten_the_others() {
        for number in [1, 16, 40, 41, 300, 5000] {
            let near = |module: usize| (module == 3).then_some(1.003);
            let near = svg("Gain", "gain", &batch(number, near));
            let suspects = usize::from(number > 3);
            // A cross is two strokes; there is one more in the legend.
            let strokes = near.matches("<line").count();
            assert!(near.contains(&format!("{suspects} suspect")) && strokes >= 4 * suspects);
            assert!(!near.contains("beyond the picture"));
            let far = svg(
                "Gain",
                "gain",
                &batch(number, |module| (module == 3).then_some(9.0)),
            );
            assert_eq!(far.contains("1 lie beyond the picture"), number > 3);
            let good = svg("Gain", "gain", &batch(number, |_| None));
            assert!(good.contains("0 suspect") && !good.contains("beyond the picture"));
            assert!(good.len() < 150_000, "{}", good.len());
        }
    }

    #[test]
    fn a_batch_of_suspects_has_a_picture_as_well() {
        let all = svg(
            "Gain",
            "gain",
            &batch(5, |module| Some(1.0 + module as f64)),
        );
        assert!(all.contains("5 suspect") && !all.contains("NaN"));
    }
}
