//! Generated front ends and calibrations, each swept over its whole count range; the widest on spread counts.

use std::collections::BTreeSet;

use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive};
use rayon::prelude::*;
use tallyvolt_analysis::calibrate::fit::constants::exact_units;
use tallyvolt_analysis::calibrate::fit::stored::form;
use tallyvolt_analysis::describe::firmware::{Constants, Firmware};
use tallyvolt_harness::cases::{Case, calibrations, edge, front_ends, random, spaced};
use tallyvolt_model::front_end::{FrontEnd, Topology};
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::outcome::{FaultName, Outcome};
use tallyvolt_model::rational::{nearest_ties_up, whole};

/// Front ends in each set; at least 200 are promised.
const NUMBER: u32 = 250;
/// Their counts go up to 2^18: 1024 8-bit samples whole, 16 bits with 4 samples, or more of them shifted.
const COUNT_BITS: u32 = 18;
const FRONT_ENDS_SEED: u64 = 0x0057_4154_5448_5554;
const CALIBRATIONS_SEED: u64 = 0x0043_4F4C_4453_544F;

fn uncalibrated() -> Vec<Case> {
    front_ends::generated(FRONT_ENDS_SEED, NUMBER, COUNT_BITS)
        .into_iter()
        .map(Case::uncalibrated)
        .collect()
}

fn calibrated() -> Vec<Case> {
    // More of them: gains and offsets at the far ends leave some cells without a count.
    let front_ends = front_ends::generated(FRONT_ENDS_SEED + 1, NUMBER * 2, COUNT_BITS);
    with_calibrations(front_ends, CALIBRATIONS_SEED)
}

/// 2^26 counts each, uncalibrated, with ordinary calibrations, and with those at the ends of their range.
fn widest() -> Vec<Case> {
    let plain = front_ends::summed_1024(FRONT_ENDS_SEED + 2, 16);
    let mut cases = with_calibrations(plain.clone(), CALIBRATIONS_SEED + 1);
    for front_end in &plain {
        let ends = calibrations::ends().into_iter();
        let ends = ends.map(|curve| Case {
            front_end: front_end.clone(),
            curve: Some(curve),
        });
        cases.extend(ends.filter(|case| case.conversion().is_ok()));
    }
    let many = (0..10)
        .flat_map(|seed| front_ends::summed_1024(seed, 16))
        .collect();
    cases.extend(with_calibrations(many, CALIBRATIONS_SEED + 2));
    cases.extend(plain.into_iter().map(Case::uncalibrated));
    cases
}

/// Modules whose cells can still be read: gains and offsets at the far ends leave some ranges without a count.
fn with_calibrations(front_ends: Vec<FrontEnd>, seed: u64) -> Vec<Case> {
    let words = calibrations::words(seed, front_ends.len());
    front_ends
        .into_iter()
        .zip(words)
        .map(|(front_end, curve)| Case {
            front_end,
            curve: Some(curve),
        })
        .filter(|case| case.conversion().is_ok())
        .collect()
}

/// Sweeps all counts of all cases; returns how many.
fn sweep_all(cases: &[Case]) -> u64 {
    let mut run = 0;
    let mut promised = 0;
    for case in cases {
        let sweep = case.sweep();
        assert_eq!(sweep.wrong, 0, "{:?} of {case:?}", sweep.examples);
        assert!(sweep.monotonic, "{case:?}");
        assert!(
            sweep.largest_error <= 0.5,
            "{} of {case:?}",
            sweep.largest_error
        );
        run += sweep.counts;
        promised += u64::from(case.model().largest_count()) + 1;
    }
    assert_eq!(run, promised);
    run
}

#[test]
fn every_count_of_generated_front_ends_is_right() {
    let cases = uncalibrated();
    assert!(cases.len() >= 200);
    println!("{} front ends, {} counts", cases.len(), sweep_all(&cases));
}

#[test]
fn every_count_of_generated_calibrations_is_right() {
    let cases = calibrated();
    assert!(cases.len() >= 200);
    println!("{} calibrations, {} counts", cases.len(), sweep_all(&cases));
}

/// The integer form that sweeps are made against is itself compared with the rational model, and firmware with both.
#[test]
fn spread_and_edge_counts_agree_with_the_rational_model() {
    let mut compared = 0;
    for case in uncalibrated().iter().chain(&calibrated()) {
        let model = case.model();
        let last = model.largest_count();
        compared += compare(
            case,
            spaced::counts(last, 60)
                .into_iter()
                .chain(edge::counts(last)),
        );
    }
    println!("{compared} counts");
}

/// 16 bits times 1024 samples, where a whole sweep of each would take minutes.
#[test]
fn the_widest_ranges_are_right_on_spread_random_and_edge_counts() {
    let mut compared = 0;
    for case in widest() {
        let last = case.model().largest_count();
        assert_eq!(last, 67_107_840);
        let counts = spaced::counts(last, 100)
            .into_iter()
            .chain(random::counts(seed_of(&case), 100, last))
            .chain(edge::counts(last));
        compared += compare(&case, counts);
    }
    println!("{compared} counts");
}

fn seed_of(case: &Case) -> u64 {
    case.curve.map_or(0, |(gain, _)| u64::from(gain))
}

/// Firmware, integer form and, as drawn, the rational model.
fn compare(case: &Case, counts: impl Iterator<Item = u32>) -> u64 {
    let conversion = case
        .conversion()
        .unwrap_or_else(|error| panic!("{error}: {case:?}"));
    let model = case.model();
    let form = match case.curve {
        None => IntegerForm::of(&model),
        Some(_) => form(&conversion.constants(), model.largest_count()),
    };
    let mut compared = 0;
    for count in counts {
        let exact = match case.curve {
            None => model.outcome(count),
            Some(_) => rounded(&conversion.constants(), count, model.largest_count()),
        };
        assert_eq!(
            conversion.outcome(count),
            exact,
            "count {count} of {case:?}"
        );
        assert_eq!(form.outcome(count), exact, "form at {count} of {case:?}");
        assert!(form.is_right(count, exact), "form at {count} of {case:?}");
        compared += 1;
    }
    compared
}

/// What constants say of a count, from their rational and their window.
fn rounded(constants: &Constants, count: u32, largest: u32) -> Outcome {
    let (first, counts, [before, behind]) = match constants {
        Constants::Line(line) => (
            line.first,
            line.counts,
            [FaultName::BelowRange, FaultName::AboveRange],
        ),
        Constants::Quotient(quotient) => (
            quotient.first,
            quotient.counts,
            [FaultName::AboveRange, FaultName::BelowRange],
        ),
    };
    if count == 0 {
        Outcome::Fault(FaultName::ZeroCount)
    } else if count >= largest {
        Outcome::Fault(FaultName::Rail)
    } else if count < first {
        Outcome::Fault(before)
    } else if count - first >= counts {
        Outcome::Fault(behind)
    } else {
        let nearest = nearest_ties_up(&exact_units(constants, count));
        Outcome::Units(nearest.to_u32().expect("a voltage inside the window"))
    }
}

/// The constants of a module lie within a twentieth of a step of its curve, over the counts of the cell's range, wherever counts have
/// up to 16 bits; found here by walking those counts.
#[test]
fn constants_lie_within_a_twentieth_of_a_step_of_their_curve() {
    let near: Vec<Near> = calibrated().par_iter().filter_map(near_its_curve).collect();
    let short = near.iter().filter(|near| near.short).count();
    let walked: u32 = near.iter().map(|near| near.walked).sum();
    let farthest = near.iter().map(|near| &near.distance).max();
    println!(
        "{} modules, {short} in the short form, {walked} counts, at most {:.4} of a step",
        near.len(),
        farthest.and_then(ToPrimitive::to_f64).expect("small")
    );
    assert!(near.len() > 150 && short > 40 && walked > 10_000);
}

/// What was seen of one module's constants.
struct Near {
    short: bool,
    walked: u32,
    /// What `fit` says, in output steps.
    distance: BigRational,
}

/// Asserts that no count within the cell's range lies farther from the curve than the distance that is said.
fn near_its_curve(case: &Case) -> Option<Near> {
    let model = case.model();
    if model.largest_count() > 1 << 16 {
        return None;
    }
    let firmware = Firmware::describe(&case.front_end).expect("described");
    let chosen = case.chosen(&firmware).expect("filtered");
    let cell = &case.front_end.cell;
    let (min, max) = (whole(cell.min_uv), whole(cell.max_uv));
    let mut walked = 0;
    let step = (model.largest_count() / 2048).max(1) as usize;
    for count in (1..model.largest_count()).step_by(step) {
        if let Some(uv) = model
            .voltage_uv(count)
            .filter(|uv| *uv >= min && *uv <= max)
        {
            let distance = (exact_units(&chosen.constants, count) - uv / model.unit_uv()).abs();
            assert!(
                distance <= chosen.distance,
                "{distance} > {} of {case:?}",
                chosen.distance
            );
            walked += 1;
        }
    }
    assert!(
        chosen.distance <= BigRational::new(1.into(), 20.into()),
        "{case:?}"
    );
    let short = match chosen.constants {
        Constants::Line(line) => u32::from(line.shift) == firmware.count_bits() + 3,
        Constants::Quotient(quotient) => {
            ((quotient.counts - 1) << quotient.step_log2) + quotient.at_first < 1 << 16
        }
    };
    Some(Near {
        short,
        walked,
        distance: chosen.distance,
    })
}

/// What the sets must contain to be worth their name.
#[test]
fn the_generated_sets_cover_every_setting() {
    let (uncalibrated, calibrated) = (uncalibrated(), calibrated());
    for cases in [&uncalibrated, &calibrated] {
        let seen = |what: &dyn Fn(&FrontEnd) -> String| {
            let values = cases.iter().map(|case| what(&case.front_end));
            values.collect::<BTreeSet<_>>().len()
        };
        assert_eq!(seen(&|f| f.topology.word().to_owned()), 2);
        assert_eq!(
            seen(&|f| format!("{} {}", f.topology.word(), f.converter.bits)),
            18
        );
        assert_eq!(seen(&|f| f.converter.samples.to_string()), 11);
        assert_eq!(seen(&|f| f.converter.right_shift.to_string()), 9);
        assert_eq!(
            seen(&|f| {
                let converter = &f.converter;
                format!(
                    "{:?} {:?} {:?} {} {}",
                    converter.full_scale,
                    converter.code_centre,
                    converter.shift_rounding,
                    f.unit_uv,
                    f.topology.word()
                )
            }),
            32
        );
        let fractional = cases.iter().any(|case| {
            matches!(&case.front_end.topology, Topology::DividedInput(divider) if !divider.top_ohms.is_integer())
        });
        assert!(fractional);
    }
    let offset = |case: &Case| case.curve.map_or(0, |(_, offset)| offset);
    assert!(calibrated.iter().any(|case| offset(case) < 0));
    assert!(calibrated.iter().any(|case| offset(case) > 0));
}

/// Each arithmetic the crate can choose is among what was compared above.
#[test]
fn every_width_of_arithmetic_is_used() {
    let mut used = BTreeSet::new();
    for case in uncalibrated().iter().chain(&calibrated()).chain(&widest()) {
        let bits = Firmware::describe(&case.front_end)
            .expect("described")
            .count_bits();
        used.insert(
            match case.conversion().expect("every case is taken").constants() {
                Constants::Line(line) => match line.shift {
                    64 => "wide",
                    shift if u32::from(shift) == bits + 3 && line.factor < 1 << 16 => "short",
                    16 => "shift 16",
                    24 => "shift 24",
                    32 => "shift 32",
                    other => panic!("a shift of {other} is not tried"),
                },
                Constants::Quotient(quotient) => {
                    if u32::try_from(quotient.numerator).is_ok() {
                        "division of 32 bits"
                    } else {
                        "division of 64 bits"
                    }
                }
            },
        );
    }
    let all = [
        "short",
        "shift 16",
        "shift 24",
        "shift 32",
        "wide",
        "division of 32 bits",
        "division of 64 bits",
    ];
    assert_eq!(used, BTreeSet::from(all));
}
