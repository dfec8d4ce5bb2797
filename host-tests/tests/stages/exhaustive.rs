//! Every count of every shipped front end: value and fault against the exact model.

use tallyvolt_harness::cases::{Case, edge, shipped};
use tallyvolt_model::front_end::{FrontEnd, FullScale, Topology};

/// Each shipped range walked whole: as many counts run as promised, none wrong, rounding never beyond half a unit.
#[test]
fn every_count_of_every_shipped_front_end_is_right() {
    let mut run = 0;
    let mut promised = 0;
    for front_end in shipped::front_ends() {
        let name = front_end.name.clone();
        let case = Case::uncalibrated(front_end);
        let sweep = case.sweep();
        assert_eq!(sweep.wrong, 0, "{name}: {:?}", sweep.examples);
        assert!(sweep.monotonic, "{name} turns back");
        assert!(
            sweep.largest_error <= 0.5,
            "{name}: {}",
            sweep.largest_error
        );
        assert!(sweep.valid.is_some(), "{name} reads nothing");
        run += sweep.counts;
        promised += u64::from(case.model().largest_count()) + 1;
    }
    assert_eq!(run, promised);
    println!("{run} counts");
}

/// Beyond the largest count as well, where only faults are right.
#[test]
fn every_edge_count_is_right_up_to_the_largest_u32() {
    for front_end in shipped::front_ends() {
        let case = Case::uncalibrated(front_end);
        let (conversion, model) = (case.conversion().expect("shipped"), case.model());
        for count in edge::counts(model.largest_count()) {
            assert_eq!(
                conversion.outcome(count),
                model.outcome(count),
                "{count} of {case:?}"
            );
        }
    }
}

/// The kinds that the shipped set has to show.
#[test]
fn the_shipped_set_has_every_kind() {
    let shipped = shipped::front_ends();
    let has = |kind: &str, wanted: &dyn Fn(&FrontEnd) -> bool| {
        assert!(shipped.iter().any(wanted), "no shipped front end is {kind}");
    };
    let divided = |front_end: &FrontEnd| matches!(front_end.topology, Topology::DividedInput(_));
    let acquired = |front_end: &FrontEnd, bits, samples| {
        front_end.converter.bits == bits && front_end.converter.samples == samples
    };
    has("10-bit divided", &|f| divided(f) && acquired(f, 10, 1));
    has("12-bit supply reference", &|f| {
        !divided(f) && acquired(f, 12, 1)
    });
    has("12-bit supply reference of 16 samples", &|f| {
        !divided(f) && acquired(f, 12, 16) && f.converter.right_shift == 0
    });
    has("12-bit divided of 1024 samples with a right shift", &|f| {
        divided(f) && acquired(f, 12, 1024) && f.converter.right_shift > 0
    });
    has("16-bit divided with full scale 2^n-1", &|f| {
        divided(f) && acquired(f, 16, 1) && f.converter.full_scale == FullScale::TopCode
    });
    has("in steps of 100 uV", &|f| f.unit_uv == 100);
    has("an LTO cell", &|f| f.cell.chemistry == "LTO");
}
