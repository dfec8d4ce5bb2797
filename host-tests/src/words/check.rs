//! A check in words, for people: one block a front end, and one line each at the end.

use super::formulas::formula;
use super::numbers::{counted, grouped, told, unit, yes};
use super::sheet::{labelled, table};
use super::{findings, sensor};
use tallyvolt_analysis::prove::check::found::Check;

/// The block of one front end.
pub fn block(check: &Check, file: &str) -> String {
    format!("{}  ({file})\n{}", check.name, labelled(rows(check)))
}

/// What was found about one front end: labels and texts; a label that is indented belongs to the one above.
pub fn rows(check: &Check) -> Vec<(&'static str, String)> {
    let mut rows = vec![
        ("topology", check.topology.replace('-', " ")),
        (
            "counts swept",
            format!(
                "{}: all that the converter gives, and three beyond its largest",
                grouped(check.counts_swept)
            ),
        ),
        ("wrong counts", grouped(check.wrong_counts)),
    ];
    rows.extend(wrong(check));
    rows.push((
        "largest rounding error",
        format!(
            "{:.6} of a {} step (at most 0.5 is exact)",
            check.largest_rounding_error_units,
            unit(check.unit_uv)
        ),
    ));
    rows.push(("arithmetic", formula(&check.arithmetic)));
    rows.push(("proof", check.proof.clone()));
    rows.push(("reads", reads(check)));
    rows.push((
        "step a count",
        format!(
            "{:.4} mV at the cell's minimum, {:.4} nominal, {:.4} maximum",
            check.step_mv.at_min, check.step_mv.at_nominal, check.step_mv.at_max
        ),
    ));
    rows.push((
        "values in the cell's range",
        format!(
            "{} of {}: {} unreachable, {} doubled",
            grouped(check.cell_values),
            unit(check.unit_uv),
            grouped(check.unreachable_values),
            grouped(check.doubled_values)
        ),
    ));
    rows.push(("monotonic", yes(check.monotonic)));
    rows.push(("cell's range fits", fits(check)));
    rows.push(("arithmetic exact", yes(check.exact)));
    rows.push(("same formula in f64", float_distance(check)));
    rows.extend(sensor::rows(check));
    rows.push((findings::MEETS, findings::verdict(&check.findings)));
    rows.extend(findings::lines(&check.findings).map(|line| ("  not met", line)));
    rows
}

/// The first wrong counts.
pub(crate) fn wrong(check: &Check) -> impl Iterator<Item = (&'static str, String)> {
    check.wrong_examples.iter().map(|wrong| {
        let (answered, exact) = (&wrong.answered, &wrong.exact);
        let text = format!("count {}: answered {answered}, exact {exact}", wrong.count);
        ("  wrong", text)
    })
}

/// One line a front end.
pub fn summary(checks: &[Check]) -> String {
    let header = "front end | exact | meets its file | topology | >counts | >wrong | >largest error | >reads mV | >step mV nominal";
    let rows = checks.iter().map(|check| {
        [
            check.name.clone(),
            yes(check.exact),
            yes(check.meets),
            check.topology.replace('-', " "),
            grouped(check.counts_swept),
            grouped(check.wrong_counts),
            format!("{:.6}", check.largest_rounding_error_units),
            told(check.range_mv, "none", |(low, high)| {
                format!("{low:.1} to {high:.1}")
            }),
            format!("{:.4}", check.step_mv.at_nominal),
        ]
    });
    let table = table(header, 1, rows);
    let counts: u64 = checks.iter().map(|check| check.counts_swept).sum();
    let wrong: u64 = checks.iter().map(|check| check.wrong_counts).sum();
    let failing = checks.iter().filter(|check| !check.holds).count();
    format!(
        "{table}{}, {} counts, {} wrong counts, {failing} failing\n",
        counted(checks.len(), "front end"),
        grouped(counts),
        grouped(wrong)
    )
}

pub(crate) fn float_distance(check: &Check) -> String {
    let counts = check.float_counts;
    if check.float_distance_units > 0.0 {
        let steps = check.float_distance_units;
        format!("at most {steps:.1e} steps away, over {counts} counts")
    } else {
        format!("equal, over {counts} counts")
    }
}

pub(crate) fn reads(check: &Check) -> String {
    match (check.range_mv, check.valid_counts) {
        (Some((low, high)), Some((first, last))) => {
            format!("{low:.3} to {high:.3} mV, counts {first} to {last}")
        }
        _ => "no count is a voltage".to_owned(),
    }
}

pub(crate) fn fits(check: &Check) -> String {
    let fit = &check.fit;
    let missing = [
        (fit.emptiest, "the emptiest cell is not read"),
        (fit.fullest, "the fullest cell is not read"),
        (fit.output, "the output type is too narrow"),
    ];
    let missing = missing.into_iter().filter(|(fits, _)| !fits);
    let missing: Vec<&str> = missing.map(|(_, what)| what).collect();
    if missing.is_empty() {
        yes(true)
    } else {
        format!("NO: {}", missing.join(", "))
    }
}
