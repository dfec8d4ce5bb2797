//! A drawing, label by label.

use std::fmt::Write as _;

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
    let mut text = format!("{} bits, full scale 2^{}", converter.bits, converter.bits);
    if converter.full_scale == FullScale::TopCode {
        text.push_str(" - 1");
    }
    text.push_str(match converter.code_centre {
        CodeCentre::Edge => ", code k stands for k",
        CodeCentre::Half => ", code k stands for k + 1/2",
    });
    let _ = match converter.samples {
        1 => write!(text, "; a count is one sample"),
        samples => write!(text, "; a count is the sum of {samples} samples"),
    };
    if converter.right_shift > 0 {
        let _ = write!(
            text,
            ", shifted right by {}, {}",
            converter.right_shift,
            match converter.shift_rounding {
                ShiftRounding::Truncate => "truncated",
                ShiftRounding::Nearest => "rounded to nearest",
            }
        );
    }
    text
}

/// A decimal without trailing zeros; up to six places are shown.
pub(super) fn plain(value: &BigRational) -> String {
    let text = decimal_text(value, 6);
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
    let samples = match drawn.samples {
        1 => "one sample".to_owned(),
        samples => format!("the sum of {samples} samples"),
    };
    let shift = match drawn.right_shift {
        0 => String::new(),
        shift => format!(", shifted right by {shift}"),
    };
    format!(
        "{law}; {side}, with {} ohm, fed by {excitation}; a count is {samples}{shift}",
        plain(&drawn.fixed_ohms)
    )
}
