//! Front ends to the Rust source of images and firmware: constants, set-ups, and the functions that are measured.

use tallyvolt_cost::error::CostError;
use tallyvolt_model::front_end::Topology;

use super::jobs::count_type;
use super::subject::{Subject, emitted};
use crate::describe::firmware::Constants;
use crate::describe::limit_name::LimitName;
use crate::emit::Lang;

/// The functions of a front end, written for the name `front_end`.
const VOLTAGE: &str = include_str!("rust/voltage.rs");
const KERNEL: &str = include_str!("rust/kernel.rs");
const TEMPERATURE: &str = include_str!("rust/temperature.rs");
const DRAWN: &str = include_str!("rust/drawn.rs");
const KERNEL_TEMPERATURE: &str = include_str!("rust/kernel_temperature.rs");
const CHANNEL: &str = include_str!("rust/channel.rs");
const SETUP: &str = include_str!("rust/setup.rs");
const OVER: &str = "
    #[unsafe(no_mangle)]
    static FRONT_END_OVER: Limit = match SETUP.limits.over_voltage {
        Some(limit) => limit,
        None => panic!(),
    };
";

/// A module for each front end, with the functions of the images; those of kernels where the core has some.
///
/// # Errors
/// [`CostError::File`] for a front end that does not pass its check.
pub fn images(subjects: &[Subject], kernels: bool) -> Result<String, CostError> {
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
            constants(subject)?
        ));
    }
    Ok(source)
}

/// A module for each front end, with its constants and its record.
///
/// # Errors
/// As [`images`].
pub fn firmware(subjects: &[Subject]) -> Result<String, CostError> {
    let mut source = String::new();
    for subject in subjects {
        source += &subject.names.put_into(&format!(
            "pub mod front_end {{\n    use tallyvolt::*;\n\n    pub type Module = {};\n    \
             pub const RECORD: [u8; RECORD_BYTES] = {:?};\n{}}}\n\n",
            conversion(subject),
            subject.record,
            constants(subject)?
        ));
    }
    Ok(source)
}

fn conversion(subject: &Subject) -> String {
    match subject.front_end.topology {
        Topology::DividedInput(_) => {
            format!("DividedConversion<{}>", subject.firmware.count_bits())
        }
        Topology::SupplyReference => "SupplyConversion".to_owned(),
    }
}

/// What `emit` writes of the front end, and the set-up of a channel for any conversion of it: the file's limits, looking for nothing
/// that needs a number.
fn constants(subject: &Subject) -> Result<String, CostError> {
    let emitted = emitted(&subject.front_end, Lang::Rust)?;
    let tried = |what: String| {
        format!("match {what} {{ Ok(found) => Some(found), Err(error) => return Err(error) }}")
    };
    let limits: String = LimitName::ALL
        .into_iter()
        .zip(&subject.limits)
        .filter(|(_, limit)| limit.is_some())
        .map(|(name, _)| {
            let field = name.identifier();
            let value = if name.is_of_voltage() {
                tried(format!("{field}(&conversion)"))
            } else {
                format!("Some({})", field.to_uppercase())
            };
            format!("{field}: {value}, ")
        })
        .collect();
    let minimum = subject.supply_minimum_uv().map_or_else(
        || "None".to_owned(),
        |uv| {
            tried(format!(
                "conversion.count_limit(LimitSide::Under, Microvolts({uv}))"
            ))
        },
    );
    let thermistor = if subject.table.is_some() {
        "Some(THERMISTOR)"
    } else {
        "None"
    };
    let setup = SETUP
        .replace("/* LIMITS */", &limits)
        .replace("/* MINIMUM */", &minimum)
        .replace("/* THERMISTOR */", thermistor)
        .replace("ConversionType", &conversion(subject));
    Ok(emitted + &setup)
}
