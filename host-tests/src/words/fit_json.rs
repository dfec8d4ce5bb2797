//! A fitted batch as JSON.

use serde::Serialize;

use crate::words::fit::Fitted;
use tallyvolt_analysis::calibrate::fit::guards::Guard;
use tallyvolt_analysis::calibrate::fit::meter::Meter;
use tallyvolt_analysis::calibrate::fit::mode::Mode;
use tallyvolt_analysis::calibrate::fit::module::ModuleFit;
use tallyvolt_analysis::calibrate::fit::noise::Noise;
use tallyvolt_analysis::calibrate::fit::records::hex_text;
use tallyvolt_analysis::calibrate::fit::verdict::Verdict;
use tallyvolt_analysis::files::rows::problem::RowProblem;

/// The batch's facts for machines.
#[derive(Serialize)]
pub struct Json<'a> {
    front_end: &'a str,
    fingerprint: String,
    settings: JsonSettings<'a>,
    noise: &'a Noise,
    good: usize,
    unchecked: usize,
    suspect: usize,
    read_as: &'a str,
    /// The widest of each limit on the true value.
    guards: Vec<JsonGuard<'a>>,
    modules: Vec<JsonModule<'a>>,
    /// How many there are; the first of them are listed.
    bad_rows_number: u64,
    bad_rows: Vec<String>,
}

#[derive(Serialize)]
struct JsonSettings<'a> {
    meter: &'a Meter,
    mode: Option<Mode>,
    sequence: u16,
}

#[derive(Serialize)]
struct JsonGuard<'a> {
    module: &'a str,
    holds: bool,
    #[serde(flatten)]
    guard: Guard,
}

#[derive(Serialize)]
struct JsonModule<'a> {
    verdict: &'static str,
    #[serde(flatten)]
    fit: &'a ModuleFit,
    /// Of a good module, or of an unchecked one that was accepted.
    record: Option<String>,
}

/// The batch as JSON values.
pub fn json(fitted: Fitted<'_>) -> Json<'_> {
    let Fitted {
        front_end,
        settings,
        batch,
        readings,
    } = fitted;
    let number = |verdict| fitted.of(verdict).count();
    let problems = readings.problems.iter();
    Json {
        front_end: &front_end.name,
        fingerprint: format!("{:08x}", batch.transfer.fingerprint().0),
        settings: JsonSettings {
            meter: &settings.meter,
            mode: settings.mode,
            sequence: settings.sequence,
        },
        noise: &batch.noise,
        good: number(Verdict::Good),
        unchecked: number(Verdict::Unchecked),
        suspect: number(Verdict::Suspect),
        read_as: &readings.understood,
        guards: batch
            .widest_guards()
            .into_iter()
            .map(|(module, guard)| JsonGuard {
                module: &module.module,
                holds: guard.holds(),
                guard,
            })
            .collect(),
        modules: batch
            .modules
            .iter()
            .map(|fit| JsonModule {
                verdict: fit.verdict().word(),
                fit,
                record: fit.record().filter(|_| fit.gets_record()).map(hex_text),
            })
            .collect(),
        bad_rows_number: readings.bad_rows,
        bad_rows: problems.map(RowProblem::line_text).collect(),
    }
}
