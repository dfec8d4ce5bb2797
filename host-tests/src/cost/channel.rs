//! What a channel costs: temperature, filters, alarm and a whole reading, each against the plain model.
//!
//! Unlike a conversion, most of these have a past: they are called with their state in RAM, one call after another, and the
//! model goes through the same calls.

use std::fmt::Write as _;
use std::path::Path;

use super::CostError;
use super::calls::Calls;
use super::chip::Chip;
use super::images::{AWKWARD, Objects, identifier};
use super::jobs::Origin;
use super::measure::Costs;
use super::runner::Runner;
use crate::front_end::{FrontEnd, Limits, Topology};
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

/// Samples of a whole reading, as the images take them.
const WINDOW: u32 = 16;
/// Steps of the stream for filters and alarms: odd and about 0.6 of 2^16, so that values jump about.
const JUMP: u32 = 40_503;
/// Values of that stream.
const STREAM: u32 = 2000;

/// The table of a front end's thermistor, where it has one.
fn table(front_end: &FrontEnd) -> Result<Option<BuiltTable>, CostError> {
    let build = |thermistor| {
        BuiltTable::build(front_end, thermistor)
            .map_err(|error| CostError::file(Path::new(&front_end.name), error))
    };
    front_end.thermistor.as_ref().map(build).transpose()
}

/// Whether the images have a whole channel for it: a window of sixteen samples of 12 bits, and a sensor's count of 14 bits.
fn has_channel(front_end: &FrontEnd) -> bool {
    let converter = &front_end.converter;
    let sensor = front_end.thermistor.as_ref();
    converter.samples == WINDOW
        && converter.right_shift == 0
        && converter.bits == 12
        && sensor.is_some_and(|sensor| sensor.samples == 4 && sensor.right_shift == 0)
}

/// The Rust source of thermistors and channels, behind that of [`super::images::constants`], with the functions to measure.
///
/// # Errors
/// [`CostError::File`] when there is no table for a thermistor.
pub fn constants(front_ends: &[FrontEnd]) -> Result<String, CostError> {
    let mut source = String::from(
        "#[allow(unused_imports)]\nuse crate::channel::{State, tenths, whole_reading};\n",
    );
    for front_end in front_ends {
        if let Some(table) = table(front_end)? {
            write_thermistor(&mut source, front_end, &table);
            write_temperatures(&mut source, front_end);
        }
        if has_channel(front_end) {
            write_setup(&mut source, front_end, true);
            write_channel(&mut source, front_end);
        }
    }
    Ok(source)
}

/// The Rust source of a front end's thermistor and channel set-up alone, `NAME_SETUP`.
///
/// # Errors
/// [`CostError::File`] when there is no table for the thermistor.
pub fn setup(front_end: &FrontEnd, calibrated: bool) -> Result<String, CostError> {
    let mut source = String::new();
    if let Some(table) = table(front_end)? {
        write_thermistor(&mut source, front_end, &table);
    }
    write_setup(&mut source, front_end, calibrated);
    Ok(source)
}

/// The thermistor of a front end as a constant, `NAME_THERMISTOR`.
fn write_thermistor(source: &mut String, front_end: &FrontEnd, table: &BuiltTable) {
    let upper = identifier(front_end).to_uppercase();
    let side = match table.side {
        tallyvolt::SensorSide::High => "High",
        tallyvolt::SensorSide::Low => "Low",
    };
    let (entries, number) = (&table.entries, table.entries.len());
    // Writing to a String cannot fail.
    let _ = write!(
        source,
        "\nstatic {upper}_ENTRIES: [i16; {number}] = {entries:?};\npub const {upper}_THERMISTOR: Thermistor<'static> = \
         proven!(Thermistor::new(ThermistorDescription {{\n    side: SensorSide::{side},\n    \
         table: proven!(Table::new(&{upper}_ENTRIES, {}, {})),\n    first: Count({}), counts: {}, low_wire: Count({}), \
         high_wire: Count({}),\n}}));\n",
        table.step_log2,
        table.fraction_bits,
        table.first,
        table.counts,
        table.low_wire,
        table.high_wire,
    );
}

fn write_temperatures(source: &mut String, front_end: &FrontEnd) {
    let name = identifier(front_end);
    let upper = name.to_uppercase();
    // Writing to a String cannot fail.
    let _ = write!(
        source,
        "#[unsafe(no_mangle)]\npub static {upper}_SENSOR: Thermistor<'static> = {upper}_THERMISTOR;\n\
         #[unsafe(no_mangle)]\npub extern \"C\" fn {name}_temperature(count: u32) -> i16 {{ \
         tenths({upper}_THERMISTOR.temperature(Count(count))) }}\n#[unsafe(no_mangle)]\npub extern \"C\" fn \
         {name}_temperature_16(count: u16) -> i16 {{ tenths({upper}_THERMISTOR.temperature(Count::from(count))) }}\n",
    );
}

/// A limit of a file as Rust; `None` where the file has none.
fn limit_source(
    of: &str,
    over: bool,
    value: Option<String>,
    hysteresis: u32,
    rule: &Limits,
) -> String {
    let side = if over { "Over" } else { "Under" };
    value.map_or_else(
        || "None".to_owned(),
        |value| {
            format!(
                "Some(proven!({of}.limit(LimitSide::{side}, {value}, AlarmRule {{ hysteresis: {hysteresis}, readings: {}, \
                 latching: {} }})))",
                rule.debounce_readings, rule.latching
            )
        },
    )
}

/// The limits of a front end as a `ChannelLimits`, for a conversion and a thermistor of these names.
fn limits_source(front_end: &FrontEnd, conversion: &str, thermistor: &str) -> String {
    let Some(rule) = &front_end.limits else {
        return "ChannelLimits::NONE".to_owned();
    };
    let volts = |over, uv: Option<u32>| {
        let value = uv.map(|uv| format!("Voltage({})", uv / front_end.unit_uv));
        limit_source(
            conversion,
            over,
            value,
            rule.hysteresis_uv / front_end.unit_uv,
            rule,
        )
    };
    let degrees = |over, tenths: Option<i32>| {
        let value = tenths.map(|tenths| format!("Temperature({tenths})"));
        limit_source(thermistor, over, value, rule.hysteresis_tenths, rule)
    };
    format!(
        "ChannelLimits {{ over_voltage: {}, under_voltage: {}, over_temperature: {}, under_temperature: {} }}",
        volts(true, rule.over_uv),
        volts(false, rule.under_uv),
        degrees(true, rule.over_tenths),
        degrees(false, rule.under_tenths),
    )
}

fn conversion_type(front_end: &FrontEnd) -> &'static str {
    match front_end.topology {
        Topology::DividedInput(_) => "DividedConversion",
        Topology::SupplyReference => "SupplyConversion",
    }
}

/// The converter's lowest supply in output units, where the cell is that supply.
fn supply_minimum(front_end: &FrontEnd) -> Option<u32> {
    let feeds = front_end.topology == Topology::SupplyReference;
    let lowest = front_end.converter.supply_min_uv.filter(|_| feeds)?;
    Some(lowest / front_end.unit_uv)
}

/// Limits and set-up, `NAME_LIMITS` and `NAME_SETUP`, as drawn or with the calibration of the images.
fn write_setup(source: &mut String, front_end: &FrontEnd, calibrated: bool) {
    let upper = identifier(front_end).to_uppercase();
    let conversion = conversion_type(front_end);
    let (gain, offset) = if calibrated { AWKWARD } else { (1 << 24, 0) };
    let limits = limits_source(
        front_end,
        &format!("{upper}_CHANNEL_CONVERSION"),
        &format!("{upper}_THERMISTOR"),
    );
    let thermistor = if front_end.thermistor.is_some() {
        format!("Some({upper}_THERMISTOR)")
    } else {
        "None".to_owned()
    };
    let minimum = supply_minimum(front_end).map_or_else(
        || "None".to_owned(),
        |units| {
            format!(
                "Some(proven!({upper}_CHANNEL_CONVERSION.count_limit(LimitSide::Under, Voltage({units}))))"
            )
        },
    );
    // Writing to a String cannot fail.
    let _ = write!(
        source,
        "\nconst {upper}_CHANNEL_CONVERSION: {conversion} = proven!({upper}_STAGE.conversion(\n    \
         proven!(Calibration::new(U8F24::from_bits({gain}), I24F8::from_bits({offset})))));\n\
         const {upper}_LIMITS: ChannelLimits = {limits};\n\
         pub static {upper}_SETUP: ChannelSetup<'static, {conversion}> = ChannelSetup {{\n    \
         conversion: {upper}_CHANNEL_CONVERSION, calibrated: {calibrated}, thermistor: {thermistor},\n    \
         limits: {upper}_LIMITS, plausibility: Plausibility {{ supply_minimum: {minimum}, ..Plausibility::NONE }},\n}};\n",
    );
}

fn write_channel(source: &mut String, front_end: &FrontEnd) {
    let name = identifier(front_end);
    let upper = name.to_uppercase();
    let conversion = conversion_type(front_end);
    let over = front_end
        .limits
        .as_ref()
        .and_then(|limits| limits.over_uv)
        .map_or_else(String::new, |_| {
            format!(
                "#[unsafe(no_mangle)]\nstatic {upper}_OVER: Limit = match {upper}_LIMITS.over_voltage {{ \
                 Some(limit) => limit, None => unreachable!() }};\n"
            )
        });
    // Writing to a String cannot fail.
    let _ = write!(
        source,
        "{over}static {upper}_ARCH_SETUP: ChannelSetup<'static, arch::ByKernel<{conversion}>> = ChannelSetup {{\n    conversion: \
         arch::ByKernel({upper}_CHANNEL_CONVERSION), calibrated: {upper}_SETUP.calibrated, thermistor: \
         {upper}_SETUP.thermistor,\n    limits: {upper}_LIMITS, plausibility: {upper}_SETUP.plausibility,\n}};\n",
    );
    let by_kernel = format!("arch::ByKernel<{conversion}>");
    for (kind, conversion) in [("", conversion), ("_arch", &by_kernel)] {
        let upper = format!("{upper}{}", kind.to_uppercase());
        let _ = write!(
            source,
            "#[unsafe(no_mangle)]\nstatic mut {upper}_CHANNEL: State<{conversion}> = State::uninit();\n#[unsafe(no_mangle)]\n\
             pub extern \"C\" fn {name}{kind}_start(state: &mut State<{conversion}>) -> u16 {{\n    match \
             Channel::new(&{upper}_SETUP) {{ Ok(channel) => {{ state.write(channel); size_of::<State<{conversion}>>() as u16 }} \
             Err(_) => 0 }}\n}}\n#[unsafe(no_mangle)]\npub extern \"C\" fn {name}{kind}_reading(first: u16, channel: &mut \
             Channel<'static, {conversion}, 16>, samples: *const Sample) -> u64 {{ whole_reading(first, channel, samples) }}\n",
        );
    }
}

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

/// The channel that [`setup`] describes: the file's limits, looking for nothing that needs a number.
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
