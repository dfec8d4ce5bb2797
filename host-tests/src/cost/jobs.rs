//! The conversions, limits and sums that are measured, and the usual ways beside them.

use std::ops::{Range, RangeInclusive};

use tallyvolt_cost::chip::Chip;
use tallyvolt_cost::error::CostError;
use tallyvolt_cost::figure::Origin;
use tallyvolt_cost::job::{ANY, First, Job, Load};
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::outcome::Outcome;

use super::subject::Subject;

/// Counts up to here are run one by one; above, a spaced set of about as many.
pub(super) const EVERY_COUNT_TO: u32 = 1 << 16;

/// The step of a sweep up to the largest count: 1 up to so many counts, above that odd, which visits every residue.
pub(super) fn step(largest: u32, every_count_to: u32) -> u32 {
    if largest < every_count_to {
        1
    } else {
        (largest / every_count_to) | 1
    }
}

/// As a converter's register holds a count, where it fits.
pub(super) fn count_type(rail: u32) -> &'static str {
    if rail <= 0xFFFF { "u16" } else { "u32" }
}

/// The answers over a sweep.
pub(super) fn answers(
    (first, last, step): (u32, u32, u32),
    answer: impl Fn(u32) -> u64,
) -> Vec<u64> {
    (first..=last).step_by(step as usize).map(answer).collect()
}

/// Units, or 65 535 for any fault.
pub(super) fn reading(form: &IntegerForm, count: u32) -> u64 {
    let units = form.outcome(count).units();
    units.unwrap_or(u16::MAX.into()).into()
}

/// The same job with faults told apart, by a function beside the other: 2^16 plus the fault's number, in the order of the model's.
fn told_apart(job: &Job, form: &IntegerForm) -> Job {
    Job {
        symbol: format!("{}_outcome", job.symbol),
        types: ("u32", "u32"),
        answers: answers(job.sweep, |count| match form.outcome(count) {
            Outcome::Units(units) => units.into(),
            Outcome::Fault(fault) => (1 << 16) + fault as u64,
        }),
        shown: false,
        ..job.clone()
    }
}

/// The fields of a job that most have alike.
pub(super) fn plain(what: &str, task: &'static str, origin: Origin, symbol: &str) -> Job {
    Job {
        what: what.to_owned(),
        task,
        origin,
        symbol: symbol.to_owned(),
        types: ("u16", "u32"),
        sweep: (0, 0, 1),
        state: None,
        data: Vec::new(),
        first: First::Nothing,
        answers: Vec::new(),
        promised: true,
        shown: true,
    }
}

/// The load of a front end's record, in Rust, by a function of its own.
pub(super) fn load(subject: &Subject, function: &str) -> Load {
    Load {
        symbol: format!("{}_{function}", subject.names.lower),
        place: "RECORD".to_owned(),
        record: subject.record.to_vec(),
    }
}

/// A front end's conversions: constants built in, and those of a loaded module, portable and by kernel.
pub(super) fn of_subject(chip: Chip, subject: &Subject) -> Vec<Job> {
    let (lower, name) = (&subject.names.lower, &subject.front_end.name);
    let (drawn, module) = (subject.drawn_form(), subject.module_form());
    let mut ways = vec![
        ("constant", "constant", Origin::Portable, &drawn),
        ("calibrated", "calibrated", Origin::Portable, &module),
    ];
    if chip.has_kernels() {
        ways.push(("calibrated", "calibrated", Origin::Arch, &module));
    }
    // Elsewhere the compiler makes the same of a constant and of a type.
    if matches!(chip, Chip::Avr | Chip::Avrxt) && subject.has_drawn_type() {
        ways.push(("constant", "drawn", Origin::Arch, &drawn));
    }
    let mut jobs = Vec::new();
    for (what, way, origin, form) in ways {
        let sweep = (0, subject.rail, step(subject.rail, EVERY_COUNT_TO));
        let mut job = Job {
            types: (count_type(subject.rail), "u16"),
            sweep,
            answers: answers(sweep, |count| reading(form, count)),
            ..plain(
                &format!("{name}, {what}"),
                subject.task(),
                origin,
                &format!("{lower}_{way}"),
            )
        };
        if what == "calibrated" {
            job.state = Some(format!("{}_MODULE", subject.names.upper));
            job.first = First::Load(load(subject, "load"));
        }
        let outcome = told_apart(&job, form);
        jobs.extend([job, outcome]);
    }
    jobs
}

/// Millivolts of lithium cells, whatever is in them: common practice, no source.
const LITHIUM_MV: RangeInclusive<u32> = 2000..=4350;

/// A module with a table of reciprocals, on a core that has one: at every count, and at those of a lithium cell, which the table serves.
pub(super) fn tabled(chip: Chip, subject: &Subject) -> Vec<Job> {
    if !has_table(chip, subject) {
        return Vec::new();
    }
    let form = subject.module_form();
    let (lower, upper, name) = (
        &subject.names.lower,
        &subject.names.upper,
        &subject.front_end.name,
    );
    let lithium = |count: &u32| {
        let millivolts = |units: u32| units * subject.front_end.unit_uv / 1000;
        let units = form.outcome(*count).units();
        units.is_some_and(|units| LITHIUM_MV.contains(&millivolts(units)))
    };
    let whole = (0, subject.rail, step(subject.rail, EVERY_COUNT_TO));
    let at_every_count = Job {
        types: (count_type(subject.rail), "u16"),
        sweep: whole,
        state: Some(format!("{upper}_TABLED")),
        first: First::Load(load(subject, "tabled_load")),
        answers: answers(whole, |count| reading(&form, count)),
        ..plain(
            &format!("{name}, calibrated with a table"),
            subject.task(),
            Origin::Arch,
            &format!("{lower}_tabled"),
        )
    };
    let outcome = told_apart(&at_every_count, &form);
    let ends = |mut counts: Range<u32>| {
        let first = counts.find(lithium)?;
        Some((first, counts.rfind(lithium).unwrap_or(first), 1))
    };
    let of_a_cell = ends(0..subject.rail).map(|sweep| Job {
        what: format!("{name}, calibrated with a table, 2.0 to 4.35 V"),
        sweep,
        answers: answers(sweep, |count| reading(&form, count)),
        ..at_every_count.clone()
    });
    [at_every_count, outcome]
        .into_iter()
        .chain(of_a_cell)
        .collect()
}

/// Whether a core has a table of reciprocals for a front end.
pub(super) fn has_table(chip: Chip, subject: &Subject) -> bool {
    matches!(chip, Chip::Avr | Chip::Avrxt) && subject.takes_table()
}

/// A count limit of a loaded module, as firmware works it out once. Kernels keep a module in another form: with them the answer is
/// compared, and not shown.
///
/// # Errors
/// [`CostError::File`] where the crate refuses the limit.
pub(super) fn limit(chip: Chip, subject: &Subject) -> Result<Vec<Job>, CostError> {
    let (uv, count) = subject.limit()?;
    let job = |origin| Job {
        types: ("u32", "u32"),
        sweep: (uv, uv, 1),
        state: Some(format!("{}_MODULE", subject.names.upper)),
        first: First::Load(load(subject, "load")),
        answers: vec![count.into()],
        shown: origin == Origin::Portable,
        ..plain(
            &format!("{}, a count limit, once", subject.front_end.name),
            "limit",
            origin,
            &format!("{}_limit", subject.names.lower),
        )
    };
    let kernels = chip.has_kernels().then(|| job(Origin::Arch));
    Ok(std::iter::once(job(Origin::Portable))
        .chain(kernels)
        .collect())
}

/// The usual ways: the task, the name in the table, and that in the images.
const USUAL: [(&str, &str, &str); 14] = [
    ("divided", "Rust f32", "f32"),
    ("divided", "Rust u32 division", "u32_division"),
    ("divided", "Rust u32 multiply, shift", "u32_shift"),
    ("divided", "Rust u64 division", "u64_division"),
    ("divided", "Rust fixed, multiply", "fixed"),
    ("supply", "Rust f32", "f32"),
    ("supply", "Rust u32 division", "u32_division"),
    ("supply", "Rust u64 division", "u64_division"),
    ("supply", "Rust fixed, divide", "fixed"),
    ("divided", "C f32", "f32"),
    ("divided", "C u32 division", "u32_division"),
    ("divided", "C u32 multiply, shift", "u32_shift"),
    ("supply", "C f32", "f32"),
    ("supply", "C u32 division", "u32_division"),
];

/// The usual ways, against the two front ends whose constants they carry.
pub(super) fn usual(chip: Chip, divided: &Subject, supply: &Subject) -> Vec<Job> {
    let (divided, supply) = (divided.drawn_form(), supply.drawn_form());
    let job = |(task, what, way): (&'static str, &str, &str)| {
        let (origin, symbol) = if what.starts_with("C ") {
            chip.c_compiler()?;
            (Origin::C, format!("c_{task}_{way}"))
        } else {
            (Origin::Rust, format!("{task}_{way}"))
        };
        let form = if task == "divided" { &divided } else { &supply };
        let sweep = (1, 4094, 1);
        Some(Job {
            types: ("u16", "u16"),
            sweep,
            answers: answers(sweep, |count| {
                form.outcome(count).units().map_or(ANY, u64::from)
            }),
            promised: false,
            ..plain(what, task, origin, &symbol)
        })
    };
    USUAL.into_iter().filter_map(job).collect()
}

/// The summing stages, sixteen samples a call: the swept one and the fifteen codes above it.
pub(super) fn decimation() -> [Job; 3] {
    [
        ("block sum of 16 samples", "block_sum_16", 0),
        ("sum and shift of 16 samples", "sum_and_shift_16", 2),
        ("sliding sum over 16, 16 samples", "sliding_sum_16", 0),
    ]
    .map(|(what, symbol, shift)| {
        let sweep = (0, 65_500, 131);
        Job {
            sweep,
            answers: answers(sweep, |sample| {
                let sum = 16 * u64::from(sample) + 120;
                (sum + ((1 << shift) >> 1)) >> shift
            }),
            ..plain(what, "decimation", Origin::Portable, symbol)
        }
    })
}
