//! The rows of a check's thermistor and limits.

use super::numbers::{counted, grouped, rounded_up, yes};
use tallyvolt_analysis::prove::check::found::Check;
use tallyvolt_analysis::prove::check::limits::LimitsCheck;
use tallyvolt_analysis::prove::check::thermistor::ThermistorCheck;

/// A label and its text.
type Row = (&'static str, String);

/// Those of both, as far as they are described.
pub(crate) fn rows(check: &Check) -> impl Iterator<Item = Row> {
    let thermistor = check.thermistor.iter().flat_map(thermistor_rows);
    thermistor.chain(check.limits.iter().flat_map(limits_rows))
}

fn thermistor_rows(check: &ThermistorCheck) -> Vec<Row> {
    let (first, last) = check.counts;
    let (coldest, hottest) = check.range_c;
    let (low_wire, high_wire) = check.wires;
    let mut rows = vec![
        (
            "thermistor",
            format!(
                "{coldest:.1} to {hottest:.1} degC, counts {first} to {last}; a table of {} entries, {} bytes, {} apart, each in \
                 steps of {}0.1 degC",
                check.entries,
                check.bytes,
                counted(check.step as usize, "count"),
                match check.entries_per_tenth {
                    1 => String::new(),
                    parts => format!("1/{parts} of "),
                }
            ),
        ),
        (
            "  counts swept",
            format!(
                "{}, {} wrong against the exact fraction of the table",
                grouped(check.counts_swept),
                grouped(check.wrong_counts)
            ),
        ),
    ];
    if let Some(count) = check.wrong_example {
        rows.push(("  wrong", format!("count {count}")));
    }
    rows.extend([
        (
            "  certified error",
            format!(
                "{:.1} m degC over every count ({:.1} before rounding to 0.1 degC{}), {} allowed; one count is up to {:.1}",
                rounded_up(check.certified_mc(), 1),
                rounded_up(check.unrounded_mc(), 1),
                if check.interpolation_mc > 0.0 {
                    format!("; {:.1} of both between the maker's points", rounded_up(check.interpolation_mc, 1))
                } else {
                    String::new()
                },
                check.max_error_mc,
                check.largest_step_mc
            ),
        ),
        (
            "  broken or shorted wire",
            format!("counts up to {low_wire}, and from {high_wire} on"),
        ),
        ("  monotonic", yes(check.monotonic)),
    ]);
    if let Some(offset) = check.offset {
        rows.push(("  calibrated", offset.to_string()));
    }
    rows
}

fn limits_rows(check: &LimitsCheck) -> Vec<Row> {
    let mut rows = vec![(
        "limits",
        format!(
            "{} voltage and {} temperature limits against every count, {} wrong",
            grouped(check.voltage_limits),
            grouped(check.temperature_limits),
            grouped(check.wrong_voltage_limits + check.wrong_temperature_limits)
        ),
    )];
    rows.extend(check.described.iter().map(|limit| {
        let meaning = if limit.guard > 0.0 {
            format!(" on the true value, guard band {:.2}", limit.guard)
        } else {
            String::new()
        };
        let text = format!(
            "{} = {}{meaning}: trips at counts {}, holds at counts {}",
            limit.key, limit.value, limit.trips, limit.holds
        );
        ("  described", text)
    }));
    rows
}
