//! Which functions are measured, over which counts, and what each must answer.

use serde::Serialize;

use super::chip::Chip;
use super::images::{AWKWARD, identifier};
use crate::front_end::{FrontEnd, Topology};
use crate::model::Model;
use crate::model::acquisition::AcquisitionModel;
use crate::model::calibration::CalibrationModel;
use crate::model::integer_form::IntegerForm;
use crate::outcome::{FaultName, Outcome};

/// Counts up to here are run one by one; above, a spaced set of about as many.
pub(super) const EVERY_COUNT_TO: u32 = 1 << 16;

/// Whose code is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Origin {
    /// The library's portable code.
    Portable,
    /// The library's kernels for the core.
    Arch,
    /// A usual way, in Rust.
    Rust,
    /// A usual way, in C.
    C,
    /// The emitted header, by the core's C compiler.
    Emitted,
}

impl Origin {
    /// The word in tables.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Portable => "portable",
            Self::Arch => "arch",
            Self::Rust => "rust",
            Self::C => "c",
            Self::Emitted => "c, emitted",
        }
    }
}

/// What kind of job: ratios are taken within one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Task {
    /// Count to voltage, divided input.
    Divided,
    /// Count to voltage, supply reference.
    Supply,
    /// Samples to count.
    Decimation,
}

/// How an answer is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    /// `u16`, 65 535 for a fault.
    Reading,
    /// `u32`, 2^16 and up for a fault.
    Outcome,
    /// `u32`, 2^16 for any fault: the kernels' own form.
    Kernel,
    /// `u16`, faults not looked at.
    Bare,
}

/// What the function must answer.
#[derive(Debug, Clone)]
enum Truth {
    Reading(IntegerForm, Form),
    /// Sum of the sample and the fifteen codes above it, over 2^shift, rounded to nearest.
    Sixteen {
        shift: u32,
    },
}

/// One function to measure.
#[derive(Debug, Clone)]
pub struct Job {
    /// What it does, in the table.
    pub what: String,
    /// Kind of job.
    pub task: Task,
    /// Whose code.
    pub origin: Origin,
    /// The exported name.
    pub symbol: String,
    /// First, last and step of the swept argument.
    pub sweep: (u32, u32, u32),
    /// Whether every answer must be exact; the usual ways are only counted.
    pub promised: bool,
    /// Whether it is in the table, or only run and checked.
    pub shown: bool,
    argument: &'static str,
    result: &'static str,
    conversion: Option<String>,
    truth: Truth,
}

impl Job {
    /// The runner's result type.
    #[must_use]
    pub fn result(&self) -> &'static str {
        self.result
    }

    /// The runner's arguments.
    #[must_use]
    pub fn arguments(&self, chip: Chip) -> String {
        let (first, last, step) = self.sweep;
        let swept = format!("{}={first}..{last}/{step}", self.argument);
        match &self.conversion {
            Some(conversion) => format!("{swept} {}=&{conversion}", chip.pointer()),
            None => swept,
        }
    }

    /// The data that the function is given a pointer to.
    #[must_use]
    pub fn conversion(&self) -> Option<&str> {
        self.conversion.as_deref()
    }

    /// Whether an answer is the model's.
    #[must_use]
    pub fn is_right(&self, argument: u32, answer: u64) -> bool {
        match &self.truth {
            Truth::Sixteen { shift } => {
                // The sixteen codes wrap like the function's: sample + 15 never passes 65 535 in the sweep.
                let sum = 16 * u64::from(argument) + 120;
                answer == (sum + ((1 << shift) >> 1)) >> shift
            }
            Truth::Reading(form, how) => match (form.outcome(argument), how) {
                (Outcome::Units(units), _) => answer == u64::from(units),
                (Outcome::Fault(_), Form::Reading) => answer == u64::from(u16::MAX),
                (Outcome::Fault(fault), Form::Outcome) => answer == (1 << 16) + number(fault),
                (Outcome::Fault(_), Form::Kernel) => answer == 1 << 16,
                (Outcome::Fault(_), Form::Bare) => true,
            },
        }
    }
}

fn number(fault: FaultName) -> u64 {
    match fault {
        FaultName::ZeroCount => 0,
        FaultName::Rail => 1,
        FaultName::BelowRange => 2,
        FaultName::AboveRange => 3,
    }
}

/// The step of a sweep up to the largest count: 1 up to so many counts, above that odd, which visits every residue.
pub(super) fn step(largest: u32, every_count_to: u32) -> u32 {
    if largest < every_count_to {
        1
    } else {
        (largest / every_count_to) | 1
    }
}

/// A model with the calibration that the images carry.
#[must_use]
pub fn calibrated(front_end: &FrontEnd) -> Model {
    let (gain, offset) = AWKWARD;
    Model::new(front_end, CalibrationModel::from_words(gain, offset))
}

/// Every job of a front end: constants built in, behind a pointer, and calibrated, portable and by kernels.
#[must_use]
pub fn of_front_end(chip: Chip, front_end: &FrontEnd) -> Vec<Job> {
    let largest = AcquisitionModel::new(&front_end.converter).largest_count();
    let narrow = largest < EVERY_COUNT_TO;
    let (task, stem) = match front_end.topology {
        Topology::DividedInput(_) => (Task::Divided, "divided"),
        Topology::SupplyReference => (Task::Supply, "supply"),
    };
    let step = step(largest, EVERY_COUNT_TO);
    let name = identifier(front_end);
    let upper = name.to_uppercase();
    let drawn = IntegerForm::of(&Model::new(front_end, CalibrationModel::identity()));
    let module = IntegerForm::of(&calibrated(front_end));
    let wide = if narrow { "" } else { "_wide" };
    let job = |what: &str, origin, symbol: String, form, conversion, truth| Job {
        what: format!("{}, {what}", front_end.name),
        task,
        origin,
        symbol,
        sweep: (0, largest, step),
        promised: true,
        shown: form != Form::Outcome,
        argument: if narrow && form != Form::Outcome && (chip == Chip::Avr || form == Form::Reading)
        {
            "u16"
        } else {
            "u32"
        },
        result: if form == Form::Reading { "u16" } else { "u32" },
        conversion,
        truth: Truth::Reading(truth, form),
    };
    let constant = if narrow {
        format!("{name}_constant_16")
    } else {
        format!("{name}_constant")
    };
    let mut jobs = vec![job(
        "constant",
        Origin::Portable,
        constant,
        Form::Reading,
        None,
        drawn,
    )];
    for (origin, suffix) in [(Origin::Portable, ""), (Origin::Arch, "_arch")] {
        // Where the kernel is a whole function of the C convention, that one is measured.
        let (symbol, form) = if origin == Origin::Arch
            && (chip == Chip::CortexM0plus || (chip == Chip::Avr && narrow))
        {
            (format!("tallyvolt_{stem}"), Form::Kernel)
        } else {
            (format!("{stem}{suffix}{wide}"), Form::Reading)
        };
        let data = Some(format!("{upper}_CALIBRATED"));
        jobs.push(job(
            "calibrated",
            origin,
            symbol,
            form,
            data.clone(),
            module,
        ));
        let outcome = format!("{stem}{suffix}_outcome");
        jobs.push(job(
            "calibrated, faults",
            origin,
            outcome.clone(),
            Form::Outcome,
            data,
            module,
        ));
        let data = Some(format!("{upper}_DRAWN"));
        jobs.push(job(
            "as drawn, faults",
            origin,
            outcome,
            Form::Outcome,
            data,
            drawn,
        ));
    }
    jobs
}

/// The usual ways, against the two front ends whose constants they carry.
#[must_use]
pub fn usual(chip: Chip, divided: &FrontEnd, supply: &FrontEnd) -> Vec<Job> {
    let divided = IntegerForm::of(&Model::new(divided, CalibrationModel::identity()));
    let supply = IntegerForm::of(&Model::new(supply, CalibrationModel::identity()));
    let job = |task, what: &str, origin, symbol: &str, truth| Job {
        what: what.to_owned(),
        task,
        origin,
        symbol: symbol.to_owned(),
        sweep: (1, 4094, 1),
        promised: false,
        shown: true,
        argument: "u16",
        result: "u16",
        conversion: None,
        truth: Truth::Reading(truth, Form::Bare),
    };
    let mut jobs = vec![
        job(
            Task::Divided,
            "Rust f32",
            Origin::Rust,
            "divided_f32",
            divided,
        ),
        job(
            Task::Divided,
            "Rust u32 division",
            Origin::Rust,
            "divided_u32_division",
            divided,
        ),
        job(
            Task::Divided,
            "Rust u32 multiply, shift",
            Origin::Rust,
            "divided_u32_shift",
            divided,
        ),
        job(
            Task::Divided,
            "Rust u64 division",
            Origin::Rust,
            "divided_u64_division",
            divided,
        ),
        job(
            Task::Divided,
            "Rust fixed, multiply",
            Origin::Rust,
            "divided_fixed",
            divided,
        ),
        job(Task::Supply, "Rust f32", Origin::Rust, "supply_f32", supply),
        job(
            Task::Supply,
            "Rust u32 division",
            Origin::Rust,
            "supply_u32_division",
            supply,
        ),
        job(
            Task::Supply,
            "Rust u64 division",
            Origin::Rust,
            "supply_u64_division",
            supply,
        ),
        job(
            Task::Supply,
            "Rust fixed, divide",
            Origin::Rust,
            "supply_fixed",
            supply,
        ),
    ];
    if chip.c_compiler().is_some() {
        jobs.extend([
            job(Task::Divided, "C f32", Origin::C, "c_divided_f32", divided),
            job(
                Task::Divided,
                "C u32 division",
                Origin::C,
                "c_divided_u32_division",
                divided,
            ),
            job(
                Task::Divided,
                "C u32 multiply, shift",
                Origin::C,
                "c_divided_u32_shift",
                divided,
            ),
            job(Task::Supply, "C f32", Origin::C, "c_supply_f32", supply),
            job(
                Task::Supply,
                "C u32 division",
                Origin::C,
                "c_supply_u32_division",
                supply,
            ),
        ]);
    }
    jobs
}

/// The summing stages, sixteen samples a call.
#[must_use]
pub fn decimation() -> Vec<Job> {
    [
        ("block sum of 16 samples", "block_sum_16", 0),
        ("sum and shift of 16 samples", "sum_and_shift_16", 2),
        ("sliding sum over 16, 16 samples", "sliding_sum_16", 0),
    ]
    .map(|(what, symbol, shift)| Job {
        what: what.to_owned(),
        task: Task::Decimation,
        origin: Origin::Portable,
        symbol: symbol.to_owned(),
        sweep: (0, 65_500, 131),
        promised: true,
        shown: true,
        argument: "u16",
        result: "u32",
        conversion: None,
        truth: Truth::Sixteen { shift },
    })
    .to_vec()
}
