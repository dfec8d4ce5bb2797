//! The Rust module: a const front end that the compiler checks and proves again, and a test to keep beside it.
//!
//! Plain items behind line comments, so that the text serves both as a file of its own and inside `include!`. It is laid
//! out as rustfmt does.

use std::fmt::Write as _;

use tallyvolt_model::outcome::Outcome;

use super::description::Description;
use super::rust_layout::{Types, filled};
use super::rust_sensing;
use crate::words;
use tallyvolt_analysis::describe::firmware::{
    Firmware, acquisition, output_unit, whole_resistances,
};

/// The text of the module.
pub(super) fn module(description: &Description<'_>) -> String {
    let types = Types::of(&description.firmware);
    let mut text = String::new();
    for line in description.head() {
        let _ = writeln!(text, "{}", format!("// {line}").trim_end());
    }
    text.push('\n');
    text.push_str(&imports(description, &types));
    text.push_str(&front_end(description, &types));
    text.push_str(&rust_sensing::items(description));
    text.push_str(&tests(description, &types));
    text
}

fn imports(description: &Description<'_>, types: &Types) -> String {
    let mut names = rust_sensing::names(&description.sensing);
    names.extend([
        "Acquisition",
        "CellRange",
        "CodeCentre",
        types.conversion,
        types.description,
        types.input,
        "Fingerprint",
        "FullScale",
        "OutputUnit",
        "RecordError",
        "Recorded",
        "ShiftRounding",
    ]);
    names.sort_unstable();
    names.push("proven");
    format!("use tallyvolt::{{\n{}}};\n", filled(&names))
}

fn front_end(description: &Description<'_>, types: &Types) -> String {
    let front_end = description.front_end;
    let (input, described, module) = (types.input, types.description, &types.module);
    let acquisition = acquisition(&front_end.converter);
    // `describe` made the same whole numbers, so they exist.
    let resistances =
        (front_end.topology.divider()).and_then(|divider| whole_resistances(divider).ok());
    let divider = words::numbers::told(resistances, "", |(top, bottom)| {
        format!("    top_ohms: {top},\n    bottom_ohms: {bottom},\n")
    });
    let (first, last) = description.ends;
    format!(
        "
/// The front end `{name}`, checked and reduced to one exact fraction while compiling.
pub const INPUT: {input} = proven!({input}::new({described} {{
    acquisition: Acquisition {{
        bits: {bits},
        full_scale: FullScale::{full_scale:?},
        code_centre: CodeCentre::{code_centre:?},
        samples: {samples},
        right_shift: {right_shift},
        shift_rounding: ShiftRounding::{shift_rounding:?},
    }},
    reference_uv: {reference_uv},
{divider}    cell: CellRange {{
        min_uv: {min_uv},
        max_uv: {max_uv},
    }},
    unit: OutputUnit::{unit:?},
}}));

/// Count to voltage as drawn, in steps of {step}.
///
/// `{formula}`, found and proven while compiling.
///
/// # Range
/// Every count is accepted; {first} to {last} are voltages, any other is a named fault.
///
/// # Rounding
/// To the nearest step, ties upward, of the exact formula; no error on top.
pub const AS_DRAWN: {module} = proven!(INPUT.conversion());

/// What a calibration record of this front end carries: {fingerprint:#010x}.
#[allow(dead_code, reason = \"for modules that are calibrated\")]
pub const FINGERPRINT: Fingerprint = INPUT.fingerprint();

/// Count to voltage of one module, from its record of `tallyvolt::RECORD_BYTES` bytes: checked, not proven. Once at start.
///
/// {loads}
///
/// # Errors
/// Why the bytes are not believed. Go on with [`AS_DRAWN`] then, and say so.
#[allow(dead_code, reason = \"for modules that are calibrated\")]
pub fn load<M: Recorded<{input}>>(record: &[u8]) -> Result<M, RecordError> {{
    INPUT.load(record)
}}
",
        name = front_end.name,
        loads = loads(description, module, &types.short),
        bits = acquisition.bits,
        full_scale = acquisition.full_scale,
        code_centre = acquisition.code_centre,
        samples = acquisition.samples,
        right_shift = acquisition.right_shift,
        shift_rounding = acquisition.shift_rounding,
        reference_uv = front_end.reference.microvolts,
        min_uv = front_end.cell.min_uv,
        max_uv = front_end.cell.max_uv,
        unit = output_unit(front_end),
        step = words::numbers::unit(front_end.unit_uv),
        formula = description.formula(),
        fingerprint = description.firmware.fingerprint().0,
    )
}

/// Which type a chip asks for: the short one takes the least flash, and there is none for wide counts and fine steps.
fn loads(description: &Description<'_>, module: &str, short: &str) -> String {
    let bits = match description.firmware {
        Firmware::Divided(_) => 16,
        Firmware::Supply(_) => 14,
    };
    if description.firmware.count_bits() > bits || description.front_end.unit_uv != 1000 {
        format!("Ask for a `{module}`.")
    } else {
        format!(
            "A small chip asks for a `tallyvolt::{short}`, which takes the constants of the short form; a `{module}` takes all."
        )
    }
}

fn tests(description: &Description<'_>, types: &Types) -> String {
    let mut rows = String::new();
    for (count, outcome) in &description.spots {
        let answer = match outcome {
            Outcome::Units(units) => format!("Ok(Voltage({units}))"),
            Outcome::Fault(fault) => format!("Err(Fault::{fault:?})"),
        };
        let _ = writeln!(rows, "            ({count}, {answer}),");
    }
    let used = rust_sensing::names(&description.sensing);
    let mut names = rust_sensing::test_names(&description.sensing);
    names.extend(["Count", "Fault", "Voltage"]);
    names.retain(|name| !used.contains(name));
    names.sort_unstable();
    format!(
        "
#[cfg(test)]
mod tests {{
    use super::*;
    use tallyvolt::{{{names}}};

    /// Both ends of the range, and the counts whose exact voltage is nearest to a rounding boundary.
    #[test]
    fn as_drawn_is_the_exact_formula_rounded() {{
        for (count, answer) in [
{rows}        ] {{
            assert_eq!(AS_DRAWN.voltage(Count(count)), answer, \"count {{count}}\");
        }}
    }}

    #[test]
    fn records_of_this_front_end_are_known() {{
        assert_eq!(FINGERPRINT, Fingerprint({fingerprint:#010x}));
        let record = INPUT.record(&AS_DRAWN, 1);
        let loaded = load::<{module}>(&record.encode());
        assert!(loaded.is_ok());
        assert_eq!(loaded.map(|module| INPUT.record(&module, 1)), Ok(record));
        assert!(load::<{module}>(&[]).is_err());
    }}
{sensing}}}
",
        names = names.join(", "),
        module = types.module,
        sensing = rust_sensing::tests(&description.sensing),
        fingerprint = description.firmware.fingerprint().0
    )
}
