//! `tallyvolt cost [FILE]`

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;
use tallyvolt_cost::chip::Chip;
use tallyvolt_cost::energy::{Charge, Samples, charges};
use tallyvolt_cost::error::CostError;
use tallyvolt_cost::figure::{Costs, Origin};
use tallyvolt_cost::recorded::{self, Verdict};
use tallyvolt_cost::toolchain::Choice;
use tallyvolt_model::front_end::FrontEnd;

use super::exit::Exit;
use super::{failure, print};
use crate::cost::measure::measure;
use crate::words::cost as text;
use tallyvolt_analysis::files::output_file::Place;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Front-end file (TOML) whose own constants are measured; without it the usual set is.
    file: Option<PathBuf>,
    /// Print JSON instead of text.
    #[arg(long)]
    json: bool,
    /// Print tables as Markdown, for a page.
    #[arg(long, conflicts_with = "json")]
    markdown: bool,
    /// Print the committed table; nothing is run.
    #[arg(long, conflicts_with_all = ["file", "compare", "record"])]
    recorded: bool,
    /// Fail when a figure exceeds the committed one (same compilers only).
    #[arg(long, conflicts_with = "file")]
    compare: bool,
    /// Write the figures as the committed ones.
    #[arg(long, conflicts_with = "file")]
    record: bool,
    /// Measure these cores only.
    #[arg(long, value_enum)]
    core: Vec<Chip>,
    /// Measure these ways only, which is quicker.
    #[arg(long, value_enum, conflicts_with_all = ["recorded", "compare", "record"])]
    by: Vec<Origin>,
    /// Use this Rust toolchain only.
    #[arg(long, value_enum, default_value = "any")]
    toolchain: Choice,
    /// Where images are built.
    #[arg(long, default_value = "target/cost")]
    build_dir: PathBuf,
}

#[derive(Serialize)]
struct Output<'a> {
    /// Where the figures come from: `measured in this run`, or `recorded`.
    figures: &'static str,
    holds: bool,
    cores: &'a [Costs],
    charges: &'a [Charge],
    budget: &'a [String],
}

pub(super) fn run(arguments: &Arguments) -> Result<Exit, Exit> {
    let own = arguments.file.as_deref().map(failure::read).transpose()?;
    let chips = if arguments.core.is_empty() {
        &Chip::ALL[..]
    } else {
        &arguments.core[..]
    };
    let mut cores = Vec::new();
    for chip in chips {
        let costs = if arguments.recorded {
            recorded::read(*chip)
        } else {
            measured(*chip, arguments, own.as_ref())
        };
        let failed = |error| failure::bad_input(format_args!("{}: {error}", chip.word()));
        cores.push(costs.map_err(failed)?);
    }
    let (budget, within) = budget(arguments, chips, &cores).map_err(failure::bad_input)?;
    let energy = own
        .as_ref()
        .and_then(|front_end| Some((front_end.energy.as_ref()?, samples(front_end))));
    let charges: Vec<Charge> = energy.map_or_else(Vec::new, |(energy, samples)| {
        let each = cores.iter();
        each.flat_map(|costs| charges(costs, energy, samples))
            .collect()
    });
    let holds = within && cores.iter().all(Costs::hold);
    let output = Output {
        figures: if arguments.recorded {
            "recorded"
        } else {
            "measured in this run"
        },
        holds,
        cores: &cores,
        charges: &charges,
        budget: &budget,
    };
    print::result(arguments.json, &output, || {
        text_of(&output, own.is_some(), arguments)
    })?;
    Ok(Exit::of(holds))
}

fn samples(front_end: &FrontEnd) -> Samples {
    Samples {
        cell: front_end.converter.samples,
        sensor: front_end.thermistor.as_ref().map(|sensor| sensor.samples),
    }
}

fn measured(chip: Chip, arguments: &Arguments, own: Option<&FrontEnd>) -> Result<Costs, CostError> {
    // The compilers run in other folders than this one.
    let folder = std::path::absolute(&arguments.build_dir)
        .map_err(|error| CostError::file(&arguments.build_dir, error))?;
    measure(
        chip,
        arguments.toolchain,
        own,
        &arguments.by,
        Path::new(&folder),
    )
}

/// Compares with the committed figures, or writes them; the lines to show, and whether all is within.
fn budget(
    arguments: &Arguments,
    chips: &[Chip],
    cores: &[Costs],
) -> Result<(Vec<String>, bool), CostError> {
    let mut lines = Vec::new();
    let mut within = true;
    for (chip, costs) in chips.iter().zip(cores) {
        if arguments.record {
            record(*chip, costs)?;
            lines.push(format!("{}: recorded", chip.word()));
        }
        if !arguments.compare {
            continue;
        }
        match recorded::compare(&recorded::read(*chip)?, costs) {
            Verdict::Within(figures) => {
                lines.push(format!("{}: {figures} figures within budget", chip.word()))
            }
            Verdict::OtherCompiler { recorded, measured } => lines.push(format!(
                "{}: not compared, the budget holds for {recorded} and this is {measured}",
                chip.word()
            )),
            Verdict::Exceeds(exceeded) => {
                within = false;
                lines.extend(
                    exceeded
                        .into_iter()
                        .map(|line| format!("{}: EXCEEDS {line}", chip.word())),
                );
            }
        }
    }
    Ok((lines, within))
}

/// Writes a core's figures as the new budget.
fn record(chip: Chip, costs: &Costs) -> Result<(), CostError> {
    let path = recorded::path(chip);
    let written = Place::new(&path, true, &[]).write(recorded::text(costs)?.as_bytes());
    let written = written.map(drop);
    written.map_err(|error| CostError::file(&path, error))
}

fn text_of(output: &Output<'_>, own: bool, arguments: &Arguments) -> String {
    let mut shown = if output.figures == "recorded" {
        "RECORDED figures, as committed; nothing was run. Without --recorded they are measured.\n\n"
            .to_owned()
    } else {
        String::new()
    };
    for costs in output.cores {
        shown += &if arguments.markdown {
            text::markdown(costs)
        } else {
            text::table(costs)
        };
        shown.push('\n');
    }
    if output.cores.len() > 1 {
        for table in [text::overview(output.cores), text::loads(output.cores)] {
            let table = if arguments.markdown {
                table.markdown() + "\n"
            } else {
                table.fitted()
            };
            shown += &format!("\n{table}");
        }
    }
    if !output.charges.is_empty() {
        shown += &text::charges(output.charges);
    }
    if own {
        shown += "\nfor compare, one of these in the file:\n\n";
        shown.extend(output.cores.iter().map(text::measured_tables));
    }
    for line in output.budget {
        shown += &format!("budget: {line}\n");
    }
    shown.truncate(shown.trim_end().len());
    shown + "\n"
}
