//! `tallyvolt report FILE... --out PAGE.html`

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::destination::{Destination, as_seen_from};
use super::exit::Exit;
use super::progress::Progress;
use super::trials::Trials;
use super::{failure, print};
use crate::picture::curves::Curves;
use crate::picture::page::page;
use tallyvolt_analysis::choose::budget::monte_carlo::Run;
use tallyvolt_analysis::describe::front_end_file;

#[derive(Debug, Args)]
pub(super) struct Options {
    /// Front-end files (TOML).
    #[arg(required = true)]
    files: Vec<PathBuf>,
    #[command(flatten)]
    destination: Destination,
    #[command(flatten)]
    trials: Trials,
    /// Print the numbers of the page as JSON; the page itself goes to a file only.
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Output<'a> {
    holds: bool,
    out: Option<String>,
    /// `written` or `unchanged`, of the page.
    outcome: Option<&'static str>,
    front_ends: Vec<&'a Curves>,
}

pub(super) fn run(options: &Options) -> Result<Exit, Exit> {
    let Made {
        curves: made,
        inputs,
    } = curves(&options.files, Some(options.trials.run()))?;
    let made: Vec<(String, Curves)> = made
        .into_iter()
        .map(|(file, curves)| (as_seen_from(&options.destination.out, &file), curves))
        .collect();
    let holds = made.iter().all(|(_, curves)| curves.check.holds);
    let page = page(&made);
    let outcome = options.destination.put(&page, &inputs)?;
    let output = Output {
        holds,
        out: options.destination.file(),
        outcome,
        front_ends: made.iter().map(|(_, curves)| curves).collect(),
    };
    let shown = if outcome.is_none() { &*page } else { "" };
    print::document(options.json, output, shown)?;
    Ok(Exit::of(holds))
}

/// The curves of every file, and all files that they were read from.
pub(super) struct Made {
    pub(super) curves: Vec<(PathBuf, Curves)>,
    pub(super) inputs: Vec<PathBuf>,
}

/// The curves of every file; all bad files are shown before anything is worked out.
pub(super) fn curves(files: &[PathBuf], run: Option<Run>) -> Result<Made, Exit> {
    let (front_ends, bad) = failure::read_all(files, front_end_file::read);
    failure::show_all(bad)?;
    let inputs = front_ends
        .iter()
        .flat_map(|(file, front_end)| front_end_file::inputs(file, front_end))
        .collect();
    let work = front_ends
        .iter()
        .map(|(_, front_end)| Curves::work(front_end, run))
        .sum();
    let progress = Progress::of(work, "counts and trials");
    let curves = front_ends
        .into_iter()
        .map(|(file, front_end)| {
            let curves = Curves::of(&front_end, run, &|done| progress.advance(done));
            Ok((file.clone(), failure::of_file(file, curves)?))
        })
        .collect::<Result<_, Exit>>()?;
    Ok(Made { curves, inputs })
}
