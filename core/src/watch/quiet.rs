//! The counts at which no alarm of a quantity can change: one comparison in place of two alarms.

use super::alarm::{Alarm, Limit};
use crate::units::Count;

/// `counts` counts from `first` on that leave the alarms it was formed of as they are. Outside it an alarm may change or not: it is
/// asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct QuietBand {
    first: u32,
    counts: u32,
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
        if let Some(limit) = its_limit {
            one.update(limit, count);
        }
        if let Some(limit) = other_limit {
            other.update(limit, count);
        }
        Self::of([(*one, its_limit), (*other, other_limit)])
    }

    /// The counts that both alarms are quiet at; one without a limit always is. Of all counts, the largest `u32` is left out.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "high is at least low, and one more than their difference fits unless they are all of u32"
    )]
    fn of(alarms: [(Alarm, &Option<Limit>); 2]) -> Self {
        let (mut low, mut high) = (0, u32::MAX - 1);
        for (alarm, limit) in alarms {
            let Some(limit) = limit else { continue };
            let Some([first, last]) = alarm.quiet(limit) else {
                return Self::NONE;
            };
            low = low.max(first);
            high = high.min(last);
        }
        if low > high {
            return Self::NONE;
        }
        Self {
            first: low,
            counts: high - low + 1,
        }
    }

    /// Whether a count is quiet.
    #[inline]
    pub(crate) const fn holds(self, count: Count) -> bool {
        // Wraps on purpose: a count before the first becomes one far behind it.
        count.0.wrapping_sub(self.first) < self.counts
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
    use crate::watch::count_limit::CountLimit;

    const COUNTS: u32 = 40;

    fn limit(trip: CountLimit, hold: CountLimit, latching: bool) -> Option<Limit> {
        let rule = AlarmRule {
            readings: 3,
            latching,
        };
        Some(Limit::new(trip, hold, rule).expect("a rule within bounds"))
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
                    let above = limit(
                        CountLimit::Above(Count(over)),
                        CountLimit::Above(Count(hold)),
                        latching,
                    );
                    let below = limit(
                        CountLimit::Below(Count(back)),
                        CountLimit::Below(Count(under)),
                        latching,
                    );
                    let limits = if swapped {
                        [&below, &above]
                    } else {
                        [&above, &below]
                    };
                    let [one, other] = limits.map(|limit| states(&limit.expect("made")));
                    for alarm in &one {
                        for beside in &other {
                            let band = QuietBand::of([(*alarm, limits[0]), (*beside, limits[1])]);
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

    #[test]
    fn without_limits_all_counts_are_quiet() {
        let band = QuietBand::of([(Alarm::CLEAR, &None); 2]);
        assert!(band.holds(Count(0)) && band.holds(Count(u32::MAX - 1)));
        assert!(!QuietBand::NONE.holds(Count(0)) && !QuietBand::NONE.holds(Count(u32::MAX)));
    }
}
