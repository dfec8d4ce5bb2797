//! Counts found by division against counts found one by one.

use std::path::Path;

use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::rational::fraction;

use super::super::constants::exact_units;
use super::*;
use crate::describe::firmware::Constants;
use crate::describe::front_end_file;

fn line() -> Curve {
    Curve::Line {
        slope: fraction(3, 7),
        at_zero: fraction(-5, 2),
    }
}

fn quotient() -> Curve {
    Curve::Quotient {
        numerator: fraction(1_000_003, 3),
        start: fraction(-7, 3),
    }
}

/// At a value that a count has exactly, between two, and at the smallest.
#[test]
fn a_crossing_is_the_first_count_on_the_other_side() {
    for curve in [line(), quotient()] {
        for count in [3, 10, 77, 400] {
            for beside in [fraction(0, 1), fraction(1, 1_000), fraction(-1, 1_000)] {
                let units = curve.at(count) + beside;
                let other_side = |count: u32| match curve {
                    Curve::Line { .. } => curve.at(count) >= units,
                    Curve::Quotient { .. } => curve.at(count) < units,
                };
                let first = (3..1000)
                    .find(|count| other_side(*count))
                    .expect("it crosses");
                assert_eq!(curve.crossing(&units), first.into(), "{curve:?} at {units}");
            }
        }
    }
}

fn model(topology: &str, cell: [u32; 3], gain: u32) -> Model {
    let [min, nominal, max] = cell;
    let divider = match topology {
        "divided-input" => "[divider]\ntop_ohms = 24900\nbottom_ohms = 10000\n",
        _ => "",
    };
    let text = format!(
        "name = \"hut\"\ntopology = \"{topology}\"\n[cell]\nchemistry = \"LFP\"\nmin_mv = {min}\nnominal_mv = {nominal}\nmax_mv = {max}\n\
         [converter]\nbits = 10\n[reference]\nmicrovolts = 1_225_000\n{divider}"
    );
    let front_end = front_end_file::parse(Path::new("hut.toml"), &text).expect("sound");
    let calibration = CalibrationModel {
        gain: fraction(gain.into(), 1000),
        offset: fraction(3, 2),
    };
    Model::new(&front_end, calibration)
}

/// The counts of a cell's range, found one by one; a module that reads too little has none for the fullest cell but the last before the rail.
#[test]
fn a_cells_counts_are_those_between_its_ends() {
    let mut cut_off = 0;
    for topology in ["divided-input", "supply-reference"] {
        for gain in [960, 1000, 1040] {
            let model = model(topology, [2000, 3200, 4270], gain);
            let curve = Curve::of(&model).expect("a curve");
            let range = CellCounts::of(&model, &curve).expect("a range");
            let beyond = |count: u32, uv: u32| {
                let value = model.voltage_uv(count).expect("a voltage");
                if topology == "divided-input" {
                    value >= whole(uv)
                } else {
                    value < whole(uv)
                }
            };
            let crossing = |uv: u32| (2..=model.largest_count()).find(|count| beyond(*count, uv));
            let (low, high) = (crossing(2_000_000), crossing(4_270_000));
            let last = model.largest_count() - 1;
            cut_off += u32::from(low.max(high) > Some(last) || high.is_none());
            let ends = [
                low.unwrap_or(last).min(last),
                high.unwrap_or(last).min(last),
            ];
            assert_eq!(
                [range.first, range.last],
                [ends[0].min(ends[1]), ends[0].max(ends[1])],
                "{topology} {gain}"
            );
            assert_eq!(range.largest, model.largest_count());
            // Both counts that the curve is made of and any other lie on it.
            for count in [range.first, range.last, last - 1] {
                assert_eq!(Some(curve.at(count)), model.units(count));
            }
        }
    }
    assert_eq!(cut_off, 2);
}

/// A cell whose range lies between two counts has none.
#[test]
fn a_range_between_two_counts_has_none() {
    for topology in ["divided-input", "supply-reference"] {
        let narrow = model(topology, [3203, 3204, 3205], 1000);
        let curve = Curve::of(&narrow).expect("a curve");
        let ends = [3_203_000, 3_205_000].map(|uv| curve.crossing(&(whole(uv) / narrow.unit_uv())));
        assert_eq!(ends[0], ends[1], "{topology}");
        assert!(CellCounts::of(&narrow, &curve).is_none());
    }
}

/// Steeper than its curve, flatter, and shifted: of all counts, one of the ends and of both around the turn lies farthest from the curve.
#[test]
fn constants_lie_farthest_from_their_curve_at_an_end_or_at_the_turn() {
    let curve = Curve::Quotient {
        numerator: fraction(5_017_600_000, 4),
        start: fraction(7, 3),
    };
    let Curve::Quotient { numerator, start } = &curve else {
        panic!("a quotient: {curve:?}");
    };
    let range = CellCounts {
        first: 290,
        last: 620,
        largest: 1023,
    };
    let mut inside = 0;
    // K to the curve's N and D to its count, at t = 5, with what both are off by.
    for (more, off) in [
        (0, 0),
        (50_000, 9),
        (-50_000, -9),
        (33_000, 5),
        (-17_000, -3),
        (12_000, 3),
        (-4000, 9),
        (90_000, 1),
    ] {
        let constants = QuotientConstants {
            first: 100,
            counts: 900,
            numerator: (5_017_600_000_u64 / 4 * 32).saturating_add_signed(more * 1000),
            at_first: (32 * 102 + 11_u32).saturating_add_signed(off),
            step_log2: 5,
        };
        let distance = |count: u32| {
            (exact_units(&Constants::Quotient(constants), count) - curve.at(count)).abs()
        };
        let farthest = (range.first..=range.last).map(distance).max();
        let turn = turn(numerator, start, &constants, &range);
        assert!(turn[0] >= range.first && turn[1] == turn[0] + 1 && turn[1] <= range.last);
        let found = [range.first, range.last, turn[0], turn[1]].map(distance);
        assert_eq!(found.iter().max(), farthest.as_ref(), "{constants:?}");
        inside += u32::from(
            found[2].clone().max(found[3].clone()) > found[0].clone().max(found[1].clone()),
        );
    }
    assert!(inside >= 3, "{inside}");
}
