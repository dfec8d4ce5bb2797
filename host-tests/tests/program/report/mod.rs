//! Pages and pictures: what is drawn is what the model says, nothing overlaps or leaves the picture, the same bytes each time,
//! and nothing on disk changes when anything is wrong.

#![expect(clippy::unwrap_used, reason = "a test may end this way")]

mod beside;
mod layout;
mod limits;
mod program;

use std::path::Path;
use std::sync::LazyLock;
use std::time::{Duration, Instant};

use clap::ValueEnum;
use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive};
use tallyvolt_analysis::choose::budget::monte_carlo::Run;
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::describe::thermistor_table::BuiltTable;
use tallyvolt_analysis::prove::check::conversion;
use tallyvolt_harness::cases::front_ends::generated;
use tallyvolt_harness::cases::shipped;
use tallyvolt_host::picture::curves::Curves;
use tallyvolt_host::picture::page::page;
use tallyvolt_host::picture::plot::{Kind, alone, svg};
use tallyvolt_host::words::cautions::CAUTION;
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::{FrontEnd, LimitMeaning, Limits, Topology};
use tallyvolt_model::outcome::Outcome;
use tallyvolt_model::rational::whole;
use tallyvolt_model::thermistor::ThermistorModel;

const RUN: Run = Run {
    trials: 10_000,
    seed: 1,
};

fn curves(front_end: &FrontEnd) -> Curves {
    Curves::of(front_end, Some(RUN), &|_| {}).unwrap()
}

/// The shipped front ends and those candidates whose values go together, with their curves.
static DESCRIBED: LazyLock<Vec<(FrontEnd, Curves)>> = LazyLock::new(|| {
    let candidates = Path::new(env!("CARGO_MANIFEST_DIR")).join("front-ends/candidates");
    let candidates = shipped::toml_files(&candidates);
    let read = candidates
        .iter()
        .filter_map(|file| front_end_file::read(file).ok());
    shipped::front_ends()
        .into_iter()
        .chain(read)
        .map(|front_end| (front_end.clone(), curves(&front_end)))
        .collect()
});

/// A hundred generated ones, half of them with limits, which need not be readable, and some with tolerances.
fn drawn_by_lot() -> Vec<FrontEnd> {
    let mut front_ends = generated(7, 100, 12);
    for (place, front_end) in front_ends.iter_mut().enumerate() {
        if place / 2 % 2 == 0 {
            continue;
        }
        if place % 12 < 4 {
            front_end.reference.tolerance.ppm = Some(whole(5000));
            front_end.converter.accuracy.noise_rms_lsb = Some(whole(1));
        }
        let unit = front_end.unit_uv;
        let at = |part: u32| {
            let (min, max) = (front_end.cell.min_uv, front_end.cell.max_uv);
            (min + (max - min) / 8 * part) / unit * unit
        };
        front_end.limits = Some(Limits {
            meaning: LimitMeaning::Reading,
            over_uv: Some(at(7)),
            under_uv: Some(at(1)),
            miss_ppm: whole(1000),
            over_guard_uv: 0,
            under_guard_uv: 0,
            hysteresis_uv: unit * (place as u32 % 3),
            over_tenths: None,
            under_tenths: None,
            hysteresis_tenths: 0,
            debounce_readings: 1,
            latching: false,
        });
    }
    front_ends
}

/// 10 000 trials, as many pages as front ends: well formed, nothing from outside, every picture within itself.
#[test]
fn every_page_is_well_formed_and_every_picture_is_laid_out() {
    assert!(DESCRIBED.len() >= 16);
    let drawn: Vec<Curves> = drawn_by_lot().iter().map(curves).collect();
    let described = DESCRIBED.iter().map(|(_, curves)| curves);
    let mut pictures = 0;
    for curves in described.chain(&drawn) {
        for kind in Kind::value_variants().iter().copied() {
            let Some(picture) = svg(curves, kind) else {
                continue;
            };
            pictures += 1;
            if let Err(problem) = layout::check(&picture).and(named(&picture)) {
                panic!("{}, {kind:?}: {problem}", curves.name);
            }
        }
        let text = page(&[("front.toml".to_owned(), curves.clone())]);
        layout::well_formed(&text).unwrap_or_else(|problem| panic!("{}: {problem}", curves.name));
        let outside = text.replace("xmlns=\"http://www.w3.org/2000/svg\"", "");
        for sign in ["http", "<script", "url(", "@import", "src="] {
            assert!(!outside.contains(sign), "{}: {sign}", curves.name);
        }
        assert!(text.contains("Lithium cells can burn."));
        // Volts and millivolts; a key of the file keeps its name.
        let plain = text.replace("_uv", "");
        assert!(
            !plain.contains(" uV") && !plain.contains("microvolt"),
            "{}",
            curves.name
        );
        assert_eq!(text, page(&[("front.toml".to_owned(), curves.clone())]));
    }
    // Four of each front end, and more where there is more to show.
    assert!(pictures > 116 * 4, "{pictures}");
}

/// Yields and the temperature's budget stand on the page as the budget has them; without a budget neither does.
#[test]
fn a_page_has_the_yields_and_the_budget_of_the_temperature() {
    let (mut yields, mut temperatures) = (0, 0);
    let html = |curves: &Curves| page(&[("front.toml".to_owned(), curves.clone())]);
    for (_, curves) in DESCRIBED.iter() {
        let Some(budget) = &curves.budget else {
            continue;
        };
        let text = html(curves);
        let has = |cell: String| assert!(text.contains(&cell), "{}: {cell}", curves.name);
        for row in &budget.yields.rows {
            for share in &row.shares {
                has(format!(">{:.2} %</td>", 100.0 * share));
                yields += 1;
            }
        }
        for total in budget.temperature.iter().flat_map(|of| &of.totals) {
            let [low, high] = total.worst_mk;
            has(format!(">{low:+.0} .. {high:+.0}</td>"));
            has(format!(">{:.1}</td>", total.combined_mk));
            temperatures += 1;
        }
        has("Yield: share of boards".to_owned());
        let without = html(&Curves {
            budget: None,
            ..curves.clone()
        });
        for caption in ["Yield: share of boards", "Temperature: error of a reading"] {
            assert!(!without.contains(caption), "{}: {caption}", curves.name);
        }
    }
    assert!(yields > 500 && temperatures >= 6, "{yields} {temperatures}");
}

/// Whether a picture tells those who do not see it what it is and what it shows.
fn named(picture: &str) -> Result<(), String> {
    let (start, rest) = picture.split_once('>').ok_or("no picture")?;
    let said = |name: &str, least: usize| {
        let (_, rest) = rest
            .split_once(&format!("<{name}>"))
            .ok_or(format!("no {name}"))?;
        let text = rest.split('<').next().unwrap_or("");
        let enough = text.chars().count() >= least && !text.contains("NaN");
        enough.then_some(()).ok_or(format!("{name}: {text:?}"))
    };
    if !start.contains("role=\"img\"") {
        return Err("no picture to those who hear it".to_owned());
    }
    said("title", 5).and(said("desc", 30))
}

#[test]
fn a_picture_without_its_words_is_noticed() {
    let (_, curves) = &DESCRIBED[0];
    let picture = svg(curves, Kind::Step).unwrap();
    assert_eq!(named(&picture), Ok(()));
    for (there, gone) in [("<desc>", "<d>"), ("<title>", "<t>"), (" role=\"img\"", "")] {
        assert!(named(&picture.replacen(there, gone, 1)).is_err(), "{there}");
    }
}

/// A picture that goes out alone has the caution on it, in whole words, and is otherwise the same.
#[test]
fn a_picture_alone_has_the_caution() {
    for (_, curves) in DESCRIBED.iter() {
        for kind in Kind::value_variants().iter().copied() {
            let Some(picture) = svg(curves, kind) else {
                continue;
            };
            let alone = alone(&picture);
            layout::well_formed(&alone).unwrap();
            let (before, after) = alone.split_once(&picture).unwrap();
            let lines: Vec<&str> = after
                .lines()
                .filter(|line| !line.starts_with('<'))
                .collect();
            assert_eq!(
                lines.join(" "),
                CAUTION.replace('\n', " ").replace('\'', "&#39;")
            );
            // The words lie below the picture, and within the paper.
            let height = |text: &str| -> f64 {
                let (_, rest) = text.split_once(" height=\"").unwrap();
                rest.split('"').next().unwrap().parse().unwrap()
            };
            let (paper, own) = (height(before), height(&picture));
            for text in after.split(" y=\"").skip(1) {
                let y: f64 = text.split('"').next().unwrap().parse().unwrap();
                assert!(own <= y && y + 13.0 <= paper, "{kind:?}: {own} {y} {paper}");
            }
        }
    }
}

/// Voltages of a curve are the model's and the firmware's; the rounding columns hold every count's error.
#[test]
fn voltages_are_those_of_model_and_firmware() {
    let mut counts = 0;
    for (front_end, curves) in DESCRIBED.iter() {
        let model = Model::new(front_end, CalibrationModel::identity());
        let firmware = conversion(front_end).unwrap();
        let unit_uv = f64::from(front_end.unit_uv);
        let transfer = curves.transfer.as_ref().unwrap();
        let marked = transfer.marks.iter().map(|mark| &mark.nearest);
        for point in transfer.points.iter().chain(marked) {
            let exact = model.voltage_uv(point.count).unwrap() / whole(1000);
            assert_eq!(point.exact_mv, exact.to_f64().unwrap());
            let Outcome::Units(units) = firmware.outcome(point.count) else {
                panic!("count {} is no voltage", point.count);
            };
            assert_eq!(point.read_mv, f64::from(units) * unit_uv / 1000.0);
        }
        for mark in &transfer.marks {
            let away = |count: u32| {
                let uv = model.voltage_uv(count).unwrap() / whole(1000);
                (uv.to_f64().unwrap() - mark.mv).abs()
            };
            let nearest = mark.nearest.count;
            assert!(away(nearest) <= away(nearest - 1) && away(nearest) <= away(nearest + 1));
        }
        let rounding = curves.rounding.as_ref().unwrap();
        let valid = curves.check.valid_counts.unwrap();
        let (first, last) = (rounding.columns.first(), rounding.columns.last());
        assert_eq!(valid, (first.unwrap().first, last.unwrap().last));
        let mut expected = valid.0;
        for (place, column) in rounding.columns.iter().enumerate() {
            assert_eq!(column.first, expected, "no count between columns");
            expected = column.last + 1;
            assert!(
                -0.5 < column.lowest && column.lowest <= column.highest && column.highest <= 0.5
            );
            if place % 16 != 0 || rounding.looked_at != rounding.counts {
                continue;
            }
            let errors: Vec<f64> = (column.first..=column.last)
                .map(|count| error(&model, &firmware.outcome(count), count))
                .collect();
            counts += errors.len();
            let close = |one: f64, other: f64| (one - other).abs() < 1e-9;
            assert!(close(
                errors.iter().copied().fold(f64::INFINITY, f64::min),
                column.lowest
            ));
            assert!(close(
                errors.iter().copied().fold(f64::NEG_INFINITY, f64::max),
                column.highest
            ));
        }
    }
    assert!(counts > 10_000, "{counts}");
}

/// Answer less exact value in output units, by rational numbers.
fn error(model: &Model, answer: &Outcome, count: u32) -> f64 {
    let Outcome::Units(units) = answer else {
        panic!("count {count} is no voltage");
    };
    (whole(*units) - model.units(count).unwrap())
        .to_f64()
        .unwrap()
}

/// A step is the difference of neighbouring counts' exact voltages in a divided input, and V^2 / (Vref F) in a supply
/// reference.
#[test]
fn steps_are_the_slope() {
    for (front_end, curves) in DESCRIBED.iter() {
        let model = Model::new(front_end, CalibrationModel::identity());
        let at = |count: u32| model.voltage_uv(count).unwrap();
        assert_eq!(curves.steps.len(), 129);
        for step in &curves.steps {
            let expected = match front_end.topology {
                Topology::DividedInput(_) => at(2) - at(1),
                // 1 / V(count) rises by 1 / (Vref F) a count.
                Topology::SupplyReference => {
                    let slope: BigRational = at(1000).recip() - at(999).recip();
                    let uv = whole((step.mv * 1000.0).round() as u32);
                    &uv * &uv * slope
                }
            };
            let expected = expected.abs().to_f64().unwrap() / 1000.0;
            assert!(
                (step.step_mv / expected - 1.0).abs() < 1e-6,
                "{step:?} {expected}"
            );
        }
    }
}

/// Temperatures of a curve are the law's and the firmware's; errors lie within what is certified, and reach it.
#[test]
fn temperatures_are_those_of_law_and_firmware() {
    let mut sensors = 0;
    for (front_end, curves) in DESCRIBED.iter() {
        let Some(drawn) = &front_end.thermistor else {
            continue;
        };
        sensors += 1;
        let sensor = curves.sensor.as_ref().unwrap();
        let check = curves.check.thermistor.as_ref().unwrap();
        let model = ThermistorModel::new(front_end, drawn);
        let built = BuiltTable::build(front_end, drawn).unwrap();
        let firmware = built.firmware().unwrap();
        for point in &sensor.points {
            assert_eq!(Some(point.law_c), model.celsius(point.count));
            let answer = firmware.temperature(tallyvolt::Count(point.count)).unwrap();
            assert_eq!(point.read_c, f64::from(answer.0) / 10.0);
        }
        let largest =
            |errors: fn(&tallyvolt_host::picture::curves::sensor::ErrorColumn) -> (f64, f64)| {
                let ends = sensor.errors.iter().map(errors);
                ends.map(|(low, high)| high.max(-low)).fold(0.0, f64::max)
            };
        let close = |one: f64, other: f64| (one - other).abs() < 1e-6;
        assert!(close(
            largest(|column| column.answer_mc),
            check.answer_error_mc
        ));
        assert!(close(
            largest(|column| column.table_mc),
            check.table_error_mc
        ));
    }
    assert_eq!(sensors, 4);
}

/// A page takes well below a second; the best of three, since others may use the machine.
#[test]
fn a_12_bit_page_takes_less_than_a_second() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("front-ends/hut-supply-12bit.toml");
    let front_end = front_end_file::read(&file).unwrap();
    let best = (0..3)
        .map(|_| {
            let since = Instant::now();
            assert!(!page(&[(String::new(), curves(&front_end))]).is_empty());
            since.elapsed()
        })
        .min();
    assert!(best.unwrap() < Duration::from_secs(1), "{best:?}");
}
