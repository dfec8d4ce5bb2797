//! `tallyvolt plot FILE --of KIND --out PICTURE.svg`

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde::Serialize;

use super::destination::Destination;
use super::exit::Exit;
use super::report::curves;
use super::trials::Trials;
use super::{failure, print};
use crate::picture::plot::{Kind, alone, svg};

#[derive(Debug, Args)]
pub(super) struct Options {
    /// Front-end file (TOML).
    file: PathBuf,
    /// What the picture shows.
    #[arg(long, value_name = "KIND")]
    of: Kind,
    #[command(flatten)]
    destination: Destination,
    #[command(flatten)]
    trials: Trials,
    /// Print what was done as JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Output<'a> {
    front_end: &'a str,
    of: Kind,
    out: Option<String>,
    /// `printed`, `written` or `unchanged`.
    outcome: &'static str,
    /// The picture, where it was not written to a file.
    text: Option<&'a str>,
}

pub(super) fn run(options: &Options) -> Result<Exit, Exit> {
    let run = options.of.needs_budget().then(|| options.trials.run());
    let made = curves(std::slice::from_ref(&options.file), run)?;
    let Some((file, curves)) = made.curves.first() else {
        return Err(Exit::BadInput);
    };
    let Some(picture) = svg(curves, options.of).map(|picture| alone(&picture)) else {
        let kind = options.of.to_possible_value();
        return Err(failure::bad_input(format_args!(
            "{}: --of {}: {}; `tallyvolt report` shows every picture there is",
            file.display(),
            kind.as_ref().map_or("", |kind| kind.get_name()),
            options.of.lacking()
        )));
    };
    let outcome = options.destination.put(&picture, &made.inputs)?;
    let text = outcome.is_none().then_some(picture.as_str());
    let output = Output {
        front_end: &curves.name,
        of: options.of,
        out: options.destination.file(),
        outcome: outcome.unwrap_or("printed"),
        text,
    };
    print::document(options.json, output, text.unwrap_or_default())?;
    Ok(Exit::Holds)
}
