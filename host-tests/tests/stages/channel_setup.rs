//! What belongs to a channel and fits together, or is refused.

use tallyvolt::{
    BlockChannel, Channel, ChannelLimits, ChannelSetup, ConfigError, Count, DividedConversion,
    Faults, Plausibility, Sensing,
};

use super::channel::ON_DIVIDER;

#[test]
fn a_window_that_is_not_the_sum_is_refused() {
    let refused = Channel::<_, 8>::new(&ON_DIVIDER).map(|_| ());
    assert_eq!(
        refused,
        Err(ConfigError::WindowMismatch {
            window: 8,
            samples: 16,
            right_shift: 0
        })
    );
}

/// Without limits and without plausibility a channel only measures: whatever stands still, runs off or changes, no alarm and no such fault.
#[test]
fn a_set_up_without_limits_and_watches_only_measures() {
    static BARE: ChannelSetup<DividedConversion<16>> = ChannelSetup {
        limits: ChannelLimits::NONE,
        plausibility: Plausibility::NONE,
        ..ON_DIVIDER
    };
    let mut sliding = Channel::<_, 16>::new(&BARE).expect("16 samples are summed");
    let mut whole = BlockChannel::<_, 16>::new(&BARE).expect("16 samples are summed");
    let mut read = 0;
    for sample in [1, 2000, 3065, 4094] {
        for sensor in [600, 2000, 3500] {
            let sensing = Sensing {
                sensor: Some(Count(sensor)),
                bleeding: false,
            };
            for _ in 0..300 {
                sliding.samples(&[sample; 16]);
                let reading = whole.reading(&[sample; 16], sensing);
                assert_eq!(Some(reading), sliding.reading(sensing));
                assert!(reading.faults == Faults::NONE && reading.voltage.is_ok());
                assert!(!whole.alarms().any() && !sliding.alarms().any());
                read += 1;
            }
        }
    }
    assert_eq!(read, 3600);
}

/// A channel of a buffer tells its alarms between readings as a reading told them.
#[test]
fn alarms_stand_between_readings() {
    let mut channel = BlockChannel::<_, 16>::new(&ON_DIVIDER).expect("16 samples are summed");
    let mut active = 0;
    for sample in [3065, 3600, 3600, 3600, 3065, 3065, 2000, 2000, 2000] {
        let reading = channel.reading(&[sample; 16], Sensing::default());
        assert_eq!(channel.alarms(), reading.alarms);
        active += u32::from(channel.alarms().any());
    }
    assert!((3..9).contains(&active), "{active}");
    channel.acknowledge();
    assert!(!channel.alarms().any());
}

/// Whoever acknowledges while a cell still settles after bleeding does not cut the wait short.
#[test]
fn an_acknowledgement_leaves_the_wait_after_bleeding() {
    let mut sliding = Channel::<_, 16>::new(&ON_DIVIDER).expect("16 samples are summed");
    let mut whole = BlockChannel::<_, 16>::new(&ON_DIVIDER).expect("16 samples are summed");
    let mut waits = Vec::new();
    for bleeding in [true, false, false, false] {
        let sensing = Sensing {
            sensor: None,
            bleeding,
        };
        sliding.samples(&[3065; 16]);
        let reading = whole.reading(&[3065; 16], sensing);
        assert_eq!(sliding.reading(sensing), Some(reading));
        waits.push(reading.faults.contains(Faults::BLEEDING));
        sliding.acknowledge();
        whole.acknowledge();
    }
    assert_eq!(waits, [true, true, true, false]);
}
