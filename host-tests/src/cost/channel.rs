//! What a channel costs: temperature, filters, alarm and a whole reading, each against the plain model.
//!
//! Unlike a conversion, most of these have a past: they are called with their state in RAM, one call after another, and the
//! model goes through the same calls.

use tallyvolt::bounds::COUNT_MAX;
use tallyvolt_cost::chip::Chip;
use tallyvolt_cost::figure::Origin;
use tallyvolt_cost::job::{First, Job};
use tallyvolt_model::channel::{
    ChannelModel, PlainChannel, PlainReading, SensorOutcome, alarm_after_each, sensor,
};
use tallyvolt_model::filter;
use tallyvolt_model::front_end::Topology;

use super::jobs::{answers, count_type, plain};
use super::subject::{Subject, WINDOW};

/// Steps of the stream for filters: odd and about 0.6 of 2^16, so that values jump about.
const JUMP: u32 = 40_503;
/// Values of that stream.
const STREAM: u32 = 2000;

/// The jobs of channels, one front end after another, and of filters.
pub(super) fn jobs(chip: Chip, subjects: &[Subject]) -> Vec<Job> {
    let mut jobs: Vec<Job> = subjects
        .iter()
        .flat_map(|subject| temperatures(chip, subject))
        .collect();
    jobs.extend(filters());
    jobs.extend(subjects.iter().find_map(alarm));
    for subject in subjects.iter().filter(|subject| subject.has_channel()) {
        for block in ["", "_block"] {
            // Stream, set-up and a table in RAM together are more than the smallest chip has.
            if chip != Chip::Avr25 {
                jobs.push(whole(chip, subject, Origin::Portable, block));
            }
            if chip.has_kernels() || chip.is_avr() {
                jobs.push(whole(chip, subject, Origin::Arch, block));
            }
        }
    }
    jobs
}

/// Every count of a sensor: constants built in, behind a pointer, and faults told apart.
fn temperatures(chip: Chip, subject: &Subject) -> Vec<Job> {
    let Some(table) = subject.table.as_ref().map(|built| &built.table) else {
        return Vec::new();
    };
    let (rail, name) = (subject.sensor_rail, &subject.front_end.name);
    let sweep = (0, rail, 1);
    let tenths = |fault: fn(SensorOutcome) -> u64| {
        answers(sweep, |count| match sensor(table, count).0 {
            SensorOutcome::Tenths(tenths) => u64::from(tenths as u16),
            other => fault(other),
        })
    };
    let job = |what: &str, symbol: &str| Job {
        types: (count_type(rail), "u16"),
        sweep,
        answers: tenths(|_| u64::from(i16::MIN as u16)),
        ..plain(
            &format!("{name}, temperature, {what}"),
            "temperature",
            Origin::Portable,
            &format!("{}_temperature{symbol}", subject.names.lower),
        )
    };
    let sensor = vec![format!("{}_SENSOR", subject.names.upper)];
    let by_pointer = Job {
        data: sensor.clone(),
        ..job("by pointer", "_by_pointer")
    };
    let faults = Job {
        types: ("u32", "u32"),
        data: sensor,
        shown: false,
        answers: tenths(|outcome| match outcome {
            SensorOutcome::Short => (1 << 16) + 1,
            SensorOutcome::OutOfTable => (1 << 16) + 2,
            _ => 1 << 16,
        }),
        ..job("faults", "_outcome")
    };
    let by_kernel = Job {
        origin: Origin::Arch,
        ..by_pointer.clone()
    };
    // On AVR a table of a `static` stands in RAM, which no function of the library may take; that of a type stands in flash, by `arch`.
    let constant = if chip.is_avr() {
        let faults = Job {
            symbol: faults.symbol.replace("_outcome", "_as_drawn_outcome"),
            origin: Origin::Arch,
            data: Vec::new(),
            ..faults.clone()
        };
        let constant = Job {
            origin: Origin::Arch,
            ..job("constant", "_as_drawn")
        };
        vec![constant, faults]
    } else {
        vec![job("constant", "")]
    };
    constant
        .into_iter()
        .chain([by_pointer])
        .chain(chip.has_kernels().then_some(by_kernel))
        .chain([faults])
        .collect()
}

fn filters() -> [Job; 4] {
    let stream: Vec<u16> = (0..STREAM).map(|place| (place * JUMP) as u16).collect();
    let medians = |length: usize| {
        let values = filter::medians(&stream, length);
        let late = std::iter::repeat_n(u64::from(u32::MAX), length - 1);
        late.chain(values.into_iter().map(u64::from)).collect()
    };
    let mut trimmed = vec![u64::from(u32::MAX); stream.len()];
    for (place, sum) in (17..).step_by(18).zip(filter::trimmed_sums(&stream, 16)) {
        trimmed[place] = sum;
    }
    let counts: Vec<u32> = stream.iter().map(|sample| (*sample).into()).collect();
    let smooth = filter::low_pass(&counts, 4, COUNT_MAX)
        .into_iter()
        .map(u64::from)
        .collect();
    [
        ("median of 3, a sample", "median_of_3", medians(3)),
        ("median of 5, a sample", "median_of_5", medians(5)),
        ("trimmed sum of 16, a sample", "trimmed_sum", trimmed),
        ("low-pass 2^4, a count", "low_pass", smooth),
    ]
    .map(|(what, symbol, answers)| Job {
        state: Some(symbol.to_uppercase()),
        sweep: (0, (STREAM - 1) * JUMP, JUMP),
        answers,
        ..plain(what, "filter", Origin::Portable, symbol)
    })
}

/// The channel that [`super::source`] sets up: the file's limits, looking for nothing that needs a number.
pub fn model(subject: &Subject, calibrated: bool) -> ChannelModel {
    let front_end = &subject.front_end;
    ChannelModel {
        voltage: if calibrated {
            subject.module_form()
        } else {
            subject.drawn_form()
        },
        rises: front_end.topology != Topology::SupplyReference,
        window: front_end.converter.samples as usize,
        top_code: ((1_u32 << front_end.converter.bits) - 1) as u16,
        table: subject.table.as_ref().map(|built| built.table.clone()),
        limits: subject.limits,
        supply_minimum: subject
            .supply_minimum_uv()
            .map(|uv| i64::from(uv / front_end.unit_uv)),
        stuck_readings: 0,
        settle_readings: 0,
    }
}

/// One limit with its hysteresis and debounce, over every count upward.
fn alarm(subject: &Subject) -> Option<Job> {
    let model = model(subject, true);
    let limit = model.limits[0].as_ref()?;
    let sweep = (0, subject.rail, 1);
    let places = (0..=sweep.1).map(|count| model.voltage_place(count));
    let active = alarm_after_each(limit, places);
    Some(Job {
        types: ("u32", "u8"),
        sweep,
        state: Some("ALARM".to_owned()),
        data: vec![format!("{}_OVER", subject.names.upper)],
        answers: active.into_iter().map(u64::from).collect(),
        ..plain(
            &format!("{}, alarm, a reading", subject.front_end.name),
            "alarm",
            Origin::Portable,
            "alarm_step",
        )
    })
}

/// Sixteen samples to voltage, temperature, faults and alarms, by the channel that keeps them or by the one that reads them where they lie.
fn whole(chip: Chip, subject: &Subject, origin: Origin, block: &str) -> Job {
    let length = stream_length(chip);
    let samples = stream(length);
    let (state, what) = match block {
        "" => ("_CHANNEL", "whole reading of 16 samples"),
        _ => ("_BLOCK", "whole reading of a buffer of 16"),
    };
    let state = subject.names.upper.clone() + state;
    let name = subject.names.lower.clone() + block;
    Job {
        types: ("u16", "u64"),
        sweep: (0, length - WINDOW, 1),
        state: Some(state),
        data: vec!["CELL_SAMPLES".to_owned()],
        first: First::Start(format!("{name}_start")),
        answers: whole_answers(subject, &samples),
        ..plain(
            &format!("{}, {what}", subject.front_end.name),
            "reading",
            origin,
            &format!("{name}_reading"),
        )
    }
}

/// Samples of the stream: few where there is little RAM.
pub(super) fn stream_length(chip: Chip) -> u32 {
    if chip == Chip::Avr25 { 128 } else { 272 }
}

/// So many samples that move up the whole range of 12 bits with up to 12 of jitter, as the images have them.
pub(super) fn stream(length: u32) -> Vec<u16> {
    let step = (4096 + 256) / length;
    (0..length)
        .map(|i| (i * step + i * 7919 % 13).min(4095) as u16)
        .collect()
}

/// What the calibrated channel reads of each window of a stream, the sensor's count rising beside it.
pub(super) fn whole_answers(subject: &Subject, samples: &[u16]) -> Vec<u64> {
    let model = model(subject, true);
    let mut channel = PlainChannel::new(&model);
    let windows = samples.windows(WINDOW as usize).zip(0_u32..);
    windows
        .map(|(window, first)| {
            channel.samples(window);
            channel
                .reading(Some(first << 6), false)
                .map_or(u64::MAX, packed)
        })
        .collect()
}

fn packed(reading: PlainReading) -> u64 {
    let voltage = u64::from(reading.voltage.units().unwrap_or(u16::MAX.into()));
    let temperature = match reading.temperature {
        Some(SensorOutcome::Tenths(tenths)) => tenths as u16,
        _ => i16::MIN as u16,
    };
    let alarms = reading.alarms.iter().rev();
    let alarms = alarms.fold(0, |bits, alarm| bits << 1 | u64::from(*alarm));
    voltage | u64::from(temperature) << 16 | u64::from(reading.faults) << 32 | alarms << 48
}

/// Windows of lengths other than sixteen, summed by kernels; those of 64 are copied as well. Their answers are compared, and not shown.
pub(super) fn sums(chip: Chip, subject: &Subject) -> Vec<Job> {
    if !chip.has_kernels() {
        return Vec::new();
    }
    let model = model(subject, false);
    let bits = subject.front_end.converter.bits;
    let ways = [("block_sums", "BLOCK_SUMS"), ("kept_sums", "SUMS")];
    // A small core keeps no 512 samples.
    let (length, ways) = match model.window {
        64 => (69, &ways[..]),
        other => (other as u32, &ways[..1]),
    };
    let windows = (WINDOWS << 6) / length.max(64);
    let answers = (0..windows).map(|first| sum_answer(&model, first, length, model.top_code));
    let answers: Vec<u64> = answers.collect();
    ways.iter()
        .map(|(symbol, state)| {
            let symbol = format!("{symbol}_{bits}");
            Job {
                sweep: (0, windows - 1, 1),
                state: Some(format!("{state}_{bits}")),
                answers: answers.clone(),
                shown: false,
                ..plain("windows of samples", "reading", Origin::Arch, &symbol)
            }
        })
        .collect()
}

/// Windows of 64 samples that are summed; of longer ones fewer.
const WINDOWS: u32 = 1 << 11;

/// The window at the end of the samples that `images/src/sums.rs` makes: voltage or 65 535, and faults.
fn sum_answer(model: &ChannelModel, first: u32, length: u32, top: u16) -> u64 {
    let sample = |place: u32| {
        let jumping = (first * 40_503) ^ (place * 7_919 + (first << 3));
        match first % 8 {
            edge @ 0..4 if place == first / 8 % 80 => [0, 1, top - 1, top][edge as usize],
            _ => (jumping as u16 & top).clamp(2, top - 2),
        }
    };
    let samples: Vec<u16> = (0..length).map(sample).collect();
    let mut channel = PlainChannel::new(model);
    channel.samples(&samples);
    let told = channel.reading(None, false).map(packed);
    // Of what a whole reading packs: no temperature, and no alarm. Without a reading the image answers with all bits, too.
    told.map_or(u32::MAX.into(), |told| told & 0xFFFF | told >> 32 << 16)
}

#[cfg(test)]
mod tests {
    use super::alarm;
    use crate::cost::measure::subjects;

    /// A limit of 3.65 V is passed once on the way up, and counts of more than 16 bits are counts as any others.
    #[test]
    fn an_alarm_is_raised_once_on_the_way_up_and_stays() {
        for name in ["hut-divided-thermistor", "hut-divided-pt1000-thermistor"] {
            let path = format!("front-ends/{name}.toml");
            let subject = &subjects(&[&path]).expect("describable")[0];
            let answers = alarm(subject).expect("it has an upper limit").answers;
            assert_eq!(answers.len() as u32, subject.rail + 1, "{name}");
            assert_eq!((answers[0], answers.last()), (0, Some(&1)), "{name}");
            let turns = answers.windows(2).filter(|pair| pair[0] != pair[1]);
            assert_eq!(turns.count(), 1, "{name}");
        }
    }
}
