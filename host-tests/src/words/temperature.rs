//! The budget of a temperature in tables, for people.

use super::numbers::figures;
use super::sheet::table;
use crate::choose::budget::temperature::TemperatureBudget;

/// Terms, totals and alarms.
#[must_use]
pub(super) fn temperature(budget: &TemperatureBudget) -> String {
    let [cold, middle, hot] = budget.sites_c;
    let rows = budget.terms.iter().map(|term| {
        let [low, between, high] = term.contribution_mk.map(|mk| format!("{mk:.1}"));
        [
            term.term.to_owned(),
            format!("{} {}", figures(term.value), term.unit),
            term.distribution.clone(),
            low,
            between,
            high,
        ]
    });
    let header = format!(
        "term | value | distribution | >u at {cold} degC | >u at {middle} degC | >u at {hot} degC"
    );
    let terms = table(&header, 1, rows);
    let signed = |[low, high]: [f64; 2]| format!("{low:+.0} .. {high:+.0}");
    let rows = budget.totals.iter().map(|total| {
        [
            total.calibration.to_owned(),
            total.at_c.to_string(),
            signed(total.worst_mk),
            format!("{:.1}", total.combined_mk),
            format!("{:.0}", total.expanded_mk),
            format!("{:+.0}", total.mean_mk),
            signed(total.interval_mk),
        ]
    });
    let header = "state | >at degC | >worst | >u_c | >k u_c | >mean | >95 % by trials";
    let totals = table(header, 2, rows);
    let mut text = format!(
        "temperature: standard uncertainty of each term in mK\n{terms}\ntemperature: error of a reading in mK\n{totals}"
    );
    for alarm in &budget.alarms {
        text.push_str(&format!(
            "limit of {} degC: guard band {:.2} K, last reading that is no alarm {:.1} degC\n",
            alarm.limit_c,
            alarm.guard_k,
            f64::from(alarm.quiet_tenths) / 10.0
        ));
    }
    text
}
