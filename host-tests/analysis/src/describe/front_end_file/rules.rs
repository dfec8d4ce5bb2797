//! Rules between values: the crate's own constructors decide, this file says where in the text the values stand.

use tallyvolt::{ConfigError, Field};
use tallyvolt_model::front_end::FrontEnd;

use super::reader::TableReader;
use crate::describe::firmware::{DescribeError, Firmware};
use crate::describe::limits;
use crate::describe::thermistor_table::BuiltTable;
use crate::describe::thermistor_table::error::BuildError;

/// Builds the firmware's front end; a refusal is reported at the key to change, with the other values that took part.
pub(super) fn check(root: &mut TableReader<'_>, front_end: &FrontEnd) {
    let error = match Firmware::describe(front_end) {
        Ok(firmware) => return check_sensor_and_limits(root, front_end, &firmware),
        Err(error) => error,
    };
    let (main, others) = places(&error);
    root.report_at(
        main,
        others,
        error.to_string(),
        match &error {
            DescribeError::Config(error) => error.fix().to_owned(),
            DescribeError::Digits { .. } => {
                "give both resistances with fewer digits: their ratio must be one of whole numbers up to 10 000 000"
                    .to_owned()
            }
        },
    );
}

/// The same for the thermistor's table and for every limit.
fn check_sensor_and_limits(root: &mut TableReader<'_>, front_end: &FrontEnd, firmware: &Firmware) {
    let built = front_end
        .thermistor
        .as_ref()
        .map(|drawn| BuiltTable::build(front_end, drawn));
    if let Some(Err(error)) = &built {
        let (main, others): (Place, &[Place]) = match error {
            BuildError::ForeignExcitation => (("thermistor", "excitation_mv"), &[]),
            BuildError::ManyCounts { .. } => (("thermistor", "samples"), &[]),
            BuildError::Coarse { .. } => (("thermistor", "max_error_mc"), &[]),
            BuildError::NoOffset { .. } | BuildError::FarOffset { .. } => (
                ("thermistor", "calibrated_count"),
                &[("thermistor", "calibrated_at_c")],
            ),
            BuildError::NotReached { .. } | BuildError::FewCounts { .. } | BuildError::NoRoom => (
                ("thermistor", "max_c"),
                &[("thermistor", "min_c"), ("thermistor", "fixed_ohms")],
            ),
        };
        root.report_at(main, others, error.to_string(), error.fix().to_owned());
    }
    let accuracy = front_end.thermistor.as_ref().map(|drawn| &drawn.accuracy);
    if accuracy.is_some_and(|of| of.calibrated_count.is_some() && of.calibrated_at_c.is_none()) {
        root.report_at(
            ("thermistor", "calibrated_count"),
            &[],
            "needs the temperature at which it was read".to_owned(),
            "give calibrated_at_c, or remove the count".to_owned(),
        );
    }
    let conversion = match firmware.conversion() {
        Ok(conversion) => conversion,
        Err(error) => {
            let others = [("reference", "microvolts"), ("converter", "bits")];
            let found = match error {
                ConfigError::Constants => {
                    "no count between zero and the rail is a voltage that the output can carry"
                        .to_owned()
                }
                other => other.to_string(),
            };
            let fix = "take a coarser output unit, a smaller full scale, or more bits".to_owned();
            root.report_at(("output", "unit_uv"), &others, found, fix);
            return;
        }
    };
    let Some(limits) = &front_end.limits else {
        return;
    };
    if front_end.thermistor.is_none() {
        for (key, limit) in [
            ("over_temperature_c", limits.over_tenths),
            ("under_temperature_c", limits.under_tenths),
        ] {
            if limit.is_some() {
                root.report_at(
                    ("limits", key),
                    &[],
                    "needs a [thermistor]".to_owned(),
                    "describe the sensor, or remove the limit".to_owned(),
                );
            }
        }
    }
    let mut crossed = false;
    for (over, under, keys) in [
        (
            limits.over_uv.map(i64::from),
            limits.under_uv.map(i64::from),
            ("over_voltage_mv", "under_voltage_mv"),
        ),
        (
            limits.over_tenths.map(i64::from),
            limits.under_tenths.map(i64::from),
            ("over_temperature_c", "under_temperature_c"),
        ),
    ] {
        if let (Some(over), Some(under)) = (over, under)
            && under >= over
        {
            crossed = true;
            root.report_at(
                ("limits", keys.1),
                &[("limits", keys.0)],
                format!("must be below {}", keys.0),
                "swap or correct the two limits".to_owned(),
            );
        }
    }
    let sensor = built
        .as_ref()
        .and_then(|built| built.as_ref().ok()?.firmware().ok());
    let no_zone = limits::no_zone(front_end, &limits::voltages_as_written(front_end));
    if let (Some(rule), false) = (&no_zone, crossed) {
        let key = match limits.over_uv {
            Some(_) => "over_voltage_mv",
            None => "under_voltage_mv",
        };
        let fix = "leave readings between the two that are no alarm: raise the upper limit, or lower the lower one";
        let others = [
            ("limits", "under_voltage_mv"),
            ("cell", "min_mv"),
            ("cell", "max_mv"),
        ];
        let others: Vec<_> = others.into_iter().filter(|other| other.1 != key).collect();
        root.report_at(("limits", key), &others, rule.clone(), fix.to_owned());
    }
    for described in limits::as_written(front_end, &conversion, sensor.as_ref()) {
        if no_zone.is_some() && described.name.is_of_voltage() {
            continue;
        }
        if let Err(error) = described.limit {
            root.report_at(
                ("limits", described.name.key()),
                &[("limits", described.name.hysteresis_key())],
                match error {
                    ConfigError::LimitNotReadable { limit } if limit == described.steps => {
                        "no value that can be read lies on each side of it".to_owned()
                    }
                    ConfigError::LimitNotReadable { .. }
                    | ConfigError::HysteresisTooLong { .. } => {
                        "with its hysteresis it comes back where no value can be read".to_owned()
                    }
                    other => other.to_string(),
                },
                error.fix().to_owned(),
            );
        }
    }
}

type Place = (&'static str, &'static str);

fn places(error: &DescribeError) -> (Place, &'static [Place]) {
    const MAX: Place = ("cell", "max_mv");
    const MIN: Place = ("cell", "min_mv");
    const REFERENCE: Place = ("reference", "microvolts");
    const TOP: Place = ("divider", "top_ohms");
    const BOTTOM: Place = ("divider", "bottom_ohms");
    const SAMPLES: Place = ("converter", "samples");
    const SHIFT: Place = ("converter", "right_shift");
    match error {
        DescribeError::Digits { .. } => (TOP, &[BOTTOM]),
        DescribeError::Config(error) => match error {
            ConfigError::SamplesNotPowerOfTwo { .. } => (SAMPLES, &[]),
            ConfigError::ShiftTooLarge { .. } => (SHIFT, &[("converter", "bits")]),
            ConfigError::CellRangeEmpty { .. } => (MIN, &[MAX]),
            ConfigError::CellAboveOutput { .. } => (MAX, &[("output", "unit_uv")]),
            ConfigError::DividerAboveReference { .. } => (TOP, &[BOTTOM, MAX, REFERENCE]),
            ConfigError::ReferenceNotBelowCell { .. } => (REFERENCE, &[MIN]),
            ConfigError::OutOfBounds { field, .. } => match field {
                Field::Bits => (("converter", "bits"), &[]),
                Field::Samples => (SAMPLES, &[]),
                Field::RightShift => (SHIFT, &[]),
                Field::ReferenceUv => (REFERENCE, &[]),
                Field::CellUv => (MIN, &[MAX]),
                _ => (TOP, &[BOTTOM]),
            },
            _ => (("converter", "bits"), &[]),
        },
    }
}
