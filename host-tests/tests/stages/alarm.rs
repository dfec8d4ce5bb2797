//! Alarms: hysteresis, debounce and latching, against a plain model that looks at whole histories of voltages.

use proptest::prelude::*;
use tallyvolt::{Acquisition, Alarm, AlarmRule, Count, CountLimit, Limit, LimitSide};

use super::limits::{DRAWN, awkward, beyond, divided, mv, supply};

/// The alarm said in voltages and in whole histories: it changes when the last `readings` readings since the last change
/// all speak for it.
fn plain_alarm(
    voltages: &[u16],
    side: LimitSide,
    limit: u16,
    hysteresis: u16,
    rule: AlarmRule,
) -> Vec<bool> {
    let released = match side {
        LimitSide::Over => limit - hysteresis,
        LimitSide::Under => limit + hysteresis,
    };
    let (mut active, mut since) = (false, 0);
    let mut states = Vec::new();
    for (now, _) in voltages.iter().enumerate() {
        let row = usize::from(rule.readings);
        let speaks = |voltage: &u16| {
            if active {
                !rule.latching && !beyond(side, (*voltage).into(), released.into())
            } else {
                beyond(side, (*voltage).into(), limit.into())
            }
        };
        if now + 1 >= since + row && voltages[now + 1 - row..=now].iter().all(speaks) {
            (active, since) = (!active, now + 1);
        }
        states.push(active);
    }
    states
}

fn alarm_states(counts: &[u32], limit: &Limit) -> Vec<bool> {
    let mut alarm = Alarm::CLEAR;
    counts
        .iter()
        .map(|count| alarm.update(limit, Count(*count)))
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    /// Counts near the limit, so that trips, holds and releases mix; both sides, both topologies.
    #[test]
    fn the_alarm_equals_the_plain_model(
        steps in prop::collection::vec(-40_i32..=40, 1..200),
        hysteresis in 0_u16..=60,
        readings in 1_u8..=6,
        latching in any::<bool>(),
        over in any::<bool>(),
    ) {
        let rule = AlarmRule { readings, latching };
        let side = if over { LimitSide::Over } else { LimitSide::Under };
        let acquisition = Acquisition::single(12);

        let conversion = divided(acquisition, awkward());
        let limit = conversion.limit(side, mv(3400), mv(hysteresis), rule).expect("readable");
        let mut count = 3250_i32;
        let counts: Vec<u32> = steps.iter().map(|step| {
            count = (count + step).clamp(3000, 3500);
            count.unsigned_abs()
        }).collect();
        let voltages: Vec<u16> =
            counts.iter().map(|count| conversion.voltage(Count(*count)).expect("inside").0).collect();
        prop_assert_eq!(alarm_states(&counts, &limit), plain_alarm(&voltages, side, 3400, hysteresis, rule));

        let conversion = supply(acquisition, awkward());
        let limit = conversion.limit(side, mv(3400), mv(hysteresis), rule).expect("readable");
        let mut count = 1450_i32;
        let counts: Vec<u32> = steps.iter().map(|step| {
            count = (count + step).clamp(1300, 1600);
            count.unsigned_abs()
        }).collect();
        let voltages: Vec<u16> =
            counts.iter().map(|count| conversion.voltage(Count(*count)).expect("inside").0).collect();
        prop_assert_eq!(alarm_states(&counts, &limit), plain_alarm(&voltages, side, 3400, hysteresis, rule));
    }

    /// Nothing panics or wraps, whatever the counts; acknowledging clears, and a long row cannot overflow.
    #[test]
    fn any_counts_at_all(counts in prop::collection::vec(any::<u32>(), 0..400), latching in any::<bool>()) {
        let rule = AlarmRule { readings: 127, latching };
        let limit = divided(Acquisition::single(12), DRAWN)
            .limit(LimitSide::Over, mv(3650), mv(50), rule)
            .expect("readable");
        let mut alarm = Alarm::CLEAR;
        for count in counts {
            let active = alarm.update(&limit, Count(count));
            prop_assert_eq!(active, alarm.is_active());
            if active && count % 5 == 0 {
                alarm.acknowledge();
                prop_assert!(!alarm.is_active());
            }
        }
        for _ in 0..600 {
            alarm.update(&limit, Count(u32::MAX));
        }
        prop_assert!(alarm.is_active());
    }
}

/// An active alarm within its hysteresis neither clears nor chatters; it clears beyond, after the row.
#[test]
fn an_alarm_does_not_chatter() {
    let rule = AlarmRule {
        readings: 3,
        latching: false,
    };
    let conversion = divided(Acquisition::single(12), DRAWN);
    let limit = conversion
        .limit(LimitSide::Over, mv(3650), mv(20), rule)
        .expect("readable");
    assert_eq!(limit.trip(), CountLimit::Above(Count(3496)));
    assert_eq!(limit.hold(), CountLimit::Above(Count(3477)));
    let mut alarm = Alarm::CLEAR;
    let mut take = |counts: &[u32]| {
        counts
            .iter()
            .map(|count| alarm.update(&limit, Count(*count)))
            .last()
    };
    assert_eq!(take(&[3497, 3497, 3496, 3497, 3497]), Some(false));
    assert_eq!(take(&[3497]), Some(true));
    assert_eq!(take(&[3478; 100]), Some(true));
    assert_eq!(take(&[3477, 3477, 3478, 3477, 3477]), Some(true));
    assert_eq!(take(&[3477]), Some(false));
    assert_eq!(take(&[3496; 100]), Some(false));
}
