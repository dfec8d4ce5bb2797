//! The figures of functions and of cores, as they are recorded.

use clap::ValueEnum;
use serde::{Deserialize, Serialize};

use super::chip::Chip;
use super::runner::Row;
use super::toolchain::first_line;

/// One function's figures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Figure {
    /// What it does.
    pub what: String,
    /// `divided`, `supply`, `load`, `limit`, `decimation`, or of a channel `temperature`, `filter`, `alarm`, `reading`.
    pub task: String,
    /// `portable`, `arch`, `rust`, `c` or `c, emitted`.
    pub origin: String,
    /// Fewest cycles or instructions, return included, call not.
    pub min: u64,
    /// Mean over all counts that were run.
    pub mean: f64,
    /// Most.
    pub max: u64,
    /// Bytes of flash with callees and tables; of a load, of loading and converting.
    pub flash: u32,
    /// Bytes of RAM: static, and the function's own state.
    pub ram: u32,
    /// Deepest stack in bytes.
    pub stack: u32,
    /// Most hardware divisions in one call.
    pub divisions: u32,
    /// Counts run; of a load, records.
    pub counts: u64,
    /// Of these, every `step`-th.
    pub step: u32,
    /// Answers that differ from the exact model.
    pub wrong: u64,
    /// Whether no answer may differ.
    pub promised: bool,
    /// Rules of the image that are broken: panic, soft-float, heap, static RAM; of a load, proofs and long divisions too.
    pub broken_rules: Vec<String>,
}

impl Figure {
    /// The figure of some calls; what they do not tell is 0, and promised.
    pub fn of((what, task, origin): (&str, &str, Origin), rows: &[Row], flash: u32) -> Self {
        let amounts = || rows.iter().map(|row| row.amount);
        let counts = rows.len() as u64;
        Self {
            what: what.to_owned(),
            task: task.to_owned(),
            origin: origin.word().to_owned(),
            min: amounts().min().unwrap_or(0),
            mean: amounts().sum::<u64>() as f64 / counts.max(1) as f64,
            max: amounts().max().unwrap_or(0),
            flash,
            ram: 0,
            stack: rows.iter().map(|row| row.stack).max().unwrap_or(0),
            divisions: 0,
            counts,
            step: 1,
            wrong: 0,
            promised: true,
            broken_rules: Vec::new(),
        }
    }
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

/// Whose code is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ValueEnum)]
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
