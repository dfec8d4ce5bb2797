//! `tallyvolt report FILE... --out PAGE.html`

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::destination::{Destination, as_seen_from};
use super::{Exit, Trials, failure};
use crate::choose::budget::monte_carlo::Run;
use crate::cli::progress::Progress;
use crate::describe::front_end_file;
use crate::picture::curves::Curves;
use crate::picture::page::page;
use crate::words;

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
    tallyvolt: &'static str,
    holds: bool,
    out: Option<String>,
    /// `written` or `unchanged`, of the page.
    outcome: Option<&'static str>,
    front_ends: Vec<&'a Curves>,
    caution: &'static str,
}

pub(super) fn run(options: &Options) -> Exit {
    match report(options) {
        Ok(exit) | Err(exit) => exit,
    }
}

fn report(options: &Options) -> Result<Exit, Exit> {
    let Made {
        curves: made,
        inputs,
    } = curves(&options.files, Some(options.trials.run()))?;
    let made: Vec<(String, Curves)> = made
        .into_iter()
        .map(|(file, curves)| (as_seen_from(&options.destination.out, &file), curves))
        .collect();
    let holds = made.iter().all(|(_, curves)| curves.check.holds);
    let out = options.destination.file();
    let page = page(&made);
    let outcome = match &out {
        Some(_) => Some(options.destination.put(&page, &inputs)?),
        None => None,
    };
    if options.json {
        failure::print_json(&Output {
            tallyvolt: env!("CARGO_PKG_VERSION"),
            holds,
            out,
            outcome,
            front_ends: made.iter().map(|(_, curves)| curves).collect(),
            caution: words::cautions::CAUTION,
        })?;
    } else if out.is_none() {
        failure::print(&page)?;
    }
    Ok(if holds { Exit::Holds } else { Exit::Fails })
}

/// The curves of every file, and all files that they were read from.
pub(super) struct Made {
    pub(super) curves: Vec<(PathBuf, Curves)>,
    pub(super) inputs: Vec<PathBuf>,
}

/// The curves of every file; all bad files are shown before anything is worked out.
pub(super) fn curves(files: &[PathBuf], run: Option<Run>) -> Result<Made, Exit> {
    let mut front_ends = Vec::new();
    let mut inputs = Vec::new();
    let mut any_bad = false;
    for file in files {
        match front_end_file::read(file) {
            Ok(front_end) => {
                inputs.extend(front_end_file::inputs(file, &front_end));
                front_ends.push((file.clone(), front_end));
            }
            Err(error) => {
                failure::show(error);
                any_bad = true;
            }
        }
    }
    if any_bad {
        return Err(Exit::BadInput);
    }
    let work = front_ends
        .iter()
        .map(|(_, front_end)| Curves::work(front_end, run))
        .sum();
    let progress = Progress::of(work, "counts and trials");
    let curves: Result<_, Exit> = front_ends
        .into_iter()
        .map(
            |(file, front_end)| match Curves::of(&front_end, run, |done| progress.advance(done)) {
                Ok(curves) => Ok((file, curves)),
                Err(error) => {
                    failure::say(&format!("{}: {error}", file.display()));
                    Err(Exit::BadInput)
                }
            },
        )
        .collect();
    Ok(Made {
        curves: curves?,
        inputs,
    })
}
