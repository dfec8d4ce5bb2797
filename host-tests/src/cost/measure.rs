//! Jobs to figures: every job is linked alone for its size, run over its counts, and checked against the model.

use std::path::Path;

use serde::{Deserialize, Serialize};

use super::chip::Chip;
use super::elf::Image;
use super::emitted::{self, Emitted, Parts};
use super::images::{AWKWARD, Objects, constants};
use super::jobs::{self, Job, Origin, Task};
use super::runner::{self, Runner};
use super::toolchain::{Choice, first_line, require};
use super::{CostError, cores_folder};
use super::{channel, channel_source};
use crate::front_end::FrontEnd;
use crate::front_end_file;

/// One function's figures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Figure {
    /// What it does.
    pub what: String,
    /// `divided`, `supply`, `decimation`, or of a channel `temperature`, `filter`, `alarm`, `reading`.
    pub task: String,
    /// `portable`, `arch`, `rust`, `c` or `c, emitted`.
    pub origin: String,
    /// Fewest cycles or instructions, return included, call not.
    pub min: u64,
    /// Mean over all counts that were run.
    pub mean: f64,
    /// Most.
    pub max: u64,
    /// Bytes of flash with callees and tables.
    pub flash: u32,
    /// Bytes of static RAM; of a whole reading, with its channel's state.
    pub ram: u32,
    /// Deepest stack in bytes.
    pub stack: u32,
    /// Most hardware divisions in one call.
    pub divisions: u32,
    /// Counts run.
    pub counts: u64,
    /// Of these, every `step`-th.
    pub step: u32,
    /// Answers that differ from the exact model.
    pub wrong: u64,
    /// Whether no answer may differ.
    pub promised: bool,
    /// Rules of the image that are broken: panic, soft-float, heap, static RAM.
    pub broken_rules: Vec<String>,
}

/// The figures of one core.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Costs {
    /// The core.
    pub core: String,
    /// What is counted.
    pub basis: String,
    /// `cycles` or `instructions`.
    pub amount: String,
    /// Rust compiler and version.
    pub rust: String,
    /// C compiler and version.
    pub c: String,
    /// In the order of the jobs.
    pub figures: Vec<Figure>,
    /// Runs that are checked but not shown: counts, and wrong answers among them.
    pub checked_besides: (u64, u64),
}

impl Costs {
    /// No figures yet, of a core and a Rust compiler.
    #[must_use]
    pub fn none(chip: Chip, rust: String) -> Self {
        let c = chip.c_compiler().and_then(|(compiler, flags)| {
            let version = first_line(compiler, &["--version"])?;
            Some(format!("{version} {}", flags.last()?))
        });
        Self {
            core: chip.word().to_owned(),
            basis: chip.basis().to_owned(),
            amount: chip.amount().to_owned(),
            rust,
            c: c.unwrap_or_default(),
            figures: Vec::new(),
            checked_besides: (0, 0),
        }
    }

    /// Whether every promised answer was exact and every image kept the rules.
    #[must_use]
    pub fn hold(&self) -> bool {
        self.checked_besides.1 == 0
            && self.figures.iter().all(|figure| {
                !figure.promised || (figure.wrong == 0 && figure.broken_rules.is_empty())
            })
    }

    /// Mean of the figure with this name among the usual ways of a task.
    #[must_use]
    pub fn usual(&self, task: &str, what: &str) -> Option<f64> {
        self.figures
            .iter()
            .find(|figure| figure.task == task && figure.what == what)
            .map(|figure| figure.mean)
    }
}

/// The front ends that are measured without a file.
const FRONT_ENDS: [&str; 8] = [
    "front-ends/hut-divided-10bit.toml",
    "front-ends/hut-divided-12bit.toml",
    "front-ends/hut-divided-16bit.toml",
    "front-ends/hut-divided-12bit-x1024.toml",
    "cores/front-ends/supply-10bit.toml",
    "front-ends/hut-supply-12bit.toml",
    "front-ends/hut-supply-12bit-x16.toml",
    "cores/front-ends/supply-12bit-x1024.toml",
];

/// Those whose thermistors and channels are.
const CHANNELS: [&str; 4] = [
    "front-ends/hut-divided-thermistor.toml",
    "front-ends/hut-supply-thermistor.toml",
    "front-ends/hut-supply-10bit-thermistor.toml",
    "front-ends/hut-divided-pt1000-thermistor.toml",
];

fn read(path: &str) -> Result<FrontEnd, CostError> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    front_end_file::read(&path).map_err(|error| CostError::file(&path, error))
}

/// Measures one core: a front end's own constants, or the usual set; always beside the usual ways.
///
/// # Errors
/// [`CostError`]: missing tools, or a step that failed. No figure is made up for it.
pub fn measure(
    chip: Chip,
    choice: Choice,
    own: Option<&FrontEnd>,
    folder: &Path,
) -> Result<Costs, CostError> {
    let toolchain = require(chip, choice)?;
    let front_ends = match own {
        Some(front_end) => vec![front_end.clone()],
        None => FRONT_ENDS.into_iter().map(read).collect::<Result<_, _>>()?,
    };
    let channels = match own {
        Some(front_end) => vec![front_end.clone()],
        None => CHANNELS.into_iter().map(read).collect::<Result<_, _>>()?,
    };
    let mut described = front_ends.clone();
    described.extend(channels.iter().filter(|_| own.is_none()).cloned());
    let source = constants(&described).map_err(|error| CostError::file(&cores_folder(), error))?
        + &channel_source::constants(&channels)?;
    std::fs::create_dir_all(folder).map_err(|error| CostError::file(folder, error))?;
    let simulator = runner::build(chip, folder)?;
    let objects = Objects::compile(chip, &toolchain, &source, folder)?;

    let mut jobs: Vec<Job> = front_ends
        .iter()
        .flat_map(|front_end| jobs::of_front_end(chip, front_end))
        .collect();
    jobs.extend(jobs::decimation());
    let usual_front_ends = (read(FRONT_ENDS[1])?, read(FRONT_ENDS[5])?);
    jobs.extend(jobs::usual(chip, &usual_front_ends.0, &usual_front_ends.1));

    let mut costs = Costs::none(chip, toolchain.version);
    for from_c in [false, true] {
        let part: Vec<&Job> = jobs
            .iter()
            .filter(|job| (job.origin == Origin::C) == from_c)
            .collect();
        if part.is_empty() {
            continue;
        }
        let mut symbols: Vec<String> = part
            .iter()
            .flat_map(|job| {
                std::iter::once(job.symbol.clone()).chain(job.conversion().map(str::to_owned))
            })
            .collect();
        symbols.sort();
        symbols.dedup();
        let image = objects.link(if from_c { "all_c" } else { "all" }, &symbols, from_c)?;
        let mut runner = Runner::start(&simulator, &image)?;
        for job in part {
            run(&mut costs, chip, job, &mut runner, &objects)?;
        }
    }
    channel::measure(&mut costs, chip, &objects, &simulator, &channels)?;
    if chip.c_compiler().is_some() {
        let voltages = front_ends
            .iter()
            .map(|front_end| (front_end, Parts::Voltages));
        let sensing = channels.iter().map(|front_end| (front_end, Parts::Sensing));
        for (front_end, parts) in voltages.chain(sensing) {
            let header = emitted::header(front_end)?;
            Emitted {
                chip,
                front_end,
                header: &header,
                counts: jobs::EVERY_COUNT_TO,
                words: AWKWARD,
                portable: false,
            }
            .measure(&mut costs, parts, &simulator, folder)?;
        }
    }
    Ok(costs)
}

fn run(
    costs: &mut Costs,
    chip: Chip,
    job: &Job,
    runner: &mut Runner,
    objects: &Objects,
) -> Result<(), CostError> {
    let rows = runner.call(&job.symbol, job.result(), &job.arguments(chip))?;
    let (first, last, step) = job.sweep;
    let arguments = (first..=last).step_by(step as usize);
    let promised_rows = arguments.clone().count();
    if rows.rows.len() != promised_rows {
        return Err(CostError::Runner {
            request: job.symbol.clone(),
            answer: format!("{} rows for {promised_rows} counts", rows.rows.len()),
        });
    }
    let wrong = arguments
        .zip(&rows.rows)
        .filter(|(argument, row)| !job.is_right(*argument, row.result))
        .count() as u64;
    let counts = rows.rows.len() as u64;
    if !job.shown {
        costs.checked_besides.0 += counts;
        costs.checked_besides.1 += wrong;
        return Ok(());
    }
    let amounts = || rows.rows.iter().map(|row| row.amount);
    let alone = objects.link(
        &job.symbol,
        std::slice::from_ref(&job.symbol),
        job.origin == Origin::C,
    )?;
    let image = Image::read(&alone)?;
    costs.figures.push(Figure {
        what: job.what.clone(),
        task: match job.task {
            Task::Divided => "divided",
            Task::Supply => "supply",
            Task::Decimation => "decimation",
        }
        .to_owned(),
        origin: job.origin.word().to_owned(),
        min: amounts().min().unwrap_or(0),
        mean: amounts().sum::<u64>() as f64 / counts as f64,
        max: amounts().max().unwrap_or(0),
        flash: image.flash,
        ram: image.ram,
        stack: rows.rows.iter().map(|row| row.stack).max().unwrap_or(0),
        divisions: rows.divisions,
        counts,
        step,
        wrong,
        promised: job.promised,
        broken_rules: image.broken_rules(),
    });
    Ok(())
}
