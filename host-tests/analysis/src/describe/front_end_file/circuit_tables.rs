//! The tables of the circuit: cell, converter, reference, divider; output, environment and energy.

use num_rational::BigRational;
use num_traits::ToPrimitive;
use tallyvolt::bounds::{BITS, CELL_UV, REFERENCE_UV, RESISTANCE, RIGHT_SHIFT, SAMPLES};
use tallyvolt_model::front_end::{
    Accuracy, Asks, Cell, CodeCentre, Converter, ConverterTiming, Divider, Drift, Energy,
    Environment, FullScale, Reference, Sampling, ShiftRounding, Tolerance,
};

use super::reader::{TableReader, within};

pub(super) fn cell(mut table: TableReader<'_>) -> Option<(Cell, Asks)> {
    let millivolts = CELL_UV.min / 1000..=CELL_UV.max / 1000;
    let chemistry = table.text("chemistry");
    let min = table.whole("min_mv", millivolts.clone(), 1000, " mV");
    let nominal = table.whole("nominal_mv", millivolts.clone(), 1000, " mV");
    let max = table.whole("max_mv", millivolts, 1000, " mV");
    let asks = Asks {
        headroom_uv: table
            .optional_whole("headroom_mv", 0..=10_000, 1000, " mV")
            .unwrap_or(0),
        max_error_uv: table.optional_whole("max_error_mv", 0..=10_000, 1000, " mV"),
    };
    if let (Some(min), Some(nominal), Some(max)) = (&min, &nominal, &max)
        && !(min.value < nominal.value && nominal.value < max.value)
    {
        let (key, span, rule) = if min.value < max.value {
            (
                "nominal_mv",
                &nominal.span,
                "must lie between min_mv and max_mv",
            )
        } else {
            ("min_mv", &min.span, "must be below max_mv")
        };
        table.report(
            key,
            span.clone(),
            rule.to_owned(),
            "take the three voltages from the cell maker's data sheet".to_owned(),
        );
        table.finish();
        return None;
    }
    table.finish();
    let cell = Cell {
        chemistry: chemistry?.value,
        min_uv: min?.value,
        nominal_uv: nominal?.value,
        max_uv: max?.value,
    };
    Some((cell, asks))
}

pub(super) fn converter(mut table: TableReader<'_>) -> Option<Converter> {
    let bits = table.whole("bits", within(BITS), 1, "");
    let full_scale = table.choice_or(
        "full_scale",
        &[
            ("2^n", FullScale::PowerOfTwo),
            ("2^n-1", FullScale::TopCode),
        ],
    );
    let code_centre = table.choice_or(
        "code_centre",
        &[("half", CodeCentre::Half), ("edge", CodeCentre::Edge)],
    );
    let samples = table.whole_or("samples", within(SAMPLES), "", 1);
    let right_shift = table.whole_or("right_shift", within(RIGHT_SHIFT), "", 0);
    let shift_rounding = table.choice_or(
        "shift_rounding",
        &[
            ("truncate", ShiftRounding::Truncate),
            ("nearest", ShiftRounding::Nearest),
        ],
    );
    let supply_min_uv = table.optional_whole("supply_min_mv", 1..=10_000, 1000, " mV");
    let supply_max_uv = table.optional_whole("supply_max_mv", 1..=10_000, 1000, " mV");
    let noise_readings = table.optional_whole("noise_readings", 2..=1_000_000, 1, " readings");
    let sampling = Sampling {
        picofarads: table.optional_decimal("sampling_pf", 0..=1000, " pF"),
        switch_ohms: table.optional_decimal("sampling_ohms", 0..=100_000, " ohm"),
        nanoseconds: table.optional_decimal("sampling_ns", 1..=1_000_000_000, " ns"),
        source_max_ohms: table.optional_decimal("source_max_ohms", 1..=10_000_000, " ohm"),
        leakage_na: table.optional_decimal("leakage_na", 0..=100_000, " nA"),
    };
    let mut lsb = |key| table.optional_decimal(key, 0..=1000, " steps");
    let accuracy = Accuracy {
        noise_readings,
        offset_lsb: lsb("offset_lsb"),
        gain_lsb: lsb("gain_lsb"),
        inl_lsb: lsb("inl_lsb"),
        noise_rms_lsb: lsb("noise_rms_lsb"),
    };
    table.finish();
    Some(Converter {
        bits: bits?.value,
        full_scale: full_scale?,
        code_centre: code_centre?,
        samples: samples?,
        right_shift: right_shift?,
        shift_rounding: shift_rounding?,
        supply_min_uv,
        supply_max_uv,
        accuracy,
        sampling,
    })
}

pub(super) fn reference(mut table: TableReader<'_>) -> Option<Reference> {
    let microvolts = table.whole("microvolts", within(REFERENCE_UV), 1, " uV");
    let tolerance = tolerance(&mut table);
    let drift = table.choice_or("drift", &[("slope", Drift::Slope), ("box", Drift::Box)]);
    let ageing_ppm = table.optional_decimal("ageing_ppm", 0..=100_000, " ppm");
    let supply_min_uv = table.optional_whole("supply_min_mv", 1..=10_000, 1000, " mV");
    let dropout_uv = table.optional_whole("dropout_mv", 0..=10_000, 1000, " mV");
    let mut microseconds = |key| table.optional_decimal(key, 0..=10_000_000, " us");
    let (settling_us, wait_us) = (microseconds("settling_us"), microseconds("wait_us"));
    let sampling_min_ns = table.optional_decimal("sampling_min_ns", 1..=1_000_000_000, " ns");
    table.finish();
    Some(Reference {
        microvolts: microvolts?.value,
        tolerance,
        drift: drift?,
        ageing_ppm,
        supply_min_uv,
        dropout_uv,
        settling_us,
        wait_us,
        sampling_min_ns,
    })
}

pub(super) fn divider(mut table: TableReader<'_>) -> Option<Divider> {
    let mut ohms = |key| {
        // A resistance of zero is a wire, not a divider; 1 to 10 000 000 ohms.
        table.decimal(key, within(RESISTANCE), " ohm")
    };
    let (top, bottom) = (ohms("top_ohms"), ohms("bottom_ohms"));
    let tolerance = tolerance(&mut table);
    let correlation = table.optional_decimal("correlation", 0..=1, "");
    let filter_nf = table.optional_decimal("filter_nf", 0..=1_000_000, " nF");
    let drain_max_ua = table.optional_decimal("drain_max_ua", 0..=1_000_000, " uA");
    table.finish();
    Some(Divider {
        top_ohms: top?.value,
        bottom_ohms: bottom?.value,
        tolerance,
        correlation,
        filter_nf,
        drain_max_ua,
    })
}

fn tolerance(table: &mut TableReader<'_>) -> Tolerance {
    Tolerance {
        ppm: table.optional_decimal("tolerance_ppm", 0..=500_000, " ppm"),
        ppm_per_k: table.optional_decimal("tempco_ppm_per_k", 0..=10_000, " ppm/K"),
    }
}

pub(super) fn output(mut table: TableReader<'_>) -> Option<u32> {
    let unit = table.whole("unit_uv", 100..=1000, 1, " uV");
    let unit = unit.filter(|unit| {
        let legal = unit.value == 1000 || unit.value == 100;
        if !legal {
            table.report(
                "unit_uv",
                unit.span.clone(),
                "must be 1000 (1 mV) or 100 (0.1 mV)".to_owned(),
                "write unit_uv = 1000".to_owned(),
            );
        }
        legal
    });
    table.finish();
    unit.map(|unit| unit.value)
}

pub(super) fn environment(mut table: TableReader<'_>) -> Option<Environment> {
    let calibrated_at = table.decimal("calibrated_at_c", -60..=200, " degC");
    let min = table.decimal("min_c", -60..=200, " degC");
    let max = table.decimal("max_c", -60..=200, " degC");
    let rises = table.rises(&min, &max);
    table.finish();
    rises.then_some(())?;
    Some(Environment {
        calibrated_at_c: calibrated_at?.value,
        min_c: min?.value,
        max_c: max?.value,
    })
}

pub(super) fn energy(mut table: TableReader<'_>) -> Option<Energy> {
    let clock = table.decimal("clock_hz", 1..=1_000_000_000, " Hz");
    let active = table.decimal("active_ua", 0..=1_000_000, " uA");
    let samples = table.decimal("samples_per_second", 0..=1_000_000, " a second");
    let sleep = table.optional_decimal("sleep_ua", 0..=1_000_000, " uA");
    let converter = converter_timing(&mut table);
    table.finish();
    // Currents are printed to a few digits, never compared: here a float is no loss.
    let number = |value: &BigRational| value.to_f64();
    Some(Energy {
        clock_hz: number(&clock?.value)?,
        active_ua: number(&active?.value)?,
        samples_per_second: number(&samples?.value)?,
        sleep_ua: sleep.as_ref().and_then(number),
        converter,
    })
}

/// All of it or nothing: one number alone is no time.
fn converter_timing(table: &mut TableReader<'_>) -> Option<ConverterTiming> {
    let keys = ["converter_clock_hz", "conversion_clocks"];
    let clock = table.optional_read(keys[0], 1..=1_000_000_000, " Hz");
    let clocks = table.optional_read(keys[1], 1..=10_000, " clocks");
    let discarded = table.optional_read("discarded_conversions", 0..=1000, "");
    let [has_clock, has_clocks] = keys.map(|key| table.has(key));
    let missing = match (has_clock, has_clocks) {
        (true, true) => None,
        (true, false) => Some(keys[1]),
        (false, _) => Some(keys[0]),
    };
    let given = [
        (keys[0], &clock),
        (keys[1], &clocks),
        ("discarded_conversions", &discarded),
    ];
    let alone = given
        .iter()
        .find_map(|(key, read)| Some((*key, read.as_ref()?)));
    if let (Some(missing), Some((key, read))) = (missing, alone) {
        table.report(
            key,
            read.span.clone(),
            format!("needs {missing} beside it"),
            format!("add {missing}, as the converter's data sheet has it, or leave {key} out"),
        );
        return None;
    }
    Some(ConverterTiming {
        clock_hz: clock?.value.to_f64()?,
        conversion_clocks: clocks?.value.to_f64()?,
        discarded: match discarded {
            Some(read) => read.value.to_u32()?,
            None => 0,
        },
    })
}
