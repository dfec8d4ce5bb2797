//! Gain only, or gain and offset: chosen by the data unless asked for.

use super::bench::Bench;
use super::mode::Mode;
use super::verdict::{Check, Reason, SPAN_MIN};

/// The mode and why; none where nothing can be fitted.
///
/// `spread` is the part of the cell's range that the voltages span, 0 to 1.
pub fn choose(
    bench: &Bench<'_>,
    voltages: usize,
    spread: f64,
    reasons: &mut Vec<Reason>,
) -> Option<(Mode, String)> {
    let percent = spread * 100.0;
    if voltages == 0 {
        reasons.push(Check::TooClose.found("no reading that can be used"));
        return None;
    }
    if voltages > 1 && spread < SPAN_MIN && bench.settings.mode != Some(Mode::GainOnly) {
        let found = format!(
            "{voltages} voltages span {percent:.1} % of the cell's range, an offset needs {:.0} %",
            SPAN_MIN * 100.0
        );
        reasons.push(Check::TooClose.found(found));
    }
    match bench.settings.mode {
        Some(Mode::GainAndOffset) if voltages < 2 => {
            let found = "one voltage gives no offset: read a second, or fit the gain only";
            reasons.push(Check::TooClose.found(found));
            None
        }
        Some(mode) => Some((mode, "as asked".to_owned())),
        None if voltages == 1 => Some((Mode::GainOnly, "one voltage gives one value".to_owned())),
        None => {
            let (mode, which) = if spread < SPAN_MIN {
                (Mode::GainOnly, "the voltages span only".to_owned())
            } else {
                (Mode::GainAndOffset, format!("{voltages} voltages span"))
            };
            Some((mode, format!("{which} {percent:.1} % of the cell's range")))
        }
    }
}
