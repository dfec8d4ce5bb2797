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

/// Those whose windows are summed beside them.
const SUMS: [&str; 5] = [
    "cores/front-ends/divided-14bit-x64.toml",
    "cores/front-ends/divided-8bit-x64.toml",
    "cores/front-ends/divided-16bit-x512.toml",
    "cores/front-ends/divided-12bit-x8.toml",
    "cores/front-ends/divided-10bit-x4.toml",
];

/// Front ends by their paths in this crate.
pub(super) fn subjects(paths: &[&str]) -> Result<Vec<Subject>, CostError> {
    paths
        .iter()
        .map(|path| {
            let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
            let read = front_end_file::read(&path);
            Subject::of(&read.map_err(|error| CostError::file(&path, error))?)
        })
        .collect()
}

/// What is built for jobs that run at every reading, without kernels and with them.
const AT_A_READING: [Wanted; 2] = [Wanted::Speed, Wanted::Kernels];

/// What is built for jobs that are only compared. More callers of a function change how it is compiled, so they are apart from what is measured.
const BESIDE: [Wanted; 2] = [Wanted::Bounds, Wanted::KernelBounds];

/// Measures one core: a front end's own constants, or the usual set; always beside the usual ways.
///
/// `only` names the origins that are measured; where it is empty, all are.
///
/// # Errors
/// [`CostError`]: missing tools, a step that failed, or nothing to measure. No figure is made up for it.
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
    let mut circuits = Vec::new();
    for divided in subjects(&FRONT_ENDS[..1])? {
        circuits.extend(others::circuits(&divided)?);
    }
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
    let mut planned = Vec::new();
    let mut plan = |[portable, kernels]: [Wanted; 2], jobs: Vec<Job>| {
        let asked = jobs.into_iter().filter(|job| asked(job.origin));
        planned.extend(asked.map(|job| match job.origin {
            Origin::Arch => (kernels, job),
            _ => (portable, job),
        }));
    };
    for subject in &voltages {
        plan(AT_A_READING, jobs::of_subject(chip, subject));
        plan(AT_A_READING, jobs::tabled(chip, subject));
        plan(AT_A_READING, others::of_kernels(chip, subject)?);
    }
    for circuit in &circuits {
        plan(BESIDE, others::of_circuit(chip, circuit));
    }
    plan(BESIDE, others::of_bounds(chip));
    for summed in subjects(&SUMS)? {
        plan(BESIDE, channel::sums(chip, &summed));
    }
    for subject in &loading {
        plan([Wanted::Size, Wanted::Kernels], jobs::limit(chip, subject)?);
    }
    plan(AT_A_READING, jobs::decimation().into());
    let [divided, supply] = USUAL.map(|index| usual.get(index));
    if let (Some(divided), Some(supply)) = (divided, supply) {
        plan(AT_A_READING, jobs::usual(chip, divided, supply));
    }
    plan(AT_A_READING, channel::jobs(chip, &channels));
    let mut built = Vec::new();
    for (wanted, subjects) in [
        (Wanted::Speed, &described),
        (Wanted::Kernels, &described),
        (Wanted::Size, &loading),
        (Wanted::Bounds, &circuits),
        (Wanted::KernelBounds, &circuits),
    ] {
        if planned.iter().any(|(of, _)| *of == wanted) {
            built.push((wanted, compile(wanted, subjects)?));
        }
    }
    let built_as = |wanted| {
        let mut built = built.iter();
        built.find_map(|(as_wanted, objects)| (*as_wanted == wanted).then_some(objects))
    };

    let mut costs = Costs::none(chip, toolchain.version.clone());
    for (wanted, job) in &planned {
        let Some(objects) = built_as(*wanted) else {
            continue;
        };
        let link =
            |name: &str, symbols: &[String]| objects.link(name, symbols, job.origin == Origin::C);
        let figure = bench.run(job, &mut costs.checked_besides, &link)?;
        costs.figures.extend(figure);
    }
    let run_load = |subject: &Subject, origin, how, load, (convert, module), objects: &Objects| {
        let names = &subject.names;
        bench.run_load(
            &format!(
                "{}, load a record, then convert{how}",
                subject.front_end.name
            ),
            origin,
            &jobs::load(subject, load),
            (
                &format!("{}_{convert}", names.lower),
                &format!("{}_{module}", names.upper),
            ),
            &|name, symbols| objects.link(name, symbols, false),
        )
    };
    if let Some(small) = built_as(Wanted::Size) {
        let names = ("calibrated", "MODULE");
        for subject in &loading {
            let figure = run_load(subject, Origin::Portable, "", "load", names, small)?;
            costs.figures.push(figure);
        }
    }
    for subject in loading
        .iter()
        .filter(|subject| asked(Origin::Arch) && jobs::has_table(chip, subject))
    {
        let small = compile(Wanted::SmallKernels, &loading)?;
        let (how, names) = (" with a table", ("tabled", "TABLED"));
        let figure = run_load(subject, Origin::Arch, how, "tabled_load", names, &small)?;
        costs.figures.push(figure);
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
    if costs.figures.is_empty() {
        return Err(CostError::Nothing);
    }
    Ok(costs)
}
