//! Front ends to the Rust source of images and firmware: constants, set-ups, and the functions that are measured.

use tallyvolt::SensorSide;
use tallyvolt_model::front_end::{Limits, Topology};

use super::subject::Subject;
use crate::describe::firmware::{Constants, acquisition, output_unit, whole_resistances};

/// The functions of a front end, written for the name `front_end`.
const VOLTAGE: &str = include_str!("rust/voltage.rs");
const KERNEL: &str = include_str!("rust/kernel.rs");
const TEMPERATURE: &str = include_str!("rust/temperature.rs");
const DRAWN: &str = include_str!("rust/drawn.rs");
const KERNEL_TEMPERATURE: &str = include_str!("rust/kernel_temperature.rs");
const CHANNEL: &str = include_str!("rust/channel.rs");
const OVER: &str = "
    #[unsafe(no_mangle)]
    static FRONT_END_OVER: Limit = match SETUP.limits.over_voltage {
        Some(limit) => limit,
        None => panic!(),
    };
";

/// A module for each front end, with the functions of the images; those of kernels where the core has some.
#[must_use]
pub fn images(subjects: &[Subject], kernels: bool) -> String {
    let mut source = String::new();
    for subject in subjects {
        let mut functions = VOLTAGE.to_owned();
        if kernels {
            functions += KERNEL;
            if subject.has_drawn_type() {
                functions += DRAWN;
            }
        }
        if subject.table.is_some() {
            functions += TEMPERATURE;
            if kernels {
                functions += KERNEL_TEMPERATURE;
            }
        }
        let limits = subject.front_end.limits.as_ref();
        if limits.is_some_and(|limits| limits.over_uv.is_some()) {
            functions += OVER;
        }
        if subject.has_channel() {
            let module = conversion(subject);
            functions += &CHANNEL.replace("ModuleType", &module);
            if kernels {
                let setup = format!(
                    "\n    static FRONT_END_KERNEL_SETUP: ChannelSetup<'static, arch::ByKernel<{module}>> = ChannelSetup {{\n        \
                     conversion: arch::ByKernel(SETUP.conversion), limits: SETUP.limits, thermistor: SETUP.thermistor,\n        \
                     plausibility: SETUP.plausibility, calibrated: SETUP.calibrated,\n    }};\n"
                );
                functions += &setup;
                functions += &CHANNEL
                    .replace("ModuleType", &format!("arch::ByKernel<{module}>"))
                    .replace("FRONT_END", "FRONT_END_KERNEL")
                    .replace("&SETUP", "&FRONT_END_KERNEL_SETUP")
                    .replace("front_end", "front_end_kernel");
            }
        }
        let module = match subject.module.constants() {
            Constants::Line(line) => format!("{line:?}"),
            Constants::Quotient(quotient) => format!("{quotient:?}"),
        };
        let functions = functions
            .replace("ModuleConstants", &module)
            .replace("COUNT_BITS", &subject.firmware.count_bits().to_string())
            .replace("ConversionType", &conversion(subject))
            .replace("CountType", count_type(subject.rail))
            .replace("SensorType", count_type(subject.sensor_rail));
        source += &subject.names.put_into(&format!(
            "pub mod front_end {{\n    use super::prelude::*;\n\n{}{functions}}}\n\n",
            constants(subject)
        ));
    }
    source
}

/// A module for each front end, with its constants and its record.
#[must_use]
pub fn firmware(subjects: &[Subject]) -> String {
    subjects.iter().fold(String::new(), |source, subject| {
        source
            + &subject.names.put_into(&format!(
                "pub mod front_end {{\n    use tallyvolt::*;\n\n    pub type Module = {};\n    \
                 pub const RECORD: [u8; RECORD_BYTES] = {:?};\n{}}}\n\n",
                conversion(subject),
                subject.record,
                constants(subject)
            ))
    })
}

fn conversion(subject: &Subject) -> String {
    match subject.front_end.topology {
        Topology::DividedInput(_) => {
            format!("DividedConversion<{}>", subject.firmware.count_bits())
        }
        Topology::SupplyReference => "SupplyConversion".to_owned(),
    }
}

/// As a converter's register holds a count, where it fits.
fn count_type(rail: u32) -> &'static str {
    if rail <= 0xFFFF { "u16" } else { "u32" }
}

/// `INPUT`, `AS_DRAWN`, `THERMISTOR` where there is one, and `setup`.
fn constants(subject: &Subject) -> String {
    let front_end = &subject.front_end;
    let (input, description, divider) = match &front_end.topology {
        Topology::DividedInput(divider) => {
            // `describe` made the same whole numbers, so they exist.
            let (top, bottom) = whole_resistances(divider).unwrap_or_default();
            let ohms = format!("top_ohms: {top}, bottom_ohms: {bottom},");
            ("DividedInput", "DividedDescription", ohms)
        }
        Topology::SupplyReference => ("SupplyReference", "SupplyDescription", String::new()),
    };
    let acquisition = format!("{:?}", acquisition(&front_end.converter))
        .replace("full_scale: ", "full_scale: FullScale::")
        .replace("code_centre: ", "code_centre: CodeCentre::")
        .replace("shift_rounding: ", "shift_rounding: ShiftRounding::");
    format!(
        "    pub const INPUT: {input} = proven!({input}::new({description} {{\n        acquisition: {acquisition},\n        \
         reference_uv: {reference}, {divider}\n        cell: CellRange {{ min_uv: {min}, max_uv: {max} }}, \
         unit: OutputUnit::{unit:?},\n    }}));\n    \
         pub const AS_DRAWN: {conversion} = proven!(INPUT.conversion());\n\
         {thermistor}{setup}",
        reference = front_end.reference.microvolts,
        min = front_end.cell.min_uv,
        max = front_end.cell.max_uv,
        unit = output_unit(front_end),
        conversion = conversion(subject),
        thermistor = thermistor(subject),
        setup = setup(subject),
    )
}

fn thermistor(subject: &Subject) -> String {
    let Some(table) = &subject.table else {
        return String::new();
    };
    let side = match table.side {
        SensorSide::High => "High",
        SensorSide::Low => "Low",
    };
    format!(
        "    static ENTRIES: [i16; {}] = {:?};\n    \
         pub const THERMISTOR: Thermistor<'static> = proven!(Thermistor::new(ThermistorDescription {{\n        \
         side: SensorSide::{side}, table: proven!(Table::new(&ENTRIES, {}, {})),\n        \
         first: Count({}), counts: {}, low_wire: Count({}), high_wire: Count({}),\n    }}));\n",
        table.entries.len(),
        table.entries,
        table.step_log2,
        table.fraction_bits,
        table.first,
        table.counts,
        table.low_wire,
        table.high_wire,
    )
}

/// The set-up of a channel for any conversion of the front end: the file's limits, looking for nothing that needs a number.
fn setup(subject: &Subject) -> String {
    let tried = |what: String| {
        format!("match {what} {{ Ok(found) => Some(found), Err(error) => return Err(error) }}")
    };
    let none = || "None".to_owned();
    let limits = subject.front_end.limits.as_ref();
    let volts = |side: &str, of: fn(&Limits) -> Option<u32>| {
        limits
            .and_then(|rule| {
                let (uv, hysteresis) = (of(rule)?, rule.hysteresis_uv);
                Some(tried(format!(
                    "conversion.limit(LimitSide::{side}, Microvolts({uv}), Microvolts({hysteresis}), RULE)"
                )))
            })
            .unwrap_or_else(none)
    };
    let degrees = |side: &str, of: fn(&Limits) -> Option<i32>| {
        limits
            .and_then(|rule| {
                let (tenths, hysteresis) = (of(rule)?, rule.hysteresis_tenths);
                Some(tried(format!(
                    "THERMISTOR.limit(LimitSide::{side}, Temperature({tenths}), {hysteresis}, RULE)"
                )))
            })
            .unwrap_or_else(none)
    };
    let minimum = subject.supply_minimum_uv().map_or_else(none, |uv| {
        tried(format!(
            "conversion.count_limit(LimitSide::Under, Microvolts({uv}))"
        ))
    });
    let thermistor = if subject.table.is_some() {
        "Some(THERMISTOR)"
    } else {
        "None"
    };
    let (readings, latching) =
        limits.map_or((1, false), |rule| (rule.debounce_readings, rule.latching));
    format!(
        "    #[allow(dead_code)]\n    const RULE: AlarmRule = AlarmRule {{ readings: {readings}, latching: {latching} }};\n\n    \
         pub const fn setup(conversion: {conversion}, calibrated: bool) -> Result<ChannelSetup<'static, {conversion}>, ConfigError> {{\n        \
         Ok(ChannelSetup {{\n            limits: ChannelLimits {{\n                over_voltage: {},\n                under_voltage: {},\n                \
         over_temperature: {},\n                under_temperature: {},\n            }},\n            \
         plausibility: Plausibility {{ supply_minimum: {minimum}, ..Plausibility::NONE }},\n            \
         thermistor: {thermistor}, conversion, calibrated,\n        }})\n    }}\n\n",
        volts("Over", |rule| rule.over_uv),
        volts("Under", |rule| rule.under_uv),
        degrees("Over", |rule| rule.over_tenths),
        degrees("Under", |rule| rule.under_tenths),
        conversion = conversion(subject),
    )
}
