//! A divider search as a table, for people.

use super::findings;
use super::numbers::{grouped, told};
use super::sheet::{labelled, table, text_width};
use super::wrapping::wrapped;
use tallyvolt_analysis::choose::divider::found::Found;

/// The search: what was asked for, and the best pairs.
pub fn found(found: &Found, file: &str) -> String {
    let constraints = &found.constraints;
    let or_none = |value: Option<f64>, unit: &str, key: &str| {
        value.map_or_else(
            || format!("none in the file ({key})"),
            |value| format!("at most {value:.1} {unit}"),
        )
    };
    let mut text = format!("{}  ({file})\n", found.name);
    text += &labelled([
        (
            "series",
            format!("IEC 60063 {}, 100 ohm to 10 Mohm", found.series),
        ),
        (
            "must read",
            format!(
                "{} mV on every board within its limits, with {} mV of headroom",
                constraints.must_read_mv, constraints.headroom_mv
            ),
        ),
        (
            "drain from the fullest cell",
            or_none(constraints.drain_max_ua, "uA", "divider.drain_max_ua"),
        ),
        (
            "source resistance",
            or_none(
                constraints.source_max_ohms,
                "ohm",
                "converter.sampling_pf and sampling_ns, or source_max_ohms",
            ),
        ),
        (
            "pairs",
            format!(
                "{} of {} fit; one for each ratio is shown",
                grouped(found.fitting as u64),
                grouped(found.pairs as u64)
            ),
        ),
    ]);
    let as_drawn = |text: &mut String| {
        let verdict = (findings::MEETS, findings::verdict(&found.findings));
        let not_met = findings::lines(&found.findings).map(|line| ("  not met", line));
        *text += "\nthe divider in the file\n";
        *text += &labelled([verdict].into_iter().chain(not_met));
    };
    if found.best.is_empty() {
        text.push_str("\nno pair meets every constraint: allow more drain, give more sampling time, or add a filter capacitor\n");
        as_drawn(&mut text);
        return text;
    }
    let header = ">top ohm | >bottom ohm | >ratio | >reads to mV | >surely to mV | >headroom mV | >step mV | >drain uA | >source ohm | \
         >settling us | why";
    let rows = found.best.iter().map(|pair| {
        [
            pair.top_ohms.to_string(),
            pair.bottom_ohms.to_string(),
            pair.ratio.clone(),
            format!("{:.1}", pair.reads_to_mv),
            format!("{:.1}", pair.surely_to_mv),
            format!("{:.1}", pair.headroom_mv),
            format!("{:.5}", pair.step_mv),
            format!("{:.2}", pair.drain_ua),
            format!("{:.0}", pair.source_ohms),
            told(pair.settling_us, "not known", |us| format!("{us:.3}")),
            pair.why.clone(),
        ]
    });
    text += &format!("\n{}", table(header, 2, rows));
    // What no pair changes is said once.
    let of_all = |line: &&String| found.best.iter().all(|pair| pair.not_met.contains(line));
    let mut not_met = |which: &str, line: &str| {
        let line = format!("{which} not met: {line}");
        text += &format!("{}\n", wrapped(&line, 2, text_width()));
    };
    let first = found.best.iter().take(1).flat_map(|pair| &pair.not_met);
    first
        .filter(of_all)
        .for_each(|line| not_met("with any pair", line));
    for pair in &found.best {
        let which = format!("{} over {}", pair.top_ohms, pair.bottom_ohms);
        let own = pair.not_met.iter().filter(|line| !of_all(line));
        own.for_each(|line| not_met(&which, line));
    }
    as_drawn(&mut text);
    text
}
