//! A replayed log in words and as JSON.

use std::fmt::Write as _;

use serde::Serialize;
use tallyvolt_model::front_end::FrontEnd;

use crate::words::numbers::{counted, grouped, read, told};
use crate::words::sheet::{self, labelled};
use tallyvolt_analysis::calibrate::replay::module::{Errors, Stretches, Watch};
use tallyvolt_analysis::calibrate::replay::sensing::SensingLog;
use tallyvolt_analysis::calibrate::replay::{Limit, Module, Replay, Settings};
use tallyvolt_analysis::files::rows::problem::RowProblem;

/// Modules up to this number are shown whole; of more those with findings, as many.
const SHOWN: usize = 64;
/// The verdict of those without.
pub(crate) const NOTHING_FOUND: &str = "nothing found";

/// The log's facts for machines.
#[derive(Serialize)]
pub struct Json<'a> {
    front_end: &'a str,
    watch: &'a Watch,
    read_as: &'a str,
    rows: u64,
    bad_rows: u64,
    bad_row_examples: Vec<String>,
    broken: &'a Option<String>,
    modules: Vec<JsonModule<'a>>,
}

#[derive(Serialize)]
struct JsonModule<'a> {
    module: &'a str,
    findings: Vec<&'static str>,
    within: Option<bool>,
    limit_mv: Option<f64>,
    limit_holds_for: Option<&'static str>,
    rows: u64,
    faults: u64,
    errors: &'a Errors,
    spread_mv: f64,
    rms_mv: f64,
    stuck: &'a Stretches,
    railed: &'a Stretches,
    gaps: &'a Stretches,
    gap_s: Option<f64>,
    time_back: u64,
    #[serde(flatten)]
    sensing: &'a SensingLog,
}

/// The log as JSON values.
pub fn json<'a>(front_end: &'a FrontEnd, settings: &'a Settings, replay: &'a Replay) -> Json<'a> {
    let module = |module: &'a Module| JsonModule {
        module: &module.name,
        findings: module.findings(),
        within: module.within(),
        limit_mv: module.limit.map(Limit::mv),
        limit_holds_for: module.limit.map(holds_for),
        rows: module.log.rows,
        faults: module.log.faults,
        errors: &module.log.errors,
        spread_mv: module.log.errors.spread_mv(),
        rms_mv: module.log.errors.rms_mv(),
        stuck: &module.log.stuck,
        railed: &module.log.railed,
        gaps: &module.log.gaps,
        gap_s: module.log.gap_s(),
        time_back: module.log.time_back,
        sensing: &module.sensing,
    };
    let end = &replay.end;
    let problems = end.problems.iter();
    Json {
        front_end: &front_end.name,
        watch: &settings.watch,
        read_as: &end.understood,
        rows: end.rows,
        bad_rows: end.bad_rows,
        bad_row_examples: problems.map(RowProblem::line_text).collect(),
        broken: &end.broken,
        modules: replay.modules.iter().map(module).collect(),
    }
}

fn holds_for(limit: Limit) -> &'static str {
    match limit {
        Limit::EveryRow(_) => "every row",
        Limit::RootMeanSquare(_) => "root mean square",
    }
}

/// The log for people.
pub fn text(front_end: &FrontEnd, settings: &Settings, replay: &Replay, file: &str) -> String {
    let end = &replay.end;
    let judged = match (settings.limit_mv, &settings.calibrations) {
        (Some(mv), _) => format!("every row within {mv} mV"),
        (None, Some(_)) => "root mean square error within the fit's uncertainty (95 %)".to_owned(),
        (None, None) => "not judged: give --calibration or --limit-mv".to_owned(),
    };
    let calibrated = if settings.calibrations.is_some() {
        "as fitted"
    } else {
        "as drawn, uncalibrated"
    };
    let mut text = format!("{}  ({file})\n", front_end.name);
    text += &labelled([
        ("read as", end.understood.clone()),
        ("rows", read(end.rows, end.bad_rows)),
        ("modules read", calibrated.to_owned()),
        ("judged", judged),
        (
            "stuck",
            format!(
                "one count for {} rows, while the meter, if any, moves",
                grouped(settings.watch.stuck_rows)
            ),
        ),
        (
            "gap",
            told(
                settings.watch.gap_s,
                "three times the module's usual interval",
                |seconds| format!("more than {seconds} s"),
            ),
        ),
    ]);
    text.push('\n');
    let all = replay.modules.len() <= SHOWN;
    let modules = || replay.modules.iter();
    let has_findings = |module: &&Module| !module.findings().is_empty();
    let shown = modules().filter(|module| all || has_findings(module));
    let shown: Vec<&Module> = shown.take(SHOWN).collect();
    if !shown.is_empty() {
        text.push_str(&table(&shown));
    }
    for module in shown {
        for note in notes(module) {
            let _ = writeln!(text, "  {}: {note}", module.name);
        }
    }
    if !all {
        let _ = writeln!(
            text,
            "  modules without findings are not shown: --json has them all"
        );
    }
    let _ = writeln!(
        text,
        "{}, {} with findings",
        counted(replay.modules.len(), "module"),
        grouped(modules().filter(has_findings).count() as u64)
    );
    text
}

fn table(modules: &[&Module]) -> String {
    let header = "module | verdict | >rows | >faults | >bias mV | >spread mV | >worst mV | >limit mV | >within | >stuck | >railed | >gaps";
    let rows = modules.iter().map(|module| {
        let log = &module.log;
        let compared = |value: f64| {
            if log.errors.rows > 0 {
                format!("{value:+.3}")
            } else {
                String::new()
            }
        };
        let findings = module.findings();
        [
            module.name.clone(),
            if findings.is_empty() {
                NOTHING_FOUND.to_owned()
            } else {
                findings.join(", ").to_uppercase()
            },
            grouped(log.rows),
            grouped(log.faults),
            compared(log.errors.bias_mv),
            compared(log.errors.spread_mv()).replace('+', ""),
            compared(log.errors.worst_mv),
            told(module.limit, "", |limit| format!("{:.3}", limit.mv())),
            module
                .within()
                .map_or("", |within| if within { "yes" } else { "NO" })
                .to_owned(),
            grouped(log.stuck.number),
            grouped(log.railed.number),
            grouped(log.gaps.number),
        ]
    });
    sheet::table(header, 1, rows)
}

pub(crate) fn notes(module: &Module) -> Vec<String> {
    let log = &module.log;
    let stretch = |what: &str, stretches: &Stretches| {
        (stretches.number > 0).then(|| {
            format!(
                "{what}: longest {} rows, {:.0} s, from line {}",
                grouped(stretches.longest_rows),
                stretches.longest_s,
                stretches.longest_line
            )
        })
    };
    let gap = (log.gaps.number > 0).then(|| {
        format!(
            "gaps: longest {:.0} s, before line {}",
            log.gaps.longest_s, log.gaps.longest_line
        )
    });
    let beyond = (module.within() == Some(false)).then(|| {
        format!(
            "{} of {} beyond the limit, worst {:+.3} mV at line {}",
            grouped(log.errors.beyond_limit),
            counted(log.errors.rows as usize, "row"),
            log.errors.worst_mv,
            log.errors.worst_line
        )
    });
    let back = (log.time_back > 0).then(|| {
        let rows = counted(log.time_back as usize, "row");
        format!("{rows} earlier than the one before")
    });
    [
        beyond,
        stretch("stuck", &log.stuck),
        stretch("railed", &log.railed),
        gap,
        back,
    ]
    .into_iter()
    .flatten()
    .chain(sensing_notes(&module.sensing))
    .collect()
}

fn sensing_notes(sensing: &SensingLog) -> Vec<String> {
    let seen = &sensing.temperatures;
    let temperature = (seen.rows > 0).then(|| {
        let range = match (seen.coldest_c, seen.hottest_c) {
            (Some(coldest), Some(hottest)) => format!("{coldest:.1} to {hottest:.1} degC"),
            _ => "none read".to_owned(),
        };
        format!(
            "temperature: {range}; of {} {} open, {} short, {} outside the table",
            counted(seen.rows as usize, "row"),
            grouped(seen.open),
            grouped(seen.short),
            grouped(seen.out_of_table)
        )
    });
    let thermometer = (seen.compared > 0).then(|| {
        format!(
            "against the thermometer: bias {:+.3} K, worst {:+.3} K at line {}",
            seen.bias_k, seen.worst_k, seen.worst_line
        )
    });
    let alarms = sensing
        .alarms
        .iter()
        .filter(|alarm| alarm.raised > 0)
        .map(|alarm| {
            format!(
                "alarm {}: raised {}, active in {}, first at line {}",
                alarm.limit,
                counted(alarm.raised as usize, "time"),
                counted(alarm.rows as usize, "row"),
                alarm.first_line
            )
        });
    temperature
        .into_iter()
        .chain(thermometer)
        .chain(alarms)
        .collect()
}
