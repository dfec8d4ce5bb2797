//! Generated front ends and calibrations, each swept over its whole count range; the widest on spread counts.

use std::collections::BTreeSet;

use tallyvolt_host::cases::{Case, calibrations, edge, front_ends, random, spaced};
use tallyvolt_host::firmware::Conversion;
use tallyvolt_host::front_end::{FrontEnd, Topology};
use tallyvolt_host::model::integer_form::IntegerForm;

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
    let front_ends = front_ends::generated(FRONT_ENDS_SEED + 1, NUMBER, COUNT_BITS);
    with_calibrations(front_ends, CALIBRATIONS_SEED)
}

/// 2^26 counts each, uncalibrated, with ordinary calibrations, and with those at the ends of their range.
fn widest() -> Vec<Case> {
    let plain = front_ends::summed_1024(FRONT_ENDS_SEED + 2, 16);
    let mut cases = with_calibrations(plain.clone(), CALIBRATIONS_SEED + 1);
    for front_end in &plain {
        let ends = calibrations::ends().into_iter();
        cases.extend(ends.map(|(gain, offset)| Case {
            front_end: front_end.clone(),
            gain,
            offset,
        }));
    }
    let many = (0..10)
        .flat_map(|seed| front_ends::summed_1024(seed, 16))
        .collect();
    cases.extend(with_calibrations(many, CALIBRATIONS_SEED + 2));
    cases.extend(plain.into_iter().map(Case::uncalibrated));
    cases
}

fn with_calibrations(front_ends: Vec<FrontEnd>, seed: u64) -> Vec<Case> {
    let words = calibrations::words(seed, front_ends.len());
    front_ends
        .into_iter()
        .zip(words)
        .map(|(front_end, (gain, offset))| Case {
            front_end,
            gain,
            offset,
        })
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
            .chain(random::counts(u64::from(case.gain), 100, last))
            .chain(edge::counts(last));
        compared += compare(&case, counts);
    }
    println!("{compared} counts");
}

fn compare(case: &Case, counts: impl Iterator<Item = u32>) -> u64 {
    let conversion = case
        .conversion()
        .unwrap_or_else(|error| panic!("{error}: {case:?}"));
    let model = case.model();
    let form = IntegerForm::of(&model);
    let mut compared = 0;
    for count in counts {
        let exact = model.outcome(count);
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
    assert!(calibrated.iter().any(|case| case.offset < 0));
    assert!(calibrated.iter().any(|case| case.offset > 0));
}

/// Each arithmetic the crate can choose is among what was compared above.
#[test]
fn every_width_of_arithmetic_is_used() {
    let mut used = BTreeSet::new();
    for case in uncalibrated().iter().chain(&calibrated()).chain(&widest()) {
        used.insert(match case.conversion().expect("every case is taken") {
            Conversion::Divided(conversion) => match conversion.multiplier().shift() {
                16 => "shift 16",
                24 => "shift 24",
                32 => "shift 32",
                80 if conversion.window().counts() > 1 << 16 => "shift 80, long",
                80 => "shift 80, short",
                other => panic!("a shift of {other} is not tried"),
            },
            Conversion::Supply(conversion) => {
                if u32::try_from(conversion.quotient().doubled_numerator()).is_ok() {
                    "division of 32 bits"
                } else {
                    "division of 64 bits"
                }
            }
        });
    }
    let all = [
        "shift 16",
        "shift 24",
        "shift 32",
        "shift 80, long",
        "shift 80, short",
        "division of 32 bits",
        "division of 64 bits",
    ];
    assert_eq!(used, BTreeSet::from(all));
}
