//! Plausibility: samples at a rail, seen in slices and one by one.

use proptest::prelude::*;
use tallyvolt::{RailWatch, Sample};

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
