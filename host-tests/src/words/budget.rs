//! A budget in words and tables, for people.

use std::fmt::Write as _;

use super::findings as meets;
use super::numbers::{figures, grouped, told};
use super::sheet::{labelled, table, text_width};
use super::wrapping::wrapped;
use super::yields;
use tallyvolt_analysis::choose::budget::found::{Budget, StateRow, Total};
use tallyvolt_analysis::choose::budget::guard_band::{Alarm, GuardBands};
use tallyvolt_analysis::choose::budget::reading::{State, Temperature};
use tallyvolt_analysis::choose::budget::yields::Yields;
use tallyvolt_analysis::choose::findings::finding::Finding;
use tallyvolt_analysis::describe::limit_name::Direction;

/// The whole budget of one front end.
pub fn budget(budget: &Budget, file: &str) -> String {
    let mut text = format!("{}  ({file})\n", budget.name);
    let planned = ["none", "one point", "two points"];
    let planned = planned.get(budget.calibration_points as usize);
    text += &labelled([
        ("topology", budget.topology.replace('-', " ")),
        (
            "planned calibration",
            planned.copied().unwrap_or("none").to_owned(),
        ),
        (
            "Monte Carlo",
            format!(
                "{} trials, seed {}",
                grouped(budget.trials as u64),
                budget.seed
            ),
        ),
    ]);
    text += &labelled(budget.notes.iter().map(|note| ("note", note.clone())));
    for state in over_range(budget) {
        let _ = write!(text, "\n{}", terms(budget, state));
    }
    let _ = write!(text, "\n{}", totals(budget));
    if !budget.guard_bands.is_empty() {
        let _ = write!(text, "\n{}", alarms(&budget.guard_bands));
    }
    let _ = write!(text, "\n{}", self::yields(&budget.yields));
    if let Some(temperature) = &budget.temperature {
        let _ = write!(text, "\n{}", super::temperature::temperature(temperature));
    }
    let _ = write!(text, "\n{}", findings(&budget.findings));
    text
}

/// The states of calibration, over the range of temperature.
pub(crate) fn over_range(budget: &Budget) -> impl Iterator<Item = &StateRow> {
    let states = State::ALL.into_iter();
    states.filter_map(move |state| budget.state(state, Temperature::Range))
}

/// Less than a nanovolt is what a difference quotient leaves of a term that cancels.
pub(crate) const NOTHING_MV: f64 = 1e-6;

fn terms(budget: &Budget, state: &StateRow) -> String {
    let mut gone = Vec::new();
    let mut rows = Vec::new();
    for (term, part) in budget.terms.iter().zip(&state.contributions) {
        let [low, nominal, high] = part.contribution_mv;
        if low.max(nominal).max(high) < NOTHING_MV {
            if !term.on_bench {
                gone.push(term.term.as_str());
            }
            continue;
        }
        rows.push([
            term.term.clone(),
            format!("{} {}", figures(term.value), term.unit),
            term.distribution.clone(),
            figures(part.sensitivity_mv.get(1).copied().unwrap_or(0.0)),
            format!("{low:.3}"),
            format!("{nominal:.3}"),
            format!("{high:.3}"),
        ]);
    }
    let [low, nominal, high] = budget.voltages_mv;
    let header = format!(
        "term | value | distribution | >mV per unit, nominal | >u at {low} mV | >u at {nominal} mV | >u at {high} mV"
    );
    let mut text = format!(
        "{}, {}: standard uncertainty (u) of each term in mV, one standard deviation\n{}",
        state.calibration,
        state.temperature,
        table(&header, 1, rows)
    );
    if !gone.is_empty() {
        let line = format!("no part in it: {}", gone.join(", "));
        let _ = writeln!(text, "{}", wrapped(&line, 0, text_width()));
    }
    text
}

/// What the headings of the totals mean.
const TOTALS_WORDS: &str = "worst: every term at its worst at once; u_c: combined standard uncertainty; dof: its effective degrees \
    of freedom, how well it is known; k u_c: expanded uncertainty, 95 %; by trials: the interval that 95 % of the simulated \
    readings lie in; trust: which of the two holds";

fn totals(budget: &Budget) -> String {
    let mut rows = Vec::new();
    let mut reasons: Vec<(String, Vec<String>)> = Vec::new();
    for state in &budget.states {
        for total in &state.totals {
            rows.push([
                state.calibration.to_owned(),
                short(state.temperature).to_owned(),
                total.at_mv.to_string(),
                signed(total.worst_mv),
                format!("{:.3}", total.combined_mv),
                told(total.effective_dof, "inf", |dof| {
                    format!("{:.0}", dof.floor())
                }),
                format!("{:.2}", total.coverage_factor),
                format!("{:.2}", total.expanded_mv),
                format!("{:.2}", total.twice_combined_mv),
                signed(total.interval_mv),
                if total.agree { "either" } else { "Monte Carlo" }.to_owned(),
            ]);
            note_reason(&mut reasons, state, total);
        }
    }
    let header = "state | temperature | >at mV | >worst mV | >u_c | >dof | >k | >k u_c | >2 u_c | >95 % by trials | >trust";
    let mut text = format!(
        "totals: error of a reading in mV\n{}{}\n",
        table(header, 3, rows),
        wrapped(TOTALS_WORDS, 2, text_width())
    );
    for (reason, places) in reasons {
        let line = format!("{reason} ({})", places.join("; "));
        let _ = writeln!(text, "{}", wrapped(&line, 2, text_width()));
    }
    text
}

/// Gathers equal reasons, so that each is told once.
fn note_reason(reasons: &mut Vec<(String, Vec<String>)>, state: &StateRow, total: &Total) {
    if total.agree {
        return;
    }
    let place = format!(
        "{}, {}, {} mV",
        state.calibration,
        short(state.temperature),
        total.at_mv
    );
    match reasons
        .iter_mut()
        .find(|(reason, _)| *reason == total.trust)
    {
        Some((_, places)) => places.push(place),
        None => reasons.push((total.trust.clone(), vec![place])),
    }
}

fn alarms(bands: &[GuardBands]) -> String {
    let mut rows = Vec::new();
    let mut problems = String::new();
    for band in bands {
        for alarm in &band.alarms {
            rows.push([
                format!(
                    "{}{}",
                    band.calibration,
                    if band.planned { " (planned)" } else { "" }
                ),
                format!("{} {} mV", direction(alarm), alarm.limit_mv),
                format!("{:.2}", alarm.guard_normal_mv),
                format!("{:.2}", alarm.worst_mv),
                format!("{:.2}", alarm.guard_mv),
                threshold(alarm),
                told(alarm.counts, "none", |counts| {
                    format!("{} {}", counts.comparison, counts.count)
                }),
                format!("{:.3} %", 100.0 * alarm.missed),
                format!("{:.1} mV", alarm.given_up_mv),
                format!(
                    "{:.3} % at {} mV",
                    100.0 * alarm.false_alarms,
                    alarm.healthy_mv
                ),
            ]);
        }
        if let Some(problem) = &band.problem {
            let problem = format!("{}: {problem}", band.calibration);
            let _ = writeln!(problems, "{}", wrapped(&problem, 2, text_width()));
        }
    }
    let header = "calibration | limit | >k u | >worst | >guard band | >alarm at mV | >at counts | >missed | >given up | >false alarms";
    let title = "guard bands (w) over the range: alarms that come before the true value passes its limit (counts: as drawn, no \
                 calibration)";
    format!(
        "{}\n{}{problems}",
        wrapped(title, 2, text_width()),
        table(header, 2, rows)
    )
}

fn direction(alarm: &Alarm) -> &'static str {
    match alarm.direction {
        Direction::Over => "above",
        Direction::Under => "below",
    }
}

fn threshold(alarm: &Alarm) -> String {
    match (alarm.threshold_mv, alarm.direction) {
        (Some(mv), Direction::Over) => format!(">= {mv}"),
        (Some(mv), Direction::Under) => format!("<= {mv}"),
        (None, _) => "no zone".to_owned(),
    }
}

fn yields(of: &Yields) -> String {
    format!(
        "{}\n{}",
        wrapped(yields::TITLE, 2, text_width()),
        table(&yields::headings(of), 2, yields::rows(of))
    )
}

fn findings(findings: &[Finding]) -> String {
    let rows = findings.iter().map(|finding| {
        [
            finding.what.to_owned(),
            finding.found.clone(),
            finding.rule.clone(),
            finding.source.to_owned(),
            match finding.holds {
                Some(true) => "yes",
                Some(false) => "NO",
                None => "not known",
            }
            .to_owned(),
        ]
    });
    let mut text = format!(
        "what the file asks for\n{}\n{}: {}\n",
        table("finding | found | rule | source | holds", 1, rows),
        meets::MEETS,
        meets::verdict(findings)
    );
    for line in meets::lines(findings) {
        let _ = writeln!(text, "not met: {}", wrapped(&line, 9, text_width()));
    }
    text
}

fn short(temperature: &str) -> &str {
    if temperature == "over the range" {
        "range"
    } else {
        "calibration"
    }
}

/// An error's ends in millivolts.
pub(crate) fn signed([low, high]: [f64; 2]) -> String {
    format!("{low:+.2} .. {high:+.2}")
}
