//! What a channel costs: temperature, filters, alarm and a whole reading, each against the plain model.
//!
//! Unlike a conversion, most of these have a past: they are called with their state in RAM, one call after another, and the
//! model goes through the same calls.

use std::path::Path;

use super::CostError;
use super::calls::Calls;
use super::channel_source::{WINDOW, has_channel, supply_minimum, table};
use super::chip::Chip;
use super::images::{AWKWARD, Objects, identifier};
use super::jobs::Origin;
use super::measure::Costs;
use super::runner::Runner;
use crate::front_end::{FrontEnd, Topology};
use crate::model::Model;
use crate::model::acquisition::AcquisitionModel;
use crate::model::calibration::CalibrationModel;
use crate::model::channel::{
    ChannelModel, PlainChannel, PlainReading, SensorOutcome, limits, sensor,
};
use crate::model::filter;
use crate::model::integer_form::IntegerForm;
use crate::outcome::Outcome;
use crate::thermistor_table::BuiltTable;
use tallyvolt::bounds::COUNT_MAX;

/// Steps of the stream for filters and alarms: odd and about 0.6 of 2^16, so that values jump about.
const JUMP: u32 = 40_503;
/// Values of that stream.
const STREAM: u32 = 2000;

/// Measures a channel's stages after [`super::measure`]'s jobs, on an image of their own.
///
/// # Errors
/// [`CostError`].
pub fn measure(
    costs: &mut Costs,
    chip: Chip,
    objects: &Objects,
    simulator: &Path,
    front_ends: &[FrontEnd],
) -> Result<(), CostError> {
    let mut calls = Vec::new();
    for front_end in front_ends {
        if let Some(table) = table(front_end)? {
            temperatures(&mut calls, chip, front_end, &table);
        }
    }
    filters(&mut calls);
    for front_end in front_ends.iter().filter(|front_end| has_channel(front_end)) {
        let model = model(front_end, true)?;
        if !calls.iter().any(|calls| calls.task == "alarm") {
            alarm(&mut calls, front_end, &model);
        }
        for (origin, kind) in [(Origin::Portable, ""), (Origin::Arch, "_arch")] {
            calls.push(whole(front_end, &model, origin, kind));
        }
    }
    let mut symbols: Vec<String> = calls
        .iter()
        .flat_map(|calls| {
            let start = calls.start.iter().cloned();
            std::iter::once(calls.symbol.clone())
                .chain(calls.data.clone())
                .chain(start)
        })
        .collect();
    symbols.sort();
    symbols.dedup();
    let image = objects.link("all_channel", &symbols, false)?;
    let mut runner = Runner::start(simulator, &image)?;
    for calls in calls {
        calls.run(costs, chip, &mut runner, |symbol| {
            objects.link(symbol, std::slice::from_ref(&symbol.to_owned()), false)
        })?;
    }
    Ok(())
}

/// Every count of a sensor: constants built in, behind a pointer, and faults told apart.
fn temperatures(calls: &mut Vec<Calls>, chip: Chip, front_end: &FrontEnd, table: &BuiltTable) {
    let Some(thermistor) = &front_end.thermistor else {
        return;
    };
    let largest =
        AcquisitionModel::new(&thermistor.converter(&front_end.converter)).largest_count();
    let narrow = largest < 1 << 16;
    let (name, argument) = (identifier(front_end), if narrow { "u16" } else { "u32" });
    let outcomes: Vec<SensorOutcome> = (0..=largest).map(|count| sensor(table, count).0).collect();
    let short = |outcome: &SensorOutcome| match outcome {
        SensorOutcome::Tenths(tenths) => u64::from(*tenths as u16),
        _ => u64::from(i16::MIN as u16),
    };
    let kernel = |outcome: &SensorOutcome| match outcome {
        SensorOutcome::Tenths(tenths) => u64::from(*tenths as u16),
        _ => 1 << 16,
    };
    let told_apart = |outcome: &SensorOutcome| match outcome {
        SensorOutcome::Tenths(tenths) => u64::from(*tenths as u16),
        SensorOutcome::Open => 1 << 16,
        SensorOutcome::Short => (1 << 16) + 1,
        SensorOutcome::OutOfTable => (1 << 16) + 2,
    };
    let call = |what: &str, origin, symbol: String, (argument, result), answers| Calls {
        what: format!("{}, temperature, {what}", front_end.name),
        task: "temperature",
        origin,
        symbol,
        data: (what != "constant")
            .then(|| format!("{}_SENSOR", name.to_uppercase()))
            .into_iter()
            .collect(),
        argument,
        result,
        sweep: (0, largest, 1),
        every: 1,
        shown: what != "faults",
        answers,
        start: None,
    };
    let bare: Vec<u64> = outcomes.iter().map(short).collect();
    // On AVR a constant table stands in RAM, which the figures of functions linked alone do not allow for.
    if chip != Chip::Avr {
        let suffix = if narrow { "_16" } else { "" };
        let symbol = format!("{name}_temperature{suffix}");
        calls.push(call(
            "constant",
            Origin::Portable,
            symbol,
            (argument, "u16"),
            bare.clone(),
        ));
    }
    let wide = if narrow { "" } else { "_wide" };
    for (origin, suffix) in [(Origin::Portable, ""), (Origin::Arch, "_arch")] {
        // Where the kernel is a whole function of the C convention, that one is measured.
        let (symbol, form, answers) = match chip {
            Chip::CortexM0plus if origin == Origin::Arch => (
                "tallyvolt_temperature".to_owned(),
                ("u32", "u32"),
                outcomes.iter().map(kernel).collect(),
            ),
            Chip::Avr if origin == Origin::Arch && narrow => (
                "tallyvolt_temperature".to_owned(),
                ("u16", "u32"),
                outcomes.iter().map(kernel).collect(),
            ),
            _ => (
                format!("temperature{suffix}{wide}"),
                (argument, "u16"),
                bare.clone(),
            ),
        };
        calls.push(call("by pointer", origin, symbol, form, answers));
        let symbol = format!("temperature{suffix}_outcome");
        let answers = outcomes.iter().map(told_apart).collect();
        calls.push(call("faults", origin, symbol, ("u32", "u32"), answers));
    }
}

/// The stream that jumps about.
fn stream() -> Vec<u16> {
    (0..STREAM).map(|place| (place * JUMP) as u16).collect()
}

fn filters(calls: &mut Vec<Calls>) {
    let stream = stream();
    let late = |missing: usize, values: Vec<u64>| {
        let mut answers = vec![u64::from(u32::MAX); missing];
        answers.extend(values);
        answers
    };
    let medians = |length| {
        late(
            length - 1,
            filter::medians(&stream, length)
                .into_iter()
                .map(u64::from)
                .collect(),
        )
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
    for (what, symbol, answers) in [
        ("median of 3, a sample", "median_of_3", medians(3)),
        ("median of 5, a sample", "median_of_5", medians(5)),
        ("trimmed sum of 16, a sample", "trimmed_sum", trimmed),
        ("low-pass 2^4, a count", "low_pass", smooth),
    ] {
        calls.push(Calls {
            what: what.to_owned(),
            task: "filter",
            origin: Origin::Portable,
            symbol: symbol.to_owned(),
            data: vec![symbol.to_uppercase()],
            argument: "u16",
            result: "u32",
            sweep: (0, (STREAM - 1) * JUMP, JUMP),
            every: 1,
            shown: true,
            answers,
            start: None,
        });
    }
}

/// The channel that [`super::channel_source::setup`] describes: the file's limits, looking for nothing that needs a number.
///
/// # Errors
/// [`CostError::File`] when there is no table for the thermistor.
pub fn model(front_end: &FrontEnd, calibrated: bool) -> Result<ChannelModel, CostError> {
    let (gain, offset) = if calibrated { AWKWARD } else { (1 << 24, 0) };
    let module = Model::new(front_end, CalibrationModel::from_words(gain, offset));
    Ok(ChannelModel {
        voltage: IntegerForm::of(&module),
        rises: front_end.topology != Topology::SupplyReference,
        window: front_end.converter.samples as usize,
        top_code: ((1_u32 << front_end.converter.bits) - 1) as u16,
        table: table(front_end)?,
        limits: limits(front_end.limits.as_ref(), front_end.unit_uv),
        supply_minimum: supply_minimum(front_end).map(i64::from),
        stuck_readings: 0,
        settle_readings: 0,
    })
}

/// One limit with its hysteresis and debounce, over every count upward.
fn alarm(calls: &mut Vec<Calls>, front_end: &FrontEnd, model: &ChannelModel) {
    let [Some(_), ..] = model.limits else {
        return;
    };
    let model = ChannelModel {
        window: 1,
        ..model.clone()
    };
    let mut channel = PlainChannel::new(&model);
    let largest = AcquisitionModel::new(&front_end.converter).largest_count();
    let answer = |count: u32| {
        channel.samples(&[count as u16]);
        let reading = channel.reading(None, false);
        u64::from(reading.is_some_and(|reading| reading.alarms[0]))
    };
    calls.push(Calls {
        what: format!("{}, alarm, a reading", front_end.name),
        task: "alarm",
        origin: Origin::Portable,
        symbol: "alarm_step".to_owned(),
        data: vec![
            "ALARM".to_owned(),
            format!("{}_OVER", identifier(front_end).to_uppercase()),
        ],
        argument: "u32",
        result: "u8",
        sweep: (0, largest, 1),
        every: 1,
        shown: true,
        answers: (0..=largest).map(answer).collect(),
        start: None,
    });
}

/// Sixteen samples to voltage, temperature, faults and alarms.
fn whole(front_end: &FrontEnd, model: &ChannelModel, origin: Origin, kind: &str) -> Calls {
    let samples: Vec<u16> = (0..272)
        .map(|i: u32| (i * 16 + i * 7919 % 13).min(4095) as u16)
        .collect();
    let mut channel = PlainChannel::new(model);
    let windows = samples.windows(WINDOW as usize).zip(0_u32..);
    let answers = windows.map(|(window, first)| {
        channel.samples(window);
        channel
            .reading(Some(first << 6), false)
            .map_or(u64::MAX, packed)
    });
    let name = format!("{}{kind}", identifier(front_end));
    Calls {
        what: format!("{}, whole reading of 16 samples", front_end.name),
        task: "reading",
        origin,
        symbol: format!("{name}_reading"),
        data: vec![
            format!("{}_CHANNEL", name.to_uppercase()),
            "CELL_SAMPLES".to_owned(),
        ],
        argument: "u16",
        result: "u64",
        sweep: (0, 272 - WINDOW, 1),
        every: 1,
        shown: true,
        answers: answers.collect(),
        start: Some(format!("{name}_start")),
    }
}

fn packed(reading: PlainReading) -> u64 {
    let voltage = match reading.voltage {
        Outcome::Units(units) => u64::from(units),
        Outcome::Fault(_) => u64::from(u16::MAX),
    };
    let temperature = match reading.temperature {
        Some(SensorOutcome::Tenths(tenths)) => tenths as u16,
        _ => i16::MIN as u16,
    };
    let alarms = reading.alarms.iter().rev();
    let alarms = alarms.fold(0, |bits, alarm| bits << 1 | u64::from(*alarm));
    voltage | u64::from(temperature) << 16 | u64::from(reading.faults) << 32 | alarms << 48
}
