//! Comparisons of counts: strict on either side, and what a window comparator is given.

use tallyvolt::{Count, CountLimit};

#[test]
fn beyond_is_strict_on_either_side() {
    for limit in 0..=40_u32 {
        for count in (0..=41).chain([u32::MAX]) {
            assert_eq!(
                CountLimit::Above(Count(limit)).is_beyond(Count(count)),
                count > limit
            );
            assert_eq!(
                CountLimit::Below(Count(limit)).is_beyond(Count(count)),
                count < limit
            );
        }
    }
}

#[test]
fn quiet_counts_are_those_that_trip_neither_limit() {
    let mut pairs = 0;
    for above in 0..=20 {
        for below in 0..=20 {
            let (high, low) = (
                CountLimit::Above(Count(above)),
                CountLimit::Below(Count(below)),
            );
            let quiet: Vec<u32> = (0..=30)
                .filter(|count| !high.is_beyond(Count(*count)) && !low.is_beyond(Count(*count)))
                .collect();
            let ends = quiet.first().zip(quiet.last());
            let found = high.quiet_counts(low);
            assert_eq!(
                found,
                ends.map(|(first, last)| (Count(*first), Count(*last)))
            );
            assert_eq!(low.quiet_counts(high), found);
            pairs += u32::from(found.is_some());
        }
    }
    assert_eq!(pairs, 231);
    let same = CountLimit::Above(Count(3));
    assert_eq!(same.quiet_counts(CountLimit::Above(Count(7))), None);
}
