//! A replayed log as a page: modules over time, against the meter, with the limits of both.

use std::path::Path;

use maud::{Markup, html};
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::rational::in_millivolts;

use super::frame::{BREAK, Frame};
use super::glance::{Tile, of_all, tiles};
use super::pictures::picture_under;
use super::tables::{cell, table};
use crate::picture::curves::values::near_millivolts;
use crate::picture::plot::log::{Scales, errors, voltages};
use crate::words::numbers::{grouped, told};
use crate::words::replay::{NOTHING_FOUND, notes};
use tallyvolt_analysis::calibrate::fit::transfer::Transfer;
use tallyvolt_analysis::calibrate::replay::log::Largest;
use tallyvolt_analysis::calibrate::replay::trace::{Trace, traces};
use tallyvolt_analysis::calibrate::replay::{Module, Replay, Settings};
use tallyvolt_analysis::files::rows::problem::RowsError;

/// Modules that are drawn: those with findings first.
const DRAWN: usize = 12;
/// Modules that have a row.
const ROWS: usize = 200;

/// The files of a log as they were typed.
#[derive(Debug, Clone, Copy)]
pub struct Source<'a> {
    pub front_end: &'a str,
    /// The log, which is read a second time.
    pub log: &'a Path,
    /// Largest counts, as for the first reading.
    pub largest: Largest,
}

/// The page of a log.
///
/// `progress` is told bytes of the file.
///
/// # Errors
/// [`RowsError`] when the log cannot be read a second time.
pub fn page(
    front_end: &FrontEnd,
    transfer: &Transfer,
    settings: &Settings,
    replay: &Replay,
    source: &Source<'_>,
    progress: &dyn Fn(u64),
) -> Result<String, RowsError> {
    // Modules with findings, then the others, each in the order of the log.
    let mut order: Vec<&Module> = replay.modules.iter().collect();
    order.sort_by_key(|module| module.findings().is_empty());
    let drawn: Vec<&Module> = order.iter().take(DRAWN).copied().collect();
    let traces = traces(source.log, source.largest, transfer, &drawn, progress)?;
    let with_findings = |module: &&&Module| !module.findings().is_empty();
    let (found, all) = (order.iter().filter(with_findings).count(), order.len());
    let over_time = over_time(front_end, &drawn, &traces, all);
    Ok(Frame::of_modules(
        "Replay of a log",
        front_end,
        (found, all),
        [NOTHING_FOUND, "with findings"],
        html! {
            "Log " code { (source.log.display()) } " of front end " code { (source.front_end) } ": "
            (grouped(replay.end.rows)) " rows, " (grouped(replay.end.bad_rows)) " bad. Modules are read "
            @if settings.calibrations.is_some() { "as fitted." } @else { "as drawn, without calibration." }
        },
        &[
            ("glance", "At a glance", tiles(&figures(replay, found))),
            ("time", "Over time", over_time),
            ("modules", "Modules", modules(&order)),
        ],
    ))
}

fn figures(replay: &Replay, found: usize) -> [Tile; 4] {
    let modules = || replay.modules.iter();
    let compared = modules().map(|module| module.log.errors.rows).sum();
    let measured = modules().filter(|module| module.log.errors.rows > 0);
    let worst = measured.max_by(|one, other| {
        let size = |module: &Module| module.log.errors.worst_mv.abs();
        size(one).total_cmp(&size(other))
    });
    let verdicts: Vec<bool> = modules().filter_map(Module::within).collect();
    let within = verdicts.iter().filter(|within| **within).count();
    let judgement = if verdicts.is_empty() {
        let takes = "that takes a meter's readings, and --calibration or --limit-mv";
        ("not judged".to_owned(), takes)
    } else {
        (
            of_all(within, verdicts.len()),
            "modules compared with the meter",
        )
    };
    let faults = modules().map(|module| module.log.faults).sum();
    [
        Tile::new(
            "Modules with findings",
            of_all(found, replay.modules.len()),
            format!("{} rows without a voltage", grouped(faults)),
        ),
        Tile::new("Within their limit", judgement.0, judgement.1),
        Tile::new(
            "Rows with a meter's reading",
            grouped(compared),
            format!("of {}", grouped(replay.end.rows)),
        ),
        Tile::new(
            "Largest error",
            told(worst, "none", |of| near_millivolts(of.log.errors.worst_mv)),
            told(worst, "no row has a meter's reading", |module| {
                format!("{}, line {}", module.name, module.log.errors.worst_line)
            }),
        ),
    ]
}

fn over_time(front_end: &FrontEnd, drawn: &[&Module], traces: &[Trace], all: usize) -> Markup {
    let limits = front_end.limits.as_ref();
    let limits_mv = limits.map_or([None; 2], |limits| {
        [limits.under_uv, limits.over_uv].map(|uv| uv.map(in_millivolts))
    });
    let of_errors: Vec<_> = drawn.iter().map(|module| module.limit).collect();
    let scales = Scales::of(traces, limits_mv, &of_errors);
    html! {
        p.note {
            "All pictures have one scale. Where rows lie closer than the picture shows, it holds the lowest and the highest of them."
            @if all > DRAWN {
                " Of " (grouped(all as u64)) " modules " (DRAWN) " are drawn, those with findings first."
            }
        }
        (BREAK)
        @for (module, trace) in drawn.iter().zip(traces) {
            h3 { (module.name) " " (verdict(module)) } (BREAK)
            div.pictures {
                (BREAK)
                (picture_under("Voltage", &voltages(&module.name, trace, module.log.gap_s(), &scales)))
                @match errors(&module.name, trace, module.limit, &scales) {
                    Some(picture) => (picture_under("Reading less meter", &picture)),
                    None => { p.note { "No row has both a voltage and a meter's reading." } (BREAK) }
                }
            }
            (BREAK)
        }
    }
}

fn verdict(module: &Module) -> Markup {
    let findings = module.findings();
    html! {
        @if findings.is_empty() {
            span.holds { (NOTHING_FOUND) }
        } @else {
            span.fails { (findings.join(", ")) }
        }
    }
}

fn modules(order: &[&Module]) -> Markup {
    let columns = "module | verdict | >rows | >no voltage | >bias, mV | >spread, mV | >worst, mV | >limit, mV | notes";
    let rows = order.iter().take(ROWS).map(|module| {
        let log = &module.log;
        let compared = |text: String| {
            cell(if log.errors.rows > 0 {
                text
            } else {
                "-".to_owned()
            })
        };
        vec![
            cell(module.name.as_str()),
            verdict(module),
            cell(grouped(log.rows)),
            cell(grouped(log.faults)),
            compared(format!("{:+.3}", log.errors.bias_mv)),
            compared(format!("{:.3}", log.errors.spread_mv())),
            compared(format!("{:+.3}", log.errors.worst_mv)),
            cell(told(module.limit, "-", |limit| {
                format!("{:.3}", limit.mv())
            })),
            html! { @for note in notes(module) { (note) br; } },
        ]
    });
    html! {
        @if !order.is_empty() { (table("What was found", columns, rows)) }
        @if order.len() > ROWS {
            p.note { "Modules with findings come first; " code { "--json" } " has all of them." }
            (BREAK)
        }
    }
}
