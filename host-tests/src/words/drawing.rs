//! A drawing, label by label.

use num_rational::BigRational;
use tallyvolt_model::front_end::{
    CodeCentre, Converter, FrontEnd, FullScale, SensorLaw, SensorSide, ShiftRounding, Thermistor,
    Topology,
};
use tallyvolt_model::rational::{decimal_text, whole};

use super::numbers::{told, unit};
use super::quoting::harmless;

/// What is drawn, label by label.
pub(crate) fn drawing(front_end: &FrontEnd) -> Vec<(&'static str, String)> {
    let FrontEnd {
        cell,
        reference,
        unit_uv,
        ..
    } = front_end;
    let mv = |uv: u32| plain(&(whole(uv) / whole(1000)));
    let mut rows = vec![
        (
            "cell",
            format!(
                "{}, {} to {} mV, nominal {}",
                harmless(&cell.chemistry),
                mv(cell.min_uv),
                mv(cell.max_uv),
                mv(cell.nominal_uv)
            ),
        ),
        ("converter", converter(&front_end.converter)),
        ("reference", format!("{} uV", reference.microvolts)),
    ];
    if let Topology::DividedInput(divider) = &front_end.topology {
        rows.push((
            "divider",
            format!(
                "{} ohm from the cell to the pin, {} ohm from the pin to ground",
                plain(&divider.top_ohms),
                plain(&divider.bottom_ohms)
            ),
        ));
    }
    rows.push(("output", format!("steps of {}", unit(*unit_uv))));
    rows
}

fn converter(converter: &Converter) -> String {
    let bits = converter.bits;
    let less = match converter.full_scale {
        FullScale::PowerOfTwo => "",
        FullScale::TopCode => " - 1",
    };
    format!(
        "{bits} bits, full scale 2^{bits}{less}, {}",
        counts(converter)
    )
}

/// What a code stands for, and how a count comes about.
pub(crate) fn counts(converter: &Converter) -> String {
    let centre = match converter.code_centre {
        CodeCentre::Edge => "code k stands for k",
        CodeCentre::Half => "code k stands for k + 1/2",
    };
    let rounded = match (converter.right_shift, converter.shift_rounding) {
        (0, _) => "",
        (_, ShiftRounding::Truncate) => ", truncated",
        (_, ShiftRounding::Nearest) => ", rounded to nearest",
    };
    let summed = summed(converter.samples, converter.right_shift);
    format!("{centre}; a count is {summed}{rounded}")
}

fn summed(samples: u32, right_shift: u32) -> String {
    let sum = match samples {
        1 => "one sample".to_owned(),
        samples => format!("the sum of {samples} samples"),
    };
    match right_shift {
        0 => sum,
        shift => format!("{sum}, shifted right by {shift}"),
    }
}

/// A decimal without trailing zeros; up to six places are shown.
pub(crate) fn plain(value: &BigRational) -> String {
    trimmed(value, 6)
}

/// The same with up to so many places.
pub(crate) fn trimmed(value: &BigRational, places: u32) -> String {
    let text = decimal_text(value, places);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// What is wired to the converter.
pub(crate) fn sensor(drawn: &Thermistor) -> String {
    let law = match &drawn.law {
        SensorLaw::BEquation { r25_ohms, b25_85_k } => format!(
            "B equation, {} ohm at 25 degC, B25/85 {} K",
            plain(r25_ohms),
            plain(b25_85_k)
        ),
        SensorLaw::SteinhartHart { .. } => "Steinhart-Hart".to_owned(),
        SensorLaw::Table { file, points } => {
            format!(
                "maker's table {} of {} points",
                harmless(file),
                points.len()
            )
        }
        SensorLaw::Platinum { r0_ohms } => {
            format!("platinum by IEC 60751, {} ohm at 0 degC", plain(r0_ohms))
        }
    };
    let side = match drawn.side {
        SensorSide::Low => "to ground",
        SensorSide::High => "to the excitation",
    };
    let excitation = told(drawn.excitation_uv, "the converter's reference", |uv| {
        format!("{uv} uV")
    });
    format!(
        "{law}; {side}, with {} ohm, fed by {excitation}; a count is {}",
        plain(&drawn.fixed_ohms),
        summed(drawn.samples, drawn.right_shift)
    )
}
