//! The table of a fitted batch, and a large batch in three lines.

use std::fmt::Write as _;

use super::numbers::told;
use super::sheet::{Sheet, labelled, text_width};
use super::wrapping::wrapped;
use tallyvolt_analysis::calibrate::fit::Batch;
use tallyvolt_analysis::calibrate::fit::module::{Fit, ModuleFit};
use tallyvolt_analysis::calibrate::fit::uncertainty::Parameters;
use tallyvolt_analysis::calibrate::fit::verdict::Verdict;

/// Batches up to this size are shown whole; of larger ones the suspects, as many.
pub(super) const SHOWN: usize = 64;

/// What the table's headings mean.
const WORDS: &str = "u: standard uncertainty of the figure before it, one standard deviation of what it may be off; r: correlation of \
    gain and offset, near 1 or -1 where an error of one is made good by the other; reading mV 95 %: what a calibrated reading may be \
    off, anywhere in the cell's range; next point mV: the voltage at which one more reading helps most, and the figure before it then";

pub(super) fn table(batch: &Batch) -> String {
    let all = batch.modules.len() <= SHOWN;
    let shown = batch
        .modules
        .iter()
        .filter(|module| all || !module.is_good());
    let shown: Vec<&ModuleFit> = shown.take(SHOWN).collect();
    let mut table = Sheet::new(
        "module | verdict | >rows | mode | >gain | >u ppm | >offset | >u | >r | >reading mV 95 % | >next point mV",
        1,
    );
    for module in &shown {
        let cells = module.fit.as_ref().map_or_else(
            || vec![String::new(); 8],
            |fit| {
                let of = |text: &dyn Fn(&Parameters) -> String| {
                    fit.uncertainty.as_ref().map_or_else(String::new, text)
                };
                vec![
                    fit.mode.words().to_owned(),
                    format!("{:.6}", fit.gain),
                    of(&|u| format!("{:.0}", u.gain.u / fit.gain * 1e6)),
                    format!("{:+.3}", fit.offset),
                    of(&|u| format!("{:.3}", u.offset.u)),
                    of(&|u| format!("{:+.3}", u.correlation)),
                    told(fit.reading, "no interval", |reading| {
                        format!("{:.3}", reading.worst)
                    }),
                    told(fit.next_point, "", |next| {
                        format!("{:.0}: {:.3}", next.at_mv, next.then_mv)
                    }),
                ]
            },
        );
        let names = module.reasons.iter().map(|reason| reason.check.words());
        let names: Vec<&str> = names.collect();
        let verdict = match module.verdict() {
            Verdict::Good => "good".to_owned(),
            Verdict::Unchecked => "UNCHECKED".to_owned(),
            Verdict::Suspect => format!("SUSPECT: {}", names.join(", ")),
        };
        table.row(
            [module.module.clone(), verdict, module.rows.to_string()]
                .into_iter()
                .chain(cells),
        );
    }
    let mut text = String::new();
    if !shown.is_empty() {
        text.push_str(&table.fitted());
        let _ = writeln!(text, "{}", wrapped(WORDS, 2, text_width()));
    }
    if shown.len() < batch.modules.len() {
        text.push_str(&spread(batch));
        let _ = writeln!(
            text,
            "  not every module is shown: --json and --csv have them all"
        );
    }
    text
}

/// A large batch in three lines.
fn spread(batch: &Batch) -> String {
    let of = |value: fn(&Fit) -> Option<f64>| {
        let good = batch.modules.iter().filter(|module| module.is_good());
        let values = good.filter_map(|module| module.fit.as_ref().and_then(value));
        let mut values: Vec<f64> = values.collect();
        values.sort_by(f64::total_cmp);
        let last = values.len().saturating_sub(1) as f64;
        [0.0, 0.5, 1.0].map(|part| {
            let value = values.get((last * part).round() as usize);
            value.copied().unwrap_or(f64::NAN)
        })
    };
    let [low, mid, high] = of(|fit| Some(fit.gain));
    let gains = format!("{low:.6} to {high:.6}, median {mid:.6}");
    let [low, mid, high] = of(|fit| Some(fit.offset));
    let offsets = format!("{low:+.3} to {high:+.3} counts, median {mid:+.3}");
    let [low, mid, high] = of(|fit| fit.reading.map(|reading| reading.worst));
    let readings = format!("+-{low:.3} to {high:.3} mV, median {mid:.3}");
    labelled([
        ("good modules: gain", gains),
        ("offset", offsets),
        ("largest reading, 95 %", readings),
    ])
}
