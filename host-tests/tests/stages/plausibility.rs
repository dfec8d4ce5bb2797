//! Plausibility: samples at a rail, seen in slices and one by one.

use proptest::prelude::*;
use tallyvolt::{Count, RailWatch, Sample, StuckWatch};

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    /// A rail watch fed in slices, one by one, and by the plain rule: a sample at a rail among the last of the window.
    #[test]
    fn a_rail_watch_in_slices_equals_the_plain_rule(
        slices in prop::collection::vec(prop::collection::vec(prop_oneof![12 => 1_u16..9, 1 => any::<u16>(), 1 => Just(0)], 0..40), 0..12),
        top_code in 0_u16..12,
    ) {
        let (mut slice_by_slice, mut one_by_one) = (RailWatch::NEW, RailWatch::NEW);
        let (mut railed, top) = (Vec::new(), Sample(top_code));
        for slice in &slices {
            slice_by_slice.extend(slice, top, 16);
            slice.iter().for_each(|sample| one_by_one.update(Sample(*sample), top, 16));
            railed.extend(slice.iter().map(|sample| *sample == 0 || *sample >= top_code));
            prop_assert_eq!(slice_by_slice, one_by_one);
            prop_assert_eq!(slice_by_slice.in_window(), railed.iter().rev().take(16).any(|railed| *railed));
        }
    }
}

/// Negative control: what a rail watch in slices must not do, forget a sample at the rail of a slice that ends without one.
#[test]
fn a_rail_watch_remembers_the_middle_of_a_slice() {
    let mut watch = RailWatch::NEW;
    watch.extend(&[3, 0, 3], Sample(4095), 4);
    assert!(watch.in_window());
    watch.extend(&[3, 3], Sample(4095), 4);
    assert!(watch.in_window());
    watch.extend(&[3], Sample(4095), 4);
    assert!(!watch.in_window());
    watch.extend(&[4095], Sample(4095), 4);
    watch.extend(&[], Sample(4095), 4);
    assert!(watch.in_window());
}

/// Told to wait for no reading, the watch is off: nothing is ever stuck. Told to wait for one, the first is.
#[test]
fn a_stuck_watch_is_off_at_no_readings() {
    let (mut off, mut at_once, mut third) = (StuckWatch::NEW, StuckWatch::NEW, StuckWatch::NEW);
    for reading in 1..=600 {
        assert!(!off.update(Count(7), 0), "{reading}");
        assert!(at_once.update(Count(7), 1), "{reading}");
        assert_eq!(third.update(Count(7), 3), reading >= 3, "{reading}");
    }
    assert!(!third.update(Count(8), 3));
}
