//! Front ends to the Rust source of images and firmware: constants, set-ups, and the functions that are measured.

use tallyvolt_cost::error::CostError;
use tallyvolt_model::calibration::CalibrationModel;

use super::jobs::count_type;
use super::subject::{Subject, emitted};
use crate::emit::Lang;
use crate::emit::rust_layout::Types;
use tallyvolt_analysis::describe::firmware::Constants;
use tallyvolt_analysis::describe::limit_name::LimitName;

/// The functions of a front end, written for the name `front_end`.
const VOLTAGE: &str = include_str!("rust/voltage.rs");
const CALIBRATED: &str = include_str!("rust/calibrated.rs");
const CALIBRATED_SHORT: &str = include_str!("rust/calibrated_short.rs");
const TABLED: &str = include_str!("rust/tabled.rs");
const TEMPERATURE: &str = include_str!("rust/temperature.rs");
const DRAWN: &str = include_str!("rust/drawn.rs");
const CHANNEL: &str = include_str!("rust/channel.rs");
const SETUP: &str = include_str!("rust/setup.rs");
const OVER: &str = "
    #[unsafe(no_mangle)]
    static FRONT_END_OVER: Limit = match SETUP.limits.over_voltage {
        Some(limit) => limit,
        None => panic!(),
    };
";

/// A module for each front end, with the functions of the images.
///
/// # Errors
/// [`CostError::File`] for a front end that does not pass its check.
pub fn images(subjects: &[Subject]) -> Result<String, CostError> {
    let mut source = String::new();
    for subject in subjects {
        let mut functions = VOLTAGE.to_owned();
        functions += if subject.loads_short() {
            CALIBRATED_SHORT
        } else {
            CALIBRATED
        };
        if subject.takes_table() {
            functions += TABLED;
        }
        if subject.has_drawn_type() {
            functions += DRAWN;
        }
        if subject.table.is_some() {
            functions += TEMPERATURE;
        }
        let limits = subject.front_end.limits.as_ref();
        if limits.is_some_and(|limits| limits.over_uv.is_some()) {
            functions += OVER;
        }
        if subject.has_channel() {
            functions += CHANNEL;
        }
        let constants_of = proven(subject);
        let own = if subject.loads_short() {
            format!("match {constants_of}.short() {{ Some(module) => module, None => panic!() }}")
        } else {
            constants_of
        };
        let functions = functions
            .replace("ModuleConstants", &own)
            .replace("COUNT_BITS", &subject.firmware.count_bits().to_string())
            .replace("ModuleType", &module(subject))
            .replace("CountType", count_type(subject.rail))
            .replace("SensorType", count_type(subject.sensor_rail));
        source += &subject.names.put_into(&format!(
            "pub mod front_end {{\n    use super::prelude::*;\n\n{}{functions}}}\n\n",
            constants(subject, &module(subject))?
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
            constants(subject, &conversion(subject))?
        ));
    }
    Ok(source)
}

/// What `emit` writes of a front end, and the drawing in the form that a small chip loads, for a firmware of one front end: where that
/// form does not give it at every count, as `fit` chooses it for a module that is as drawn.
///
/// # Errors
/// As [`images`].
pub fn small_firmware(subject: &Subject) -> Result<String, CostError> {
    let drawn = Subject::calibrated(
        &subject.front_end,
        &CalibrationModel::from_words(1 << 24, 0),
    )?;
    Ok(format!(
        "{}
/// The drawing in the short form.
pub const DRAWN: tallyvolt::{} = {};
",
        emitted(&subject.front_end, Lang::Rust)?,
        conversion(subject),
        proven(&drawn)
    ))
}

/// A module's conversion, of its constants.
fn proven(subject: &Subject) -> String {
    let constants = match subject.module.constants() {
        Constants::Line(line) => format!("{line:?}"),
        Constants::Quotient(quotient) => format!("{quotient:?}"),
    };
    format!("proven!(INPUT.module(tallyvolt::{constants}))")
}

/// What a chip loads: the short form where the module's constants are in it.
fn module(subject: &Subject) -> String {
    let types = Types::of(&subject.firmware);
    if subject.loads_short() {
        types.short
    } else {
        types.module
    }
}

fn conversion(subject: &Subject) -> String {
    Types::of(&subject.firmware).module
}

/// What `emit` writes of the front end, and the set-up of a channel for any conversion of it: the file's limits, looking for nothing
/// that needs a number.
fn constants(subject: &Subject, module: &str) -> Result<String, CostError> {
    let emitted = emitted(&subject.front_end, Lang::Rust)?;
    let tried = |what: String| {
        format!("match {what} {{ Ok(found) => Some(found), Err(error) => return Err(error) }}")
    };
    let limits: String = LimitName::ALL
        .into_iter()
        .zip(&subject.limits)
        .filter_map(|(name, limit)| Some((name, (*limit)?)))
        .map(|(name, limit)| {
            let field = name.identifier();
            let value = if name.is_of_voltage() {
                let unit_uv = i64::from(subject.front_end.unit_uv);
                tried(format!(
                    "conversion.limit(LimitSide::{}, Microvolts({}), Microvolts({}), AlarmRule {{ readings: {}, latching: {} }})",
                    if limit.over { "Over" } else { "Under" },
                    limit.value * unit_uv,
                    limit.hysteresis * unit_uv,
                    limit.readings,
                    limit.latching
                ))
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
    let (sensor, thermistor) = if subject.table.is_some() {
        (
            "SensorAsDrawn<Sensor>",
            "{ #[cfg(feature = \"arch\")] { Some(SensorAsDrawn::NEW) } #[cfg(not(feature = \"arch\"))] { Some(THERMISTOR) } }",
        )
    } else {
        ("Thermistor<'static>", "None")
    };
    let setup = SETUP
        .replace("/* LIMITS */", &limits)
        .replace("/* MINIMUM */", &minimum)
        .replace("/* THERMISTOR */", thermistor)
        .replace("SensorFitted", sensor)
        .replace("ConversionType", module);
    Ok(emitted + &setup)
}
