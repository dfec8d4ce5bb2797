//! A fitted batch in words.

use std::fmt::Write as _;

use super::module::{Fit, ModuleFit};
use super::readings::Readings;
use super::records::hex_text;
use super::{Batch, Settings};
use crate::front_end::FrontEnd;
use crate::report::sheet::{Sheet, text_width};
use crate::report::{caution, grouped, wrapped};

/// Batches up to this size are shown whole; of larger ones the suspects, as many.
const SHOWN: usize = 64;
/// Modules up to this number get a block each.
const BLOCKS: usize = 4;
/// Columns of labels.
const INDENT: usize = 30;

/// The batch for people.
#[must_use]
pub fn text(
    front_end: &FrontEnd,
    settings: &Settings,
    batch: &Batch,
    readings: &Readings,
    file: &str,
) -> String {
    let mut text = head(front_end, settings, batch, readings, file);
    if batch.modules.len() <= BLOCKS {
        for module in &batch.modules {
            text.push_str(&block(module));
        }
    }
    text.push_str(&table(batch));
    let suspects: Vec<&ModuleFit> = batch
        .modules
        .iter()
        .filter(|module| !module.is_good())
        .collect();
    for module in suspects.iter().take(SHOWN) {
        for reason in &module.reasons {
            let label = format!("{}: {}", module.module, reason.check.words());
            let _ = writeln!(
                text,
                "  {label}: {}",
                wrapped(&reason.found, label.len() + 4, text_width())
            );
        }
    }
    let _ = writeln!(
        text,
        "{} modules, {} good, {} suspect; a suspect module gets no record\n\n{}",
        grouped(batch.modules.len() as u64),
        grouped((batch.modules.len() - suspects.len()) as u64),
        grouped(suspects.len() as u64),
        caution()
    );
    text
}

/// One word.
pub(super) fn verdict(module: &ModuleFit) -> &'static str {
    if module.is_good() { "good" } else { "suspect" }
}

fn lines(text: &mut String, rows: Vec<(&str, String)>) {
    for (label, value) in rows {
        let _ = writeln!(
            text,
            "  {label:<27} {}",
            wrapped(&value, INDENT, text_width())
        );
    }
}

fn head(
    front_end: &FrontEnd,
    settings: &Settings,
    batch: &Batch,
    readings: &Readings,
    file: &str,
) -> String {
    let meter = &settings.meter;
    let [min, nominal, max] = batch.transfer.cell_mv;
    let stated = if meter.is_ideal() {
        "taken as ideal: give its data sheet's figures (--meter-ppm-reading, ...)".to_owned()
    } else {
        format!(
            "at most {:.3} mV off at {min:.0} mV, {:.3} at {nominal:.0}, {:.3} at {max:.0}; display rounds to {} mV",
            meter.limit_mv(min),
            meter.limit_mv(nominal),
            meter.limit_mv(max),
            meter.resolution_mv
        )
    };
    let noise = &batch.noise;
    let degrees = noise.degrees.map_or_else(String::new, |degrees| {
        format!(", {degrees:.0} degrees of freedom")
    });
    let mut text = format!("{}  ({file})\n", front_end.name);
    lines(
        &mut text,
        vec![
            ("topology", front_end.topology.word().replace('-', " ")),
            (
                "fingerprint",
                format!("{:08x}", batch.transfer.fingerprint().0),
            ),
            ("read as", readings.understood.clone()),
            (
                "rows",
                format!(
                    "{}, {} bad",
                    grouped(readings.rows),
                    grouped(readings.bad_rows)
                ),
            ),
            ("meter", stated),
            (
                "converter noise",
                format!(
                    "{:.3} counts rms from {}{degrees}",
                    noise.per_count,
                    noise.source.words()
                ),
            ),
            (
                "shared within a voltage",
                format!(
                    "{:.3} counts: rounding that noise leaves, and nonlinearity as stated",
                    noise.per_level
                ),
            ),
        ],
    );
    text.push('\n');
    text
}

fn block(module: &ModuleFit) -> String {
    let mut text = format!("{}  {}\n", module.module, verdict(module));
    if let Some(fit) = &module.fit {
        lines(&mut text, details(module, fit));
    }
    text.push('\n');
    text
}

fn details(module: &ModuleFit, fit: &Fit) -> Vec<(&'static str, String)> {
    let uncertainty = &fit.uncertainty;
    let reading = &fit.reading;
    let degrees = |degrees: Option<f64>| {
        degrees.map_or_else(|| "infinite".to_owned(), |degrees| format!("{degrees:.1}"))
    };
    let mut rows = vec![
        ("mode", format!("{}: {}", fit.mode.words(), fit.mode_reason)),
        (
            "gain",
            format!(
                "{:.7}, standard uncertainty {:.7}",
                fit.gain, uncertainty.gain.u
            ),
        ),
        (
            "offset",
            format!(
                "{:+.4} counts, standard uncertainty {:.4}",
                fit.offset, uncertainty.offset.u
            ),
        ),
        ("correlation", format!("{:+.4}", uncertainty.correlation)),
        (
            "degrees of freedom",
            format!(
                "{} rows less values; effective: gain {}, offset {}, reading {}",
                fit.degrees,
                degrees(uncertainty.gain.degrees),
                degrees(uncertainty.offset.degrees),
                degrees(reading.degrees)
            ),
        ),
        (
            "calibrated reading, 95 %",
            format!(
                "+-{:.3} mV at the cell's minimum, {:.3} nominal, {:.3} maximum; largest {:.3} at {:.0} mV",
                reading.at_min,
                reading.at_nominal,
                reading.at_max,
                reading.worst,
                reading.worst_at_mv
            ),
        ),
        (
            "one more point",
            fit.next_point.map_or_else(
                || "none helps".to_owned(),
                |next| {
                    format!(
                        "at {:.0} mV: largest becomes {:.3} mV",
                        next.at_mv, next.then_mv
                    )
                },
            ),
        ),
        (
            "residuals, counts",
            fit.residuals
                .iter()
                .map(|residual| format!("{:+.2} at {:.0} mV", residual.counts, residual.mv))
                .collect::<Vec<_>>()
                .join(", "),
        ),
    ];
    if let Some(stored) = &fit.stored {
        rows.push((
            "words",
            format!(
                "gain {} / 2^24, offset {} / 256; firmware reads within {:.3} mV of the fit",
                stored.gain_word, stored.offset_word, stored.rounding_mv
            ),
        ));
    }
    if module.is_good()
        && let Some(record) = module.record()
    {
        rows.push(("record", hex_text(record)));
    }
    rows
}

/// What the table's headings mean.
const WORDS: &str = "u: standard uncertainty of the figure before it, one standard deviation of what it may be off; r: correlation of \
    gain and offset, near 1 or -1 where an error of one is made good by the other; reading mV 95 %: what a calibrated reading may be \
    off, anywhere in the cell's range; next point mV: the voltage at which one more reading helps most, and the figure before it then";

fn table(batch: &Batch) -> String {
    let shown: Vec<&ModuleFit> = if batch.modules.len() <= SHOWN {
        batch.modules.iter().collect()
    } else {
        batch
            .modules
            .iter()
            .filter(|module| !module.is_good())
            .take(SHOWN)
            .collect()
    };
    let mut table = Sheet::new(
        [
            "module",
            "verdict",
            "rows",
            "mode",
            "gain",
            "u ppm",
            "offset",
            "u",
            "r",
            "reading mV 95 %",
            "next point mV",
        ],
        &[0, 1, 3],
        1,
    );
    for module in &shown {
        let cells = module.fit.as_ref().map_or_else(
            || vec![String::new(); 8],
            |fit| {
                vec![
                    fit.mode.words().to_owned(),
                    format!("{:.6}", fit.gain),
                    format!("{:.0}", fit.uncertainty.gain.u / fit.gain * 1e6),
                    format!("{:+.3}", fit.offset),
                    format!("{:.3}", fit.uncertainty.offset.u),
                    format!("{:+.3}", fit.uncertainty.correlation),
                    format!("{:.3}", fit.reading.worst),
                    fit.next_point.map_or_else(String::new, |next| {
                        format!("{:.0}: {:.3}", next.at_mv, next.then_mv)
                    }),
                ]
            },
        );
        let names: Vec<&str> = module
            .reasons
            .iter()
            .map(|reason| reason.check.words())
            .collect();
        let verdict = if module.is_good() {
            "good".to_owned()
        } else {
            format!("SUSPECT: {}", names.join(", "))
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
    let of = |value: fn(&Fit) -> f64| {
        let mut values: Vec<f64> = batch
            .modules
            .iter()
            .filter(|module| module.is_good())
            .filter_map(|module| module.fit.as_ref().map(value))
            .collect();
        values.sort_by(f64::total_cmp);
        let at = |part: f64| {
            values
                .get(((values.len().saturating_sub(1)) as f64 * part).round() as usize)
                .copied()
                .unwrap_or(f64::NAN)
        };
        [at(0.0), at(0.5), at(1.0)]
    };
    let mut text = String::new();
    let [low, mid, high] = of(|fit| fit.gain);
    let gains = format!("{low:.6} to {high:.6}, median {mid:.6}");
    let [low, mid, high] = of(|fit| fit.offset);
    let offsets = format!("{low:+.3} to {high:+.3} counts, median {mid:+.3}");
    let [low, mid, high] = of(|fit| fit.reading.worst);
    let readings = format!("+-{low:.3} to {high:.3} mV, median {mid:.3}");
    lines(
        &mut text,
        vec![
            ("good modules: gain", gains),
            ("offset", offsets),
            ("largest reading, 95 %", readings),
        ],
    );
    text
}
