//! The `[thermistor]` table.

use std::path::{Path, PathBuf};

use tallyvolt::bounds::{COUNT_MAX, RESISTANCE, RIGHT_SHIFT, SAMPLES};
use tallyvolt_model::front_end::{SensorAccuracy, SensorLaw, SensorSide, Thermistor};

use super::reader::{TableReader, within};
use super::{bench_tables, resistance_table};

/// Answers are rounded to 0.1 degC, which alone is an error of up to 50; less than 60 leaves nothing for the table.
const MAX_ERROR_MC: std::ops::RangeInclusive<i64> = 60..=10_000;

/// The keys of which one names the law.
const LAWS: [&str; 4] = ["b25_85_k", "steinhart_hart_a", "table_csv", "platinum_ohms"];

/// Reads the table; a maker's table is read from beside the front-end file.
pub(super) fn read(mut table: TableReader<'_>, path: &Path) -> Option<Thermistor> {
    let side = table.choice(
        "side",
        &[("low", SensorSide::Low), ("high", SensorSide::High)],
    );
    let fixed = table.decimal("fixed_ohms", within(RESISTANCE), " ohm");
    let excitation = table.has("excitation_mv");
    let excitation_uv = table.optional_whole("excitation_mv", 100..=10_000, 1000, " mV");
    let samples = table.whole_or("samples", within(SAMPLES), "", 1);
    let right_shift = table.whole_or("right_shift", within(RIGHT_SHIFT), "", 0);
    let min = table.decimal("min_c", -250..=1000, " degC");
    let max = table.decimal("max_c", -250..=1000, " degC");
    let max_error = table.whole("max_error_mc", MAX_ERROR_MC, 1, " m degC");
    let self_heating = bench_tables::self_heating(&mut table);
    let accuracy = accuracy(&mut table);
    let law = law(&mut table, path);
    let rises = table.rises(&min, &max);
    table.finish();
    rises.then_some(())?;
    (!excitation || excitation_uv.is_some()).then_some(())?;
    Some(Thermistor {
        side: side?.value,
        fixed_ohms: fixed?.value,
        excitation_uv,
        samples: samples?,
        right_shift: right_shift?,
        min_c: min?.value,
        max_c: max?.value,
        max_error_mc: max_error?.value,
        self_heating: self_heating?,
        accuracy,
        law: law?,
    })
}

fn accuracy(table: &mut TableReader<'_>) -> SensorAccuracy {
    let mut ppm = |key| table.optional_decimal(key, 0..=500_000, " ppm");
    let (r25_ppm, b_ppm) = (ppm("r25_tolerance_ppm"), ppm("b_tolerance_ppm"));
    let (fixed_ppm, excitation_ppm) = (ppm("fixed_tolerance_ppm"), ppm("excitation_tolerance_ppm"));
    let mut millikelvins = |key| table.optional_decimal(key, 0..=100_000, " mK");
    SensorAccuracy {
        r25_ppm,
        b_ppm,
        tolerance_mk: millikelvins("tolerance_mk"),
        tolerance_mk_per_k: millikelvins("tolerance_mk_per_k"),
        thermometer_mk: millikelvins("thermometer_mk"),
        fixed_ppm,
        fixed_ppm_per_k: table.optional_decimal("fixed_tempco_ppm_per_k", 0..=10_000, " ppm/K"),
        excitation_ppm,
        calibrated_at_c: table.optional_decimal("calibrated_at_c", -60..=200, " degC"),
        calibrated_count: table.optional_decimal(
            "calibrated_count",
            0..=i64::from(COUNT_MAX),
            " counts",
        ),
    }
}

/// A file named in a front-end file: relative to it.
pub(super) fn beside(path: &Path, file: &str) -> PathBuf {
    path.parent().unwrap_or(Path::new("")).join(file)
}

fn law(table: &mut TableReader<'_>, path: &Path) -> Option<SensorLaw> {
    let named: Vec<&str> = LAWS.into_iter().filter(|key| table.has(key)).collect();
    let [law] = named[..] else {
        table.report(
            "",
            table.span(),
            format!("needs one sensor law, {} are given", named.len()),
            format!("give one of {}", LAWS.join(", ")),
        );
        // The keys are known all the same: one complaint is enough.
        for key in ["r25_ohms", "steinhart_hart_b", "steinhart_hart_c"]
            .into_iter()
            .chain(LAWS)
        {
            table.expect(key);
        }
        return None;
    };
    match law {
        "b25_85_k" => {
            let r25 = table.decimal("r25_ohms", 1..=10_000_000, " ohm");
            let b = table.decimal("b25_85_k", 500..=10_000, " K");
            Some(SensorLaw::BEquation {
                r25_ohms: r25?.value,
                b25_85_k: b?.value,
            })
        }
        "steinhart_hart_a" => {
            let mut coefficient = |key| table.decimal(key, -1..=1, "");
            let (a, b, c) = (
                coefficient("steinhart_hart_a"),
                coefficient("steinhart_hart_b"),
                coefficient("steinhart_hart_c"),
            );
            Some(SensorLaw::SteinhartHart {
                a: a?.value,
                b: b?.value,
                c: c?.value,
            })
        }
        "table_csv" => {
            let file = table.text("table_csv")?;
            match resistance_table::read(&beside(path, &file.value)) {
                Ok(points) => Some(SensorLaw::Table {
                    file: file.value,
                    points,
                }),
                Err(rule) => {
                    table.report(
                        "table_csv",
                        file.span,
                        rule,
                        "give a CSV file beside this one: a header, then temperature in degC and resistance in ohms".to_owned(),
                    );
                    None
                }
            }
        }
        _ => {
            let r0 = table.decimal("platinum_ohms", 10..=10_000, " ohm");
            Some(SensorLaw::Platinum { r0_ohms: r0?.value })
        }
    }
}
