//! The counts at which no alarm of a quantity can change: one comparison in place of two alarms.

use super::alarm::{Alarm, Limit};
use crate::arch::{Narrow, narrow, portable, wide};
use crate::units::Count;

/// `counts` counts from `first` on that leave the alarms it was formed of as they are. Outside it an alarm may change or not: it is
/// asked. Counts beyond [`Narrow`] are outside every band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct QuietBand {
    first: Narrow,
    counts: Narrow,
}

impl QuietBand {
    /// No count is quiet.
    pub(crate) const NONE: Self = Self {
        first: 0,
        counts: 0,
    };

    /// Updates both alarms by a count, each where there is a limit, and answers where they are quiet after that.
    // Apart and of no type: it is rarely called, and then for both quantities.
    #[cold]
    #[inline(never)]
    pub(crate) fn after(
        (one, its_limit): (&mut Alarm, &Option<Limit>),
        (other, other_limit): (&mut Alarm, &Option<Limit>),
        count: Count,
    ) -> Self {
        Ends::ALL
            .narrowed(one, its_limit, count)
            .narrowed(other, other_limit, count)
            .band()
    }

    /// Whether a count is quiet.
    #[inline]
    pub(crate) const fn holds(self, count: Count) -> bool {
        portable::position(count, self.first, self.counts).is_some()
    }
}

/// The first quiet count, and the last one; none is quiet where that lies before.
#[derive(Clone, Copy)]
struct Ends {
    first: Narrow,
    last: Narrow,
}

impl Ends {
    const ALL: Self = Self {
        first: 0,
        last: Narrow::MAX - 1,
    };

    /// Updates an alarm by a count and leaves the counts at which it is quiet after that; without a limit it always is.
    // On small cores once, for all four alarms.
    #[cfg_attr(target_pointer_width = "16", inline(never))]
    fn narrowed(self, alarm: &mut Alarm, limit: &Option<Limit>, count: Count) -> Self {
        let Some(limit) = limit else { return self };
        alarm.judge(limit, count);
        self.left(*alarm, limit)
    }

    fn left(self, alarm: Alarm, limit: &Limit) -> Self {
        let (mut first, mut last) = (self.first, self.last);
        match alarm.quiet_end(limit) {
            None => first = Narrow::MAX,
            Some((true, end)) => last = last.min(nearest(end, Narrow::MAX)),
            Some((false, end)) => first = first.max(nearest(end, Narrow::MAX)),
        }
        Self { first, last }
    }

    #[expect(
        clippy::arithmetic_side_effects,
        reason = "last is below the largest number, and one more than its distance from a first that is not behind it fits"
    )]
    const fn band(self) -> QuietBand {
        let Self { first, last } = self;
        if first > last {
            return QuietBand::NONE;
        }
        QuietBand {
            first,
            counts: last - first + 1,
        }
    }
}

/// A count, or `most` where the count is larger.
const fn nearest(count: u32, most: Narrow) -> Narrow {
    if count > wide(most) {
        most
    } else {
        narrow(count)
    }
}

#[cfg(test)]
#[expect(
    clippy::expect_used,
    clippy::arithmetic_side_effects,
    reason = "tests: limits are made of constants, and few states and counts are numbered"
)]
mod tests {
    extern crate std;

    use std::vec;
    use std::vec::Vec;

    use super::*;
    use crate::watch::alarm::AlarmRule;

    const COUNTS: u32 = 40;

    fn limit(upper: bool, ends: [u32; 2], latching: bool) -> Option<Limit> {
        let rule = AlarmRule {
            readings: 3,
            latching,
        };
        Some(Limit::of(upper, ends.map(Count), rule))
    }

    /// Every state that up to three readings of any count leave.
    fn states(limit: &Limit) -> Vec<Alarm> {
        let mut states = vec![Alarm::CLEAR];
        let mut next = 0;
        while let Some(from) = states.get(next).copied() {
            for count in (0..COUNTS).map(Count).chain([Count(u32::MAX)]) {
                let mut alarm = from;
                alarm.update(limit, count);
                if !states.contains(&alarm) {
                    states.push(alarm);
                }
            }
            next += 1;
        }
        states
    }

    /// In a band just the counts that change neither alarm, for every pair of states of every pair of limits.
    #[test]
    fn a_band_is_where_nothing_changes() {
        let mut compared = 0_u32;
        let ends = [(0, 0), (10, 5), (30, 20), (30, 30)];
        for (over, hold) in ends {
            for (under, back) in ends {
                for (latching, swapped) in [(false, false), (true, false), (false, true)] {
                    let above = limit(true, [over, hold], latching);
                    let below = limit(false, [back, under], latching);
                    let limits = if swapped {
                        [&below, &above]
                    } else {
                        [&above, &below]
                    };
                    let [one, other] = limits.map(|limit| states(&limit.expect("made")));
                    for alarm in &one {
                        for beside in &other {
                            let mut ends = Ends::ALL;
                            for (alarm, limit) in [*alarm, *beside].into_iter().zip(limits) {
                                ends = ends.left(alarm, &limit.expect("made"));
                            }
                            let band = ends.band();
                            for count in (0..COUNTS).map(Count) {
                                let mut after = [*alarm, *beside];
                                for (alarm, limit) in after.iter_mut().zip(limits) {
                                    alarm.update(&limit.expect("made"), count);
                                }
                                let same = after == [*alarm, *beside];
                                assert_eq!(band.holds(count), same, "{band:?} {count:?} {after:?}");
                                compared += 1;
                            }
                        }
                    }
                }
            }
        }
        assert!(compared > 40_000, "{compared} counts");
    }

    /// A band is formed after both alarms took the count, each as [`Alarm::update`] does; and it does not hold the count of a change.
    #[test]
    fn both_alarms_take_the_count_before_a_band_is_formed() {
        let (above, below) = (limit(true, [30, 20], false), limit(false, [10, 5], true));
        let mut plain = [Alarm::CLEAR; 2];
        let mut banded = plain;
        let mut changes = 0;
        for count in (0..COUNTS)
            .chain((0..COUNTS).rev())
            .flat_map(|count| [count; 5])
            .map(Count)
        {
            let before = plain;
            for (alarm, limit) in plain.iter_mut().zip([above, below]) {
                alarm.update(&limit.expect("made"), count);
            }
            let [one, other] = &mut banded;
            let band = QuietBand::after((one, &above), (other, &below), count);
            assert_eq!(banded, plain, "{count:?}");
            let mut again = plain;
            for (alarm, limit) in again.iter_mut().zip([above, below]) {
                alarm.update(&limit.expect("made"), count);
            }
            assert_eq!(band.holds(count), again == plain, "{count:?}");
            changes += u32::from(before != plain);
        }
        assert!(changes > 4, "{changes}");
    }

    /// As on a core that keeps 16 bits of a count.
    #[test]
    fn a_count_of_more_bits_is_the_most_that_is_kept() {
        let most: Narrow = 0xFFFF;
        for (count, kept) in [(3, 3), (65_534, 65_534), (65_535, most), (65_536, most)] {
            assert_eq!(nearest(count, most), kept);
        }
        assert_eq!(nearest(u32::MAX, most), most);
    }

    #[test]
    fn without_limits_all_counts_are_quiet() {
        let mut alarms = [Alarm::CLEAR; 2];
        let [one, other] = &mut alarms;
        let band = QuietBand::after((one, &None), (other, &None), Count(7));
        assert!(band.holds(Count(0)) && band.holds(Count(u32::MAX - 1)));
        assert!(!QuietBand::NONE.holds(Count(0)) && !QuietBand::NONE.holds(Count(u32::MAX)));
    }
}
