//! Choosing a front end: candidates side by side, resistor pairs, preferred values.

#![expect(clippy::unwrap_used, reason = "a test may end this way")]

use std::collections::HashMap;
use std::path::Path;

use num_rational::BigRational;
use tallyvolt_analysis::choose::budget::headroom::headroom;
use tallyvolt_analysis::choose::budget::monte_carlo::Run;
use tallyvolt_analysis::choose::compare::{Comparison, RowName, compare};
use tallyvolt_analysis::choose::divider::found::Objective;
use tallyvolt_analysis::choose::divider::search;
use tallyvolt_analysis::describe::eseries::Series;
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::{Accuracy, FrontEnd, Sampling, Topology};
use tallyvolt_model::rational::whole;

const RUN: Run = Run {
    trials: 20_000,
    seed: 1,
};

fn candidate(name: &str) -> (String, FrontEnd) {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("../front-ends/candidates/{name}.toml"));
    let front_end = front_end_file::read_candidate(&path).unwrap_or_else(|error| panic!("{error}"));
    (name.to_owned(), front_end)
}

fn five() -> Vec<(String, FrontEnd)> {
    [
        "hut-a-divided-10bit",
        "hut-b-supply-12bit",
        "hut-c-supply-12bit-x16",
        "hut-d-supply-12bit-x256",
        "hut-e-supply-2048",
    ]
    .map(candidate)
    .into()
}

fn failures(front_end: &FrontEnd) -> Vec<String> {
    compare(&[(String::new(), front_end.clone())], None, RUN, &|_| ())
        .candidates
        .remove(0)
        .failures
}

/// IEC 60063 as listed by the eseries library (1.2.1, MIT), which was compared with a public listing.
#[test]
fn preferred_values_of_iec_60063() {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/published/iec60063_eseries.csv");
    let mut listed: HashMap<String, Vec<u32>> = HashMap::new();
    for row in csv::Reader::from_path(path).unwrap().deserialize() {
        let (series, _, value): (String, u32, u32) = row.unwrap();
        listed.entry(series).or_default().push(value);
    }
    for series in [Series::E24, Series::E48, Series::E96, Series::E192] {
        assert_eq!(
            series.decade(),
            listed[&format!("{series:?}")],
            "{series:?}"
        );
        let ohms = series.ohms();
        assert!(ohms.windows(2).all(|pair| pair[0] < pair[1]));
        assert_eq!((ohms[0], ohms[ohms.len() - 1]), (100, 10_000_000));
        assert_eq!(ohms.len(), 5 * series.decade().len() + 1);
    }
    // The departures from the rule, each by itself.
    for (departs, rule) in [
        (27, 26),
        (30, 29),
        (33, 32),
        (36, 35),
        (39, 38),
        (43, 42),
        (47, 46),
        (82, 83),
    ] {
        let decade = Series::E24.decade();
        assert!(decade.contains(&departs) && !decade.contains(&rule));
    }
    assert!(Series::E192.decade().contains(&920) && !Series::E192.decade().contains(&919));
}

/// Every pair of E24, by plain exact fractions and no shared code: the first is the finest that surely reads the range.
#[test]
fn the_finest_pair_by_brute_force() {
    let (_, mut front_end) = candidate("hut-a-divided-10bit");
    front_end.limits = None;
    front_end.environment = None;
    front_end.converter.sampling = Sampling::default();
    front_end.reference.tolerance.ppm = None;
    front_end.converter.accuracy = Accuracy::default();
    let found = search(&front_end, Series::E24, Objective::Step).unwrap();
    let ohms = Series::E24.ohms();
    assert_eq!(found.pairs, ohms.len() * ohms.len());
    let exact =
        |numerator: u64, denominator: u64| BigRational::new(numerator.into(), denominator.into());
    // Sample 1022 is the last below the rail and ends at 1023 / 1024 of 1.1 V; both resistors 0.1 % off.
    let pin_mv = exact(1023, 1024) * whole(1100);
    let mut finest: Option<(BigRational, u32, u32)> = None;
    let mut fitting = 0;
    for bottom in &ohms {
        for top in &ohms {
            let (t, b) = (u64::from(*top) * 999, u64::from(*bottom) * 1001);
            let surely = &pin_mv * exact(t + b, b);
            // The first code that is no fault begins at 1 / 1024, and must be passed by the emptiest cell.
            let (t, b) = (u64::from(*top) * 1001, u64::from(*bottom) * 999);
            let lowest = exact(1, 1024) * whole(1100) * exact(t + b, b);
            let drains = u64::from(*top) + u64::from(*bottom) >= 36_500;
            if surely >= whole(3650) && lowest <= whole(2000) && drains {
                fitting += 1;
                let ratio = exact(u64::from(top + bottom), u64::from(*bottom));
                let sum = top + bottom;
                let better = finest
                    .as_ref()
                    .is_none_or(|(best, t, b)| ratio < *best || (ratio == *best && sum > t + b));
                if better {
                    finest = Some((ratio, *top, *bottom));
                }
            }
        }
    }
    let (ratio, top, bottom) = finest.unwrap();
    let best = &found.best[0];
    assert_eq!(
        (best.top_ohms, best.bottom_ohms, found.fitting),
        (top, bottom, fitting)
    );
    assert_eq!(best.ratio, format!("{}/{}", ratio.numer(), ratio.denom()));
    assert_eq!(found.best.len(), 10);
    assert!(
        found
            .best
            .windows(2)
            .all(|pair| pair[0].step_mv < pair[1].step_mv)
    );
}

/// Every pair that is shown keeps every constraint, whatever is sought, and its figures are those of a front end that has it.
#[test]
fn pairs_keep_the_constraints() {
    let (_, front_end) = candidate("hut-a-divided-10bit");
    for objective in [Objective::Step, Objective::Drain, Objective::Settling] {
        let found = search(&front_end, Series::E96, objective).unwrap();
        assert_eq!(found.constraints.must_read_mv, 3750.0);
        assert_eq!(found.constraints.source_max_ohms, Some(10_000.0));
        for pair in &found.best {
            assert!(
                pair.headroom_mv >= 0.0 && pair.drain_ua <= 100.0 && pair.source_ohms <= 10_000.0,
                "{pair:?}"
            );
            let mut built = front_end.clone();
            if let Topology::DividedInput(divider) = &mut built.topology {
                divider.top_ohms = whole(pair.top_ohms);
                divider.bottom_ohms = whole(pair.bottom_ohms);
            }
            assert_eq!(failures(&built), [""; 0]);
            let reach = headroom(&built).unwrap();
            assert!((reach.high.surely_mv - pair.surely_to_mv).abs() < 1e-9);
            let model = Model::new(&built, CalibrationModel::identity());
            let mv = |exact: &BigRational| tallyvolt_model::rational::float(exact) / 1000.0;
            let top = mv(&model.voltage_uv(model.largest_count() - 1).unwrap());
            assert!((top - pair.reads_to_mv).abs() < 1e-6);
            assert!((mv(&model.step_uv(&whole(0))) - pair.step_mv).abs() < 1e-9);
        }
    }
    let least = search(&front_end, Series::E96, Objective::Drain).unwrap();
    let finest = search(&front_end, Series::E96, Objective::Step).unwrap();
    assert!(least.best[0].drain_ua < finest.best[0].drain_ua);
    assert!(least.best[0].step_mv > finest.best[0].step_mv);
    let (_, supply) = candidate("hut-b-supply-12bit");
    assert!(search(&supply, Series::E96, Objective::Step).is_err());
}

/// Common practice, no source: a 2.048 V supply reference cannot serve a cell that works near 2.4 V and below.
#[test]
fn a_reference_that_the_emptiest_cell_cannot_exceed() {
    let (_, front_end) = candidate("hut-e-supply-2048");
    let found = failures(&front_end);
    let said = |what: &str| found.iter().any(|line| line.contains(what));
    assert!(
        said("reference below the emptiest cell: 2048 mV nominal"),
        "{found:?}"
    );
    assert!(said("rule: below 1500 mV: it needs a supply above itself"));
    assert!(said(
        "reference's supply, emptiest cell: 1500 mV; rule: at least 2300 mV"
    ));
    assert!(said("cell's range, as drawn: reads 2048."));
    let lower = {
        let mut lower = front_end.clone();
        lower.reference.microvolts = 1_200_000;
        lower.reference.supply_min_uv = None;
        lower
    };
    assert_eq!(failures(&lower), [""; 0]);
}

#[test]
fn hard_failures_in_plain_words() {
    let (_, front_end) = candidate("hut-a-divided-10bit");
    assert_eq!(failures(&front_end), [""; 0]);
    let changed = |change: &dyn Fn(&mut FrontEnd)| {
        let mut changed = front_end.clone();
        change(&mut changed);
        failures(&changed)
    };
    let short = changed(&|front_end| {
        if let Topology::DividedInput(divider) = &mut front_end.topology {
            divider.top_ohms = whole(20_000);
        }
    });
    assert!(
        short[0].starts_with("cell's range, as drawn: reads 4.8 to 3295.2 mV"),
        "{short:?}"
    );
    assert!(short[1].starts_with("headroom, high end"), "{short:?}");
    let starved = changed(&|front_end| {
        front_end.reference.microvolts = 2_500_000;
    });
    assert_eq!(starved.len(), 1, "{starved:?}");
    assert!(starved[0].contains("it needs a supply above itself"));
    let brown = changed(&|front_end| front_end.converter.supply_min_uv = Some(2_700_000));
    assert_eq!(
        brown,
        ["converter's supply, emptiest cell: 2000 mV; rule: at least 2700 mV"]
    );
    let over = changed(&|front_end| front_end.converter.supply_max_uv = Some(3_600_000));
    assert_eq!(
        over,
        ["converter's supply, fullest cell: 3650 mV; rule: at most 3600 mV"]
    );
}

fn names(comparison: &Comparison) -> Vec<&str> {
    comparison
        .candidates
        .iter()
        .map(|candidate| candidate.name.as_str())
        .collect()
}

/// Nothing is ranked unless the user says by what; then the best comes first and what cannot serve last.
#[test]
fn order_follows_what_matters() {
    let candidates = five();
    let given = compare(&candidates, None, RUN, &|_| ());
    let order: Vec<&str> = candidates.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names(&given), order);
    let by_step = compare(&candidates, Some(RowName::StepNominal), RUN, &|_| ());
    assert_eq!(
        names(&by_step),
        [
            "hut-d-supply-12bit-x256",
            "hut-c-supply-12bit-x16",
            "hut-b-supply-12bit",
            "hut-a-divided-10bit",
            "hut-e-supply-2048",
        ]
    );
    let by_settling = compare(&candidates, Some(RowName::Settling), RUN, &|_| ());
    assert_eq!(names(&by_settling)[0], "hut-a-divided-10bit");
    assert_eq!(names(&by_settling)[4], "hut-e-supply-2048");
}

/// The best of a row is marked among those that serve; a candidate that cannot serve is never best, however good its figure.
#[test]
fn the_best_of_a_row_is_marked() {
    let comparison = compare(&five(), None, RUN, &|_| ());
    assert_eq!(comparison.rows.len(), 16);
    for row in &comparison.rows {
        assert!(!row.cells[4].best);
        let best: Vec<usize> = (0..5).filter(|index| row.cells[*index].best).collect();
        match row.row {
            RowName::EffectiveBits | RowName::StepMin | RowName::StepNominal | RowName::StepMax => {
                assert_eq!(best, [3]);
            }
            RowName::Drain => assert_eq!(best, [1, 2, 3]),
            RowName::Settling => assert_eq!(best, [0]),
            // All four cover the range, nothing was measured, and trials do not tell the yields apart: nobody is best.
            RowName::Range
            | RowName::MinimumSupply
            | RowName::YieldBefore
            | RowName::Flash
            | RowName::Cycles => assert!(best.is_empty(), "{row:?}"),
            _ => assert!(!best.is_empty(), "{row:?}"),
        }
    }
    // The failing candidate has the smallest worst error of all, and no mark.
    let worst = &comparison.rows[RowName::WorstBefore as usize];
    let least = worst
        .cells
        .iter()
        .filter_map(|cell| cell.value)
        .fold(f64::INFINITY, f64::min);
    assert_eq!(worst.cells[4].value, Some(least));
}

/// What was measured on a core is shown with the core's name.
#[test]
fn measured_figures_name_their_core() {
    let text = "name = \"m\"\ntopology = \"supply-reference\"\n[cell]\nchemistry = \"LFP\"\nmin_mv = 2000\nnominal_mv = 3200\n\
                max_mv = 3650\n[converter]\nbits = 12\n[reference]\nmicrovolts = 1_200_000\n[measured]\ncore = \"some-core\"\n\
                cycles = 321\n";
    let front_end = front_end_file::parse(Path::new("m.toml"), text).unwrap();
    let comparison = compare(&[("m.toml".to_owned(), front_end)], None, RUN, &|_| ());
    assert_eq!(
        comparison.rows[RowName::Cycles as usize].cells[0].text,
        "321 on some-core"
    );
    assert_eq!(
        comparison.rows[RowName::Flash as usize].cells[0].text,
        "not measured"
    );
    // The reference alone tells of a supply here: its own 1.2 V.
    assert_eq!(
        comparison.rows[RowName::MinimumSupply as usize].cells[0].text,
        "1200, converter's not stated"
    );
}

/// Two candidates that differ by less than the trials can tell share the mark, or leave it; what follows from the file alone
/// is told apart to the last digit.
#[test]
fn chance_marks_nobody() {
    let one = candidate("hut-b-supply-12bit");
    let mut other = one.clone();
    other.1.name = "hut-b-again".to_owned();
    // 1 % of the resolution of the trials more, and a term more that shifts every draw after it.
    other.1.reference.tolerance.ppm = Some(whole(10_001));
    other.1.reference.ageing_ppm = Some(whole(1));
    let comparison = compare(&[one, other], None, RUN, &|_| ());
    let best = |row: RowName| {
        comparison.rows[row as usize]
            .cells
            .iter()
            .map(|cell| cell.best)
            .collect::<Vec<_>>()
    };
    for row in [
        RowName::Error95Before,
        RowName::Error95After,
        RowName::YieldBefore,
        RowName::YieldAfter,
    ] {
        let cells = &comparison.rows[row as usize].cells;
        assert!(cells[0].standard_error > 0.0, "{cells:?}");
        assert_eq!(best(row), [false, false], "{cells:?}");
    }
    assert_eq!(best(RowName::WorstBefore), [true, false]);
}

/// Yield grows with the error that is allowed, and does not fall with better resistors.
#[test]
fn yields_by_error_and_class() {
    let (file, front_end) = candidate("hut-a-divided-10bit");
    let comparison = compare(&[(file, front_end)], None, RUN, &|_| ());
    assert_eq!(comparison.within_mv, 20.0);
    let yields = &comparison.candidates[0].yields;
    assert_eq!(yields.rows.len(), 3 * 4);
    for row in &yields.rows {
        assert!(
            row.shares.windows(2).all(|pair| pair[0] <= pair[1]),
            "{row:?}"
        );
    }
    let uncalibrated = |ppm| {
        let mut rows = yields.rows.iter();
        let row = rows.find(|row| row.resistors_ppm == ppm && row.calibration == "uncalibrated");
        // Within 50 mV.
        row.unwrap().shares[5]
    };
    assert!(uncalibrated(None) > uncalibrated(Some(10_000)) + 0.05);
    assert!(uncalibrated(Some(10_000)) > uncalibrated(Some(50_000)) + 0.1);
    // The share of one term alone is known: a rectangular 1 % of a reference gives half of its boards within half of it.
    let (_, mut alone) = candidate("hut-b-supply-12bit");
    alone.converter.accuracy = Accuracy::default();
    alone.environment = None;
    alone.asks.max_error_uv = Some(18_250);
    let comparison = compare(&[(String::new(), alone)], None, RUN, &|_| ());
    let within = comparison.rows[RowName::YieldBefore as usize].cells[0]
        .value
        .unwrap();
    assert!((within - 50.0).abs() < 2.0, "{within}");
}
