//! The figures of a check, worked out by hand.

use std::path::Path;

use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::prove::check::found::{Arithmetic, Check};
use tallyvolt_analysis::prove::check::{check, check_subject, conversion, millivolts};
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::outcome::{FaultName, Outcome};
use tallyvolt_model::rational::whole;

use super::shipped_front_end;

fn test_data(name: &str) -> FrontEnd {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data");
    front_end_file::read(&folder.join(name)).unwrap_or_else(|error| panic!("{error}"))
}

fn checked(front_end: &FrontEnd) -> Check {
    check(front_end, &|_| {}).expect("described")
}

/// Counts 0 to 7, full scale 1225 mV * 3.49 = 4275.25 mV, steps of an eighth of it, each count half a step above its own
/// multiple. Counts 2 to 6 stand at 1336.02, 1870.42, 2404.83, 2939.23 and 3473.64 mV: three of them lie within the cell's
/// 2000 to 3650 mV, which are 16 501 values of 100 uV.
#[test]
fn eight_counts_by_hand() {
    let found = checked(&test_data("eight-counts.toml"));
    assert_eq!((found.counts_swept, found.wrong_counts), (8 + 3, 0));
    assert_eq!(found.valid_counts, Some((1, 6)));
    assert_eq!(found.range_mv, Some((801.609_375, 3_473.640_625)));
    let steps = [
        found.step_mv.at_min,
        found.step_mv.at_nominal,
        found.step_mv.at_max,
    ];
    assert_eq!(steps, [534.406_25; 3]);
    assert_eq!(found.cell_values, 16_501);
    assert_eq!(
        (found.unreachable_values, found.doubled_values),
        (16_498, 0)
    );
    assert!(found.monotonic && found.exact);
    assert!(found.fit.emptiest && !found.fit.fullest && found.fit.output);
    assert!(!found.reads_the_cell());
}

/// Count 1 stands at 801.609375 mV and count 6 at 3473.640625 mV.
#[test]
fn each_end_of_the_cell_is_judged_by_itself() {
    let mut front_end = test_data("eight-counts.toml");
    front_end.cell.min_uv = 801_609;
    front_end.cell.max_uv = 3_473_640;
    let found = checked(&front_end).fit;
    assert!(!found.emptiest && found.fullest && found.output);
    front_end.cell.min_uv = 801_610;
    front_end.cell.max_uv = 3_473_641;
    let found = checked(&front_end).fit;
    assert!(found.emptiest && !found.fullest && found.output);
}

/// The output type ends at 65 535 units: at 6553.5 mV of 100 uV. Firmware refuses a cell beyond, so it is handed the former.
#[test]
fn the_fullest_cell_fits_the_output_up_to_its_largest_value() {
    let mut front_end = shipped_front_end("hut-supply-12bit");
    front_end.unit_uv = 100;
    front_end.cell.max_uv = 6_553_500;
    let conversion = conversion(&front_end).expect("described");
    let fits = |front_end: &FrontEnd| {
        let subject = |count| conversion.outcome(count);
        let found = check_subject(front_end, &conversion, &subject, &|_| {});
        found.fit.output
    };
    assert!(fits(&front_end));
    front_end.cell.max_uv = 6_553_600;
    assert!(!fits(&front_end));
}

#[test]
fn a_cell_is_read_only_if_all_three_fit() {
    let mut found = checked(&test_data("eight-counts.toml"));
    for case in 0..8 {
        found.fit.emptiest = case & 1 != 0;
        found.fit.fullest = case & 2 != 0;
        found.fit.output = case & 4 != 0;
        assert_eq!(found.reads_the_cell(), case == 7, "case {case}");
    }
}

/// The three counts beyond the largest are asked for too, the first of them directly behind it.
#[test]
fn a_voltage_beyond_the_largest_count_is_wrong() {
    let front_end = test_data("eight-counts.toml");
    let conversion = conversion(&front_end).expect("described");
    for beyond in [8, u32::MAX / 2, u32::MAX] {
        let subject = |count| match count {
            _ if count == beyond => Outcome::Fault(FaultName::BelowRange),
            _ => conversion.outcome(count),
        };
        let found = check_subject(&front_end, &conversion, &subject, &|_| {});
        assert_eq!((found.counts_swept, found.wrong_counts), (8 + 3, 1));
        assert_eq!(found.wrong_examples.len(), 1);
        assert_eq!(found.wrong_examples[0].count, beyond);
        assert!(!found.exact);
    }
}

/// Up to a shift of 23 there is one product of 32 bits, up to 32 there are two, and beyond there are two of 64 bits. The shifts are
/// those that `check` prints.
#[test]
fn products_are_as_wide_as_the_shift_asks() {
    for (name, asked, wide) in [
        ("hut-divided-12bit", 15, "one of 32 bits"),
        ("hut-divided-12bit-x1024", 19, "one of 32 bits"),
        ("hut-divided-16bit-100uv", 24, "two of 32 bits"),
        ("hut-divided-16bit", 32, "two of 32 bits"),
        ("hut-divided-pt1000-thermistor", 64, "two of 64 bits"),
    ] {
        let found = checked(&shipped_front_end(name)).arithmetic;
        let Arithmetic::Multiplier {
            shift, products, ..
        } = found
        else {
            panic!("{name} is a line")
        };
        assert_eq!((shift, products), (asked, wide), "{name}");
    }
}

#[test]
fn a_microvolt_is_a_thousandth_of_a_millivolt() {
    assert_eq!(millivolts(&whole(3_250_125)), 3_250.125);
}
