//! A sensor that is a type reads as its table does, at every count, and so does a channel with it. Where its table lies in flash alone, it is
//! run on simulators: `tallyvolt cost` compares every count there.

use tallyvolt::{
    BlockChannel, ChannelSetup, Count, DividedConversion, DrawnSensor, Sensing, SensorAsDrawn,
    Temperature, TemperatureFault, Thermistor,
};

use super::channel::{ENTRIES, ON_DIVIDER, SENSOR};

struct Sensor;

impl DrawnSensor for Sensor {
    const THERMISTOR: Thermistor<'static> = SENSOR;
}

/// The interpolation of 256 counts a segment from 512 on, to nearest, ties upward.
fn exact(count: u32) -> Result<Temperature, TemperatureFault> {
    match count {
        ..=100 => Err(TemperatureFault::ShortCircuit),
        3900.. => Err(TemperatureFault::OpenCircuit),
        101..512 => Err(TemperatureFault::AboveTable),
        3584..3900 => Err(TemperatureFault::BelowTable),
        _ => {
            let position = count - 512;
            let (segment, part) = ((position / 256) as usize, i64::from(position % 256));
            let [from, to] = [ENTRIES[segment], ENTRIES[segment + 1]].map(i64::from);
            let twice = 2 * (from * 256 + (to - from) * part);
            Ok(Temperature((twice + 256).div_euclid(512) as i16))
        }
    }
}

#[test]
fn every_count_reads_as_the_table_has_it() {
    let sensor = SensorAsDrawn::<Sensor>::NEW;
    let mut differ = 0;
    for count in (0..=70_000).chain([u32::MAX]) {
        let read = sensor.temperature(Count(count));
        assert_eq!(read, exact(count), "{count}");
        assert_eq!(read, SENSOR.temperature(Count(count)), "{count}");
        // The control: the next count's temperature is noticed.
        differ += u32::from(read != exact(count.saturating_add(1)));
    }
    assert!(differ > 1000, "{differ}");
}

#[test]
fn a_channel_with_it_reads_the_same() {
    let setup: ChannelSetup<DividedConversion<16>, SensorAsDrawn<Sensor>> = ChannelSetup {
        conversion: ON_DIVIDER.conversion,
        limits: ON_DIVIDER.limits,
        thermistor: Some(SensorAsDrawn::NEW),
        plausibility: ON_DIVIDER.plausibility,
        calibrated: ON_DIVIDER.calibrated,
    };
    let mut typed = BlockChannel::<_, 16, _>::new(&setup).expect("16 samples are summed");
    let mut pointed = BlockChannel::<_, 16>::new(&ON_DIVIDER).expect("16 samples are summed");
    for step in 0..8192_u32 {
        let window = [(step / 2) as u16; 16];
        let sensing = Sensing {
            sensor: Some(Count(step * 17 % 4100)),
            bleeding: step % 100 == 99,
        };
        assert_eq!(
            typed.reading(&window, sensing),
            pointed.reading(&window, sensing),
            "{step}"
        );
    }
}
