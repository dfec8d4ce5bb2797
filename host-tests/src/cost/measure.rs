//! A core's figures: every job is linked alone for its size, run over its counts, and checked against the model.

use std::path::Path;

use tallyvolt_cost::chip::Chip;
use tallyvolt_cost::cores;
use tallyvolt_cost::error::CostError;
use tallyvolt_cost::figure::{Costs, Origin};
use tallyvolt_cost::images::{Objects, Wanted};
use tallyvolt_cost::job::{Bench, Job};
use tallyvolt_cost::runner;
use tallyvolt_cost::toolchain::{Choice, require};
use tallyvolt_model::front_end::FrontEnd;

use super::emitted::{Emitted, Parts};
use super::subject::{Subject, emitted, emitted_channel};
use super::{channel, jobs, others, source};
use crate::emit::Lang;
use tallyvolt_analysis::describe::front_end_file;

/// The front ends that are measured without a file: both topologies, with counts of 10, 12 and 16 bits.
const FRONT_ENDS: [&str; 6] = [
    "front-ends/hut-divided-10bit.toml",
    "front-ends/hut-divided-12bit.toml",
    "front-ends/hut-divided-16bit.toml",
    "cores/front-ends/supply-10bit.toml",
    "front-ends/hut-supply-12bit.toml",
    "front-ends/hut-supply-12bit-x16.toml",
];

/// Those whose constants the usual ways carry.
const USUAL: [usize; 2] = [1, 4];

/// Those whose thermistors and channels are.
const CHANNELS: [&str; 4] = [
    "front-ends/hut-divided-thermistor.toml",
    "front-ends/hut-supply-thermistor.toml",
    "front-ends/hut-supply-10bit-thermistor.toml",
    "front-ends/hut-divided-pt1000-thermistor.toml",
];

fn subjects(paths: &[&str]) -> Result<Vec<Subject>, CostError> {
    paths
        .iter()
        .map(|path| {
            let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
            let read = front_end_file::read(&path);
            Subject::of(&read.map_err(|error| CostError::file(&path, error))?)
        })
        .collect()
}

fn conversions(chip: Chip, subjects: &[Subject]) -> Result<Vec<Job>, CostError> {
    let mut found = Vec::new();
    for subject in subjects {
        found.extend(jobs::of_subject(chip, subject));
        found.extend(jobs::tabled(chip, subject));
        found.extend(others::jobs(chip, subject)?);
    }
    Ok(found)
}

fn limits(subjects: &[Subject]) -> Result<Vec<Job>, CostError> {
    subjects.iter().map(jobs::limit).collect()
}

/// Measures one core: a front end's own constants, or the usual set; beside the usual ways, where nothing is left out.
///
/// `only` leaves what is of another origin out; empty, it leaves nothing out.
///
/// # Errors
/// [`CostError`]: missing tools, or a step that failed. No figure is made up for it.
pub fn measure(
    chip: Chip,
    choice: Choice,
    own: Option<&FrontEnd>,
    only: &[Origin],
    folder: &Path,
) -> Result<Costs, CostError> {
    let asked = |origin| only.is_empty() || only.contains(&origin);
    cores::require(&cores::cores_folder())?;
    let toolchain = require(chip, choice)?;
    let usual = subjects(&FRONT_ENDS)?;
    let (voltages, channels) = match own {
        Some(front_end) => (vec![Subject::of(front_end)?], vec![Subject::of(front_end)?]),
        None => (usual.clone(), subjects(&CHANNELS)?),
    };
    let mut described = voltages.clone();
    described.extend(channels.iter().filter(|_| own.is_none()).cloned());
    let simulator = runner::build(chip, folder)?;
    let bench = Bench {
        chip,
        simulator: &simulator,
    };
    let compile = |wanted, subjects: &[Subject]| {
        let source = source::images(subjects)?;
        Objects::compile(chip, &toolchain, wanted, &source, folder)
    };
    // A firmware has one front end of a topology. With more of them, what they share would not be the size that it has there.
    let loading: Vec<Subject> = match own {
        Some(_) => voltages.clone(),
        None => USUAL
            .iter()
            .filter_map(|index| usual.get(*index).cloned())
            .collect(),
    };
    let mut quick = conversions(chip, &voltages)?;
    let mut limits = limits(&loading)?;
    let mut others = jobs::decimation().to_vec();
    let [divided, supply] = USUAL.map(|index| usual.get(index));
    if let (Some(divided), Some(supply)) = (divided, supply) {
        others.extend(jobs::usual(chip, divided, supply));
    }
    others.extend(channel::jobs(chip, &channels));
    for jobs in [&mut quick, &mut limits, &mut others] {
        jobs.retain(|job| asked(job.origin));
    }
    let [fast, kernels] = [false, true].map(|kernel| {
        let mut jobs = quick.iter().chain(&others);
        let wanted = if kernel {
            Wanted::Kernels
        } else {
            Wanted::Speed
        };
        jobs.any(|job| (job.origin == Origin::Arch) == kernel)
            .then(|| compile(wanted, &described))
            .transpose()
    });
    let small = asked(Origin::Portable)
        .then(|| compile(Wanted::Size, &loading))
        .transpose()?;

    let mut costs = Costs::none(chip, toolchain.version.clone());
    let mut run = |job: &Job, objects: Option<&Objects>| -> Result<(), CostError> {
        let Some(objects) = objects else {
            return Ok(());
        };
        let link =
            |name: &str, symbols: &[String]| objects.link(name, symbols, job.origin == Origin::C);
        let figure = bench.run(job, &mut costs.checked_besides, &link)?;
        costs.figures.extend(figure);
        Ok(())
    };
    let (fast, kernels) = (fast?, kernels?);
    let of = |job: &Job| match job.origin {
        Origin::Arch => kernels.as_ref(),
        _ => fast.as_ref(),
    };
    for job in &quick {
        run(job, of(job))?;
    }
    for job in &limits {
        run(job, small.as_ref())?;
    }
    for job in &others {
        run(job, of(job))?;
    }
    if let Some(small) = &small {
        for subject in &loading {
            costs.figures.push(bench.run_load(
                &format!("{}, load a record, then convert", subject.front_end.name),
                Origin::Portable,
                &jobs::load(subject, "load"),
                (
                    &format!("{}_calibrated", subject.names.lower),
                    &format!("{}_MODULE", subject.names.upper),
                ),
                &|name, symbols| small.link(name, symbols, false),
            )?);
        }
    }
    for subject in loading
        .iter()
        .filter(|subject| asked(Origin::Arch) && jobs::has_table(chip, subject))
    {
        let small = compile(Wanted::SmallKernels, &loading)?;
        costs.figures.push(bench.run_load(
            &format!(
                "{}, load a record, then convert with a table",
                subject.front_end.name
            ),
            Origin::Arch,
            &jobs::load(subject, "tabled_load"),
            (
                &format!("{}_tabled", subject.names.lower),
                &format!("{}_TABLED", subject.names.upper),
            ),
            &|name, symbols| small.link(name, symbols, false),
        )?);
    }
    if asked(Origin::Emitted) && chip.c_compiler().is_some() {
        let voltages = voltages.iter().map(|subject| (subject, Parts::Voltages));
        let sensing = channels.iter().map(|subject| (subject, Parts::Sensing));
        let whole = channels.iter().filter(|subject| subject.has_channel());
        let whole = whole.map(|subject| (subject, Parts::Channel));
        for (subject, parts) in voltages.chain(sensing).chain(whole) {
            let header = match parts {
                Parts::Channel => emitted_channel(&subject.front_end)?,
                Parts::Voltages | Parts::Sensing => emitted(&subject.front_end, Lang::C)?,
            };
            Emitted {
                chip,
                subject,
                header: &header,
                counts: jobs::EVERY_COUNT_TO,
                portable: false,
            }
            .measure(&mut costs, parts, &simulator, folder)?;
        }
    }
    Ok(costs)
}
