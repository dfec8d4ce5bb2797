//! A channel that reads whole windows from the caller's buffer: every reading is the plain channel's, and the sliding one's.

use tallyvolt::{BlockChannel, ConfigError, DividedConversion, Faults};
use tallyvolt_stages::runs::{Step, block_run, firmware_run, plain_run};

use super::channel::{DIVIDED_MODEL, ON_DIVIDER, ON_SUPPLY, SUPPLY_MODEL};

/// Steps of every sum of a window, up and down again, with every count of the sensor on the way.
fn every_sum() -> Vec<Step> {
    let sums = (0..=16 * 4096_u32).chain((0..=16 * 4096).rev());
    sums.flat_map(|sum| {
        // As even as can be: some samples one above the others.
        let samples = (0..16).map(|place| ((sum + place) / 16).min(4095) as u16);
        [
            Step::Samples(samples.collect()),
            Step::Reading(Some(sum >> 4), false),
        ]
    })
    .collect()
}

/// A walk of one window a reading around both voltage limits and through the sensor's, now and then bleeding, stuck, at a rail, without a
/// sensor, acknowledged.
fn walk(readings: u32) -> Vec<Step> {
    let mut state = 1_u64;
    let mut random = move |below: u32| {
        // Knuth's MMIX constants, from memory: any full period would do.
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((state >> 33) as u32) % below
    };
    let (mut level, mut sensor, mut bleeding) = (3000_u32, 2000_u32, false);
    let mut steps = Vec::new();
    for _ in 0..readings {
        // Over 3650 mV from code 3497 on, under 2500 mV from 2394 down.
        let around = if random(2) == 0 { 3497 } else { 2394 };
        level = match random(12) {
            0 => around + random(40) - 20,
            1 => level + random(61) - 30,
            2 => 2394 + random(1104),
            _ => level,
        }
        .clamp(100, 4095);
        sensor = match random(10) {
            0 => random(4200),
            1..=4 => (sensor + random(301)).saturating_sub(150),
            _ => sensor,
        };
        bleeding ^= random(if bleeding { 4 } else { 40 }) == 0;
        let noise = random(3);
        let mut samples: Vec<u16> = (0..16)
            .map(|_| (level + random(noise + 1)).min(4095) as u16)
            .collect();
        if random(30) == 0 {
            samples[random(16) as usize] = [0, 4095, 4096, u16::MAX][random(4) as usize];
        }
        steps.push(Step::Samples(samples));
        steps.push(Step::Reading((random(20) > 0).then_some(sensor), bleeding));
        if random(50) == 0 {
            steps.push(Step::Acknowledge);
        }
    }
    steps
}

#[test]
fn a_channel_without_a_window_reads_every_sum_and_a_long_walk_alike() {
    for steps in [every_sum(), walk(20_000)] {
        let divided = plain_run(&DIVIDED_MODEL, &steps);
        let supply = plain_run(&SUPPLY_MODEL, &steps);
        assert!(divided.len() >= 20_000, "{} readings", divided.len());
        for (place, alarms) in [(0, "over voltage"), (1, "under"), (2, "hot"), (3, "cold")] {
            let mut readings = divided.iter().chain(&supply).flatten();
            assert!(readings.any(|reading| reading.alarms[place]), "{alarms}");
        }
        assert!(
            block_run::<_, 16>(&ON_DIVIDER, &steps) == divided,
            "divided"
        );
        assert!(block_run::<_, 16>(&ON_SUPPLY, &steps) == supply, "supply");
        assert!(
            firmware_run::<_, 16>(&ON_DIVIDER, &steps) == divided,
            "sliding"
        );
    }
    let seen = plain_run(&DIVIDED_MODEL, &walk(20_000));
    let faults = seen
        .iter()
        .flatten()
        .fold(0, |all, reading| all | reading.faults);
    // Every fault but a low supply, which a divided input does not have, and a lost reference.
    let others = Faults::SUPPLY_LOW.with(Faults::REFERENCE_LOST).bits();
    assert_eq!(faults | others, 0x1ff, "{faults:#x}");
}

/// Negative controls: one acknowledgement lost, and bleeding not told, are seen.
#[test]
fn a_lost_step_shows() {
    let steps = walk(2000);
    let wanted = plain_run(&DIVIDED_MODEL, &steps);
    let kept = |step: &&Step| !matches!(step, Step::Acknowledge);
    let without: Vec<Step> = steps.iter().filter(kept).cloned().collect();
    assert!(block_run::<_, 16>(&ON_DIVIDER, &without) != wanted);
    let untold: Vec<Step> = steps
        .iter()
        .map(|step| match step {
            Step::Reading(sensor, _) => Step::Reading(*sensor, false),
            step => step.clone(),
        })
        .collect();
    assert!(block_run::<_, 16>(&ON_DIVIDER, &untold) != wanted);
}

#[test]
fn a_channel_without_a_window_takes_little_memory_and_its_own_sum() {
    // 32 or less where pointers have 16 or 32 bits is asserted while compiling.
    let bytes = size_of::<BlockChannel<'static, DividedConversion<16>, 16>>();
    assert!(bytes <= 40, "{bytes} bytes");
    let refused = BlockChannel::<_, 8>::new(&ON_DIVIDER).map(|_| ());
    let mismatch = ConfigError::WindowMismatch {
        window: 8,
        samples: 16,
        right_shift: 0,
    };
    assert_eq!(refused, Err(mismatch));
}
