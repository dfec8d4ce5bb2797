//! The budget of a temperature in tables, for people.

use super::numbers::figures;
use super::sheet::table;
use tallyvolt_analysis::choose::budget::temperature::TemperatureBudget;

/// What the table of terms says.
pub(crate) const TERMS: &str = "temperature: standard uncertainty of each term in mK";
/// What the table of totals says.
pub(crate) const TOTALS: &str = "temperature: error of a reading in mK";
/// Headings of the totals; the first two columns say what a row is about.
pub(crate) const TOTAL_HEADINGS: &str =
    "state | >at degC | >worst | >u_c | >k u_c | >mean | >95 % by trials";

/// Headings of the terms; the first column says what a row is about.
pub(crate) fn term_headings(budget: &TemperatureBudget) -> String {
    let [cold, middle, hot] = budget.sites_c;
    format!(
        "term | value | distribution | >u at {cold} degC | >u at {middle} degC | >u at {hot} degC"
    )
}

/// A row a term.
pub(crate) fn term_rows(budget: &TemperatureBudget) -> impl Iterator<Item = [String; 6]> {
    budget.terms.iter().map(|term| {
        let [low, between, high] = term.contribution_mk.map(|mk| format!("{mk:.1}"));
        [
            term.term.to_owned(),
            format!("{} {}", figures(term.value), term.unit),
            term.distribution.clone(),
            low,
            between,
            high,
        ]
    })
}

/// A row a state of calibration and temperature.
pub(crate) fn total_rows(budget: &TemperatureBudget) -> impl Iterator<Item = [String; 7]> {
    let signed = |[low, high]: [f64; 2]| format!("{low:+.0} .. {high:+.0}");
    budget.totals.iter().map(move |total| {
        [
            total.calibration.to_owned(),
            total.at_c.to_string(),
            signed(total.worst_mk),
            format!("{:.1}", total.combined_mk),
            format!("{:.0}", total.expanded_mk),
            format!("{:+.0}", total.mean_mk),
            signed(total.interval_mk),
        ]
    })
}

/// The offset that is taken off, and a line an alarm.
pub(crate) fn lines(budget: &TemperatureBudget) -> impl Iterator<Item = String> {
    let offset = budget.offset.map(|offset| offset.to_string());
    offset.into_iter().chain(budget.alarms.iter().map(|alarm| {
        format!(
            "limit of {} degC: guard band {:.2} K, last reading that is no alarm {:.1} degC",
            alarm.limit_c,
            alarm.guard_k,
            f64::from(alarm.quiet_tenths) / 10.0
        )
    }))
}

/// Terms, totals and alarms.
pub(super) fn temperature(budget: &TemperatureBudget) -> String {
    let terms = table(&term_headings(budget), 1, term_rows(budget));
    let totals = table(TOTAL_HEADINGS, 2, total_rows(budget));
    let mut text = format!("{TERMS}\n{terms}\n{TOTALS}\n{totals}");
    for line in lines(budget) {
        text += &line;
        text.push('\n');
    }
    text
}
