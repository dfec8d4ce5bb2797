//! A fitted batch as a page: gain and offset of every module with their intervals, suspects first.

use std::path::Path;

use maud::{Markup, html};

use super::frame::{BREAK, Frame};
use super::glance::{Tile, of_all, tiles};
use super::pictures::picture_under;
use super::tables::{cell, table};
use crate::picture::curves::values::near_millivolts;
use crate::picture::plot::batch::{Interval, svg};
use crate::words::fit::Fitted;
use crate::words::numbers::{grouped, told};
use tallyvolt_analysis::calibrate::fit::Batch;
use tallyvolt_analysis::calibrate::fit::module::{Fit, ModuleFit};
use tallyvolt_analysis::calibrate::fit::verdict::Verdict;

/// Of larger batches only those that are not good have a row, up to as many.
const ROWS: usize = 200;

/// The page of a batch; of the front end and of the readings the files as typed.
pub fn page(fitted: Fitted<'_>, front_end_file: &Path, readings_file: &Path) -> String {
    let Fitted {
        front_end,
        batch,
        readings,
        ..
    } = fitted;
    let doubtful = batch.modules.iter().filter(|module| !module.is_good());
    let doubtful: Vec<&ModuleFit> = doubtful.collect();
    let there = [Verdict::Suspect, Verdict::Unchecked].map(|of| fitted.of(of).next().is_some());
    let (heading, mark) = match there {
        [true, true] => ("Suspect or unchecked", "suspect or unchecked"),
        [false, true] => ("Unchecked", "unchecked"),
        _ => ("Suspects", "suspect"),
    };
    let glance = html! {
        (tiles(&figures(fitted)))
        div.pictures {
            (BREAK)
            (picture("Gain of every module", "gain", batch, |fit| {
                (fit.gain, fit.uncertainty.map_or(0.0, |of| of.gain.expanded))
            }))
            (picture("Offset of every module", "offset, counts of one sample", batch, |fit| {
                (fit.offset, fit.uncertainty.map_or(0.0, |of| of.offset.expanded))
            }))
        }
        (BREAK)
    };
    let mut parts = vec![("glance", "At a glance", glance)];
    if !doubtful.is_empty() {
        parts.push(("suspects", heading, reasons(&doubtful)));
    }
    parts.push(("modules", "Modules", modules(batch)));
    Frame::of_modules(
        "Calibration of a batch",
        front_end,
        (doubtful.len(), batch.modules.len()),
        ["all good", mark],
        html! {
            "Readings " code { (readings_file.display()) } " of front end " code { (front_end_file.display()) } ": "
            (grouped(readings.rows)) " rows, " (grouped(readings.bad_rows)) " bad."
        },
        &parts,
    )
}

fn figures(fitted: Fitted<'_>) -> [Tile; 4] {
    let (settings, batch) = (fitted.settings, fitted.batch);
    let good = || fitted.of(Verdict::Good);
    let readings = good().filter_map(|module| module.fit.as_ref()?.reading);
    let worst = readings.map(|reading| reading.worst).reduce(f64::max);
    let nominal_mv = batch.transfer.cell_mv[1];
    let (limit, meter) = if settings.meter.is_ideal() {
        let note = "the meter is taken as ideal: give its data sheet's figures";
        ("not stated".to_owned(), note.to_owned())
    } else {
        let note = format!("at {:.2} V, as its data sheet has it", nominal_mv / 1000.0);
        (near_millivolts(settings.meter.limit_mv(nominal_mv)), note)
    };
    let unchecked = told(fitted.unchecked(), "", |unchecked| format!("{unchecked}; "));
    [
        Tile::new(
            "Good modules",
            of_all(good().count(), batch.modules.len()),
            format!("{unchecked}a suspect module gets no record"),
        ),
        Tile::new(
            "Calibrated reading",
            told(worst, "none", |mv| {
                format!("within {}", near_millivolts(mv))
            }),
            "95 %, of the worst good module, where it is largest in the cell's range",
        ),
        Tile::new("Meter's limit of error", limit, meter),
        Tile::new(
            "Converter noise",
            format!("{:.2} counts", batch.noise.per_count),
            format!("root mean square, from {}", batch.noise.source.words()),
        ),
    ]
}

fn picture(title: &str, what: &str, batch: &Batch, of: impl Fn(&Fit) -> (f64, f64)) -> Markup {
    let intervals: Vec<Interval> = batch
        .modules
        .iter()
        .filter_map(|module| {
            let (value, half) = of(module.fit.as_ref()?);
            Some(Interval {
                module: module.module.clone(),
                value,
                half,
                suspect: module.verdict() == Verdict::Suspect,
            })
        })
        .collect();
    if intervals.is_empty() {
        return html! { p { "No module has a fit." } (BREAK) };
    }
    picture_under(title, &svg(title, what, &intervals))
}

fn reasons(doubtful: &[&ModuleFit]) -> Markup {
    let columns = "module | check | what it found";
    let rows = doubtful.iter().take(ROWS).flat_map(|module| {
        let found = module.reasons.iter();
        let found = found.map(|reason| (reason.check.words(), reason.found.as_str()));
        let unchecked = module.unchecked.iter();
        let unchecked = unchecked.filter(|_| module.verdict() == Verdict::Unchecked);
        let unchecked = unchecked.map(|why| ("unchecked", why.as_str()));
        found.chain(unchecked).map(|(check, found)| {
            vec![
                cell(module.module.as_str()),
                html! { span.fails { (check) } },
                cell(found),
            ]
        })
    });
    html! {
        (table("Every reason that was found", columns, rows))
        (left_out(doubtful.len(), "such modules"))
    }
}

fn modules(batch: &Batch) -> Markup {
    let all = batch.modules.len() <= ROWS;
    let shown = batch.modules.iter();
    let shown = shown.filter(|module| all || !module.is_good());
    let shown: Vec<&ModuleFit> = shown.take(ROWS).collect();
    let columns =
        "module | verdict | >rows | >voltages | fitted | >gain | >offset | >calibrated reading";
    let rows = shown.iter().map(|module| {
        let verdict = match module.verdict() {
            Verdict::Good => html! { span.holds { "good" } },
            Verdict::Unchecked => html! { span.fails { "unchecked" } },
            Verdict::Suspect => html! { span.fails { "suspect" } },
        };
        let fitted = module.fit.as_ref();
        let of = |text: fn(&Fit) -> String| cell(told(fitted, "-", text));
        vec![
            cell(module.module.as_str()),
            verdict,
            cell(module.rows.to_string()),
            cell(module.voltages.to_string()),
            of(|fit| fit.mode.words().to_owned()),
            of(|fit| match fit.uncertainty {
                Some(u) => format!("{:.6} ± {:.6}", fit.gain, u.gain.expanded),
                None => format!("{:.6}, no interval", fit.gain),
            }),
            of(|fit| match fit.uncertainty {
                Some(u) => format!("{:+.3} ± {:.3}", fit.offset, u.offset.expanded),
                None => format!("{:+.3}, no interval", fit.offset),
            }),
            of(|fit| {
                told(fit.reading, "no interval", |reading| {
                    format!("± {}", near_millivolts(reading.worst))
                })
            }),
        ]
    });
    html! {
        p.note {
            "Gain is a factor on the voltage, offset is in counts of one sample; behind each stands half of its 95 % interval."
        }
        (BREAK)
        @if !shown.is_empty() { (table("Gain and offset", columns, rows)) }
        (left_out(batch.modules.len(), "modules"))
    }
}

/// What is said where not everything has a row.
fn left_out(number: usize, what: &str) -> Markup {
    html! {
        @if number > ROWS {
            p.note {
                "Of " (grouped(number as u64)) " " (what) " not every one has a row here: " code { "--csv" } " and "
                code { "--json" } " have them all."
            }
            (BREAK)
        }
    }
}
