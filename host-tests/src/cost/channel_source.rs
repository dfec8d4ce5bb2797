//! Front ends to the Rust source of their thermistors, limits and channels, for images and firmware.

use std::fmt::Write as _;
use std::path::Path;

use super::CostError;
use super::images::{AWKWARD, identifier};
use crate::front_end::{FrontEnd, Limits, Topology};
use crate::thermistor_table::BuiltTable;

/// Samples of a whole reading, as the images take them.
pub(super) const WINDOW: u32 = 16;

/// The table of a front end's thermistor, where it has one.
pub(super) fn table(front_end: &FrontEnd) -> Result<Option<BuiltTable>, CostError> {
    let build = |thermistor| {
        BuiltTable::build(front_end, thermistor)
            .map_err(|error| CostError::file(Path::new(&front_end.name), error))
    };
    front_end.thermistor.as_ref().map(build).transpose()
}

/// Whether the images have a whole channel for it: a window of sixteen samples of 12 bits, and a sensor's count of 14 bits.
pub(super) fn has_channel(front_end: &FrontEnd) -> bool {
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
pub(super) fn supply_minimum(front_end: &FrontEnd) -> Option<u32> {
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
