//! The Rust module's temperature sensor and limits: items that the compiler checks again, and their tests.

use tallyvolt::{Temperature, TemperatureFault};
use tallyvolt_model::front_end::Limits;

use super::description::Description;
use super::rust_layout::filled;
use super::sensing::{Sensing, Sensor, SetLimit};
use crate::words::drawing;
use crate::words::numbers::told;
use tallyvolt_analysis::describe::limit_name::LimitName;

/// rustfmt's longest array on one line.
const ARRAY_WIDTH: usize = 60;

/// What the items take from the crate.
pub(super) fn names(sensing: &Sensing<'_>) -> Vec<&'static str> {
    let mut names = Vec::new();
    if sensing.sensor.is_some() {
        names.extend([
            "Count",
            "DrawnSensor",
            "SensorSide",
            "Table",
            "Thermistor",
            "ThermistorDescription",
        ]);
    }
    if !sensing.limits.is_empty() {
        names.extend(["AlarmRule", "ChannelLimits", "Limit", "LimitSide"]);
    }
    if sensing.on_voltage().next().is_some() {
        names.extend(["ConfigError", "Microvolts", "VoltageLimits"]);
    }
    if sensing.on_temperature().next().is_some() {
        names.push("Temperature");
    }
    names
}

/// What the tests take from it.
pub(super) fn test_names(sensing: &Sensing<'_>) -> Vec<&'static str> {
    let mut names = Vec::new();
    if sensing.sensor.is_some() {
        names.extend(["Temperature", "TemperatureFault"]);
    }
    if !sensing.limits.is_empty() {
        names.push("CountLimit");
    }
    names
}

pub(super) fn items(description: &Description<'_>) -> String {
    let sensing = &description.sensing;
    let mut text = sensing.sensor.as_ref().map(sensor).unwrap_or_default();
    if let (Some(limits), false) = (&description.front_end.limits, sensing.limits.is_empty()) {
        text += &rules(limits, sensing);
        for set in &sensing.limits {
            text += &limit(set, description.front_end.unit_uv);
        }
        text += &all_limits(sensing);
    }
    text
}

fn sensor(sensor: &Sensor<'_>) -> String {
    let built = &sensor.built;
    let entries: Vec<String> = built.table.entries.iter().map(i16::to_string).collect();
    let line = entries.join(", ");
    let entries_text = if line.len() + 2 <= ARRAY_WIDTH {
        format!("[{line}]")
    } else {
        format!("[\n{}]", filled(&entries))
    };
    format!(
        "
/// Temperatures every {step} counts of the sensor from {first} on, in steps of {entry_step}.
const TEMPERATURES: [i16; {entries}] = {entries_text};

/// The sensor's count to temperature in steps of 0.1 degC.
///
/// {circuit}.
///
/// # Range
/// Every count is accepted; {range}, any other is a named fault.
///
/// # Rounding
/// To the nearest 0.1 degC, ties upward, of the table's exact interpolation;
/// {accuracy}.
pub const THERMISTOR: Thermistor<'static> = proven!(Thermistor::new(ThermistorDescription {{
    side: SensorSide::{side:?},
    table: proven!(Table::new(&TEMPERATURES, {step_log2}, {fraction_bits})),
    first: Count({first}),
    counts: {counts},
    low_wire: Count({low_wire}),
    high_wire: Count({high_wire}),
}}));

/// The sensor as a type, for a `tallyvolt::SensorAsDrawn`: on an AVR, with the feature `arch`, its table stays in flash.
#[allow(dead_code, reason = \"for the smallest chips\")]
pub struct Sensor;

impl DrawnSensor for Sensor {{
    const THERMISTOR: Thermistor<'static> = THERMISTOR;
}}
",
        step = built.table.step,
        first = built.table.first,
        entry_step = sensor.entry_step(),
        entries = built.table.entries.len(),
        circuit = drawing::sensor(sensor.drawn),
        range = sensor.range(),
        accuracy = sensor.accuracy(),
        side = sensor.drawn.side,
        step_log2 = built.step_log2(),
        fraction_bits = built.fraction_bits(),
        counts = built.table.counts,
        low_wire = built.table.low_wire,
        high_wire = built.table.high_wire,
    )
}

fn rules(limits: &Limits, sensing: &Sensing<'_>) -> String {
    let mut text = format!(
        "
/// Readings in a row that must agree, and whether an alarm stays until it is acknowledged.
const RULE: AlarmRule = AlarmRule {{
    readings: {readings},
    latching: {latching},
}};
",
        readings = limits.debounce_readings,
        latching = limits.latching,
    );
    if sensing.on_voltage().next().is_some() {
        text += &format!(
            "
/// A voltage has come back when it is so far inside its limit.
const VOLTAGE_HYSTERESIS: Microvolts = Microvolts({});
",
            limits.hysteresis_uv
        );
    }
    if sensing.on_temperature().next().is_some() {
        text += &format!(
            "
/// The same of a temperature, in steps of 0.1 K.
const TEMPERATURE_HYSTERESIS: u16 = {};
",
            limits.hysteresis_tenths
        );
    }
    text
}

fn limit(set: &SetLimit, unit_uv: u32) -> String {
    let (name, upper) = set.identifiers();
    let (words, counts) = (&set.words, set.counts());
    let (side, steps) = (set.side, set.steps);
    if set.name.is_of_voltage() {
        format!(
            "
/// A cell {words}, as drawn: {counts}.
pub const {upper}: Limit = proven!(AS_DRAWN.limit(
    LimitSide::{side:?},
    Microvolts({limit}),
    VOLTAGE_HYSTERESIS,
    RULE,
));

/// The same limit for one module, by its own conversion: new constants need new count limits.
///
/// # Errors
/// The limit, or where it comes back, cannot be read with these constants.
#[allow(dead_code, reason = \"for modules that are calibrated\")]
pub fn {name}<M: VoltageLimits>(module: &M) -> Result<Limit, ConfigError> {{
    module.limit(
        LimitSide::{side:?},
        Microvolts({limit}),
        VOLTAGE_HYSTERESIS,
        RULE,
    )
}}
",
            limit = i64::from(set.steps) * i64::from(unit_uv),
        )
    } else {
        format!(
            "
/// A sensor {words}: {counts}.
pub const {upper}: Limit = proven!(THERMISTOR.limit(
    LimitSide::{side:?},
    Temperature({steps}),
    TEMPERATURE_HYSTERESIS,
    RULE,
));
"
        )
    }
}

fn all_limits(sensing: &Sensing<'_>) -> String {
    let field = |name: LimitName| {
        let set = sensing.limits.iter().find(|set| set.name == name);
        let value = told(set, "None", |set| format!("Some({})", set.identifiers().1));
        format!("    {}: {value},\n", name.identifier())
    };
    let fields = LimitName::ALL.map(field).concat();
    let mut text = format!(
        "
/// Every limit as drawn, for a channel.
#[allow(dead_code, reason = \"for a channel\")]
pub const LIMITS: ChannelLimits = ChannelLimits {{
{fields}}};
"
    );
    let calibrated: String = sensing
        .on_voltage()
        .map(|set| format!("        {0}: Some({0}(module)?),\n", set.name.identifier()))
        .collect();
    if !calibrated.is_empty() {
        text += &format!(
            "
/// Every limit of one module, for a channel.
///
/// # Errors
/// A limit, or where it comes back, cannot be read with these constants.
#[allow(dead_code, reason = \"for modules that are calibrated\")]
pub fn limits<M: VoltageLimits>(module: &M) -> Result<ChannelLimits, ConfigError> {{
    Ok(ChannelLimits {{
{calibrated}        ..LIMITS
    }})
}}
"
        );
    }
    text
}

/// The tests of the items.
pub(super) fn tests(sensing: &Sensing<'_>) -> String {
    let mut text = String::new();
    if let Some(sensor) = &sensing.sensor {
        let row = |(count, answer): &(u32, Result<Temperature, TemperatureFault>)| match answer {
            Ok(temperature) => format!("            ({count}, Ok({temperature:?})),\n"),
            Err(fault) => format!("            ({count}, Err(TemperatureFault::{fault:?})),\n"),
        };
        let rows: String = sensor.spots.iter().map(row).collect();
        text += &format!(
            "
    /// The ends of every rule, and counts that notice one step of any entry of the table.
    #[test]
    fn temperatures_are_the_table_rounded() {{
        for (count, answer) in [
{rows}        ] {{
            assert_eq!(
                THERMISTOR.temperature(Count(count)),
                answer,
                \"count {{count}}\"
            );
        }}
    }}
"
        );
    }
    if !sensing.limits.is_empty() {
        let mut rows = String::new();
        for set in &sensing.limits {
            let (_, name) = set.identifiers();
            for (end, limit) in [("trip", set.limit.trip()), ("hold", set.limit.hold())] {
                rows += &format!("        assert_eq!({name}.{end}(), CountLimit::{limit:?});\n");
            }
        }
        // The value stands in the constant and in the function.
        for set in sensing.on_voltage() {
            let (name, upper) = set.identifiers();
            rows += &format!("        assert_eq!({name}(&AS_DRAWN), Ok({upper}));\n");
        }
        text += &format!(
            "
    #[test]
    fn limits_are_where_the_values_pass_them() {{
{rows}    }}
"
        );
    }
    text
}
