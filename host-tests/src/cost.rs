//! What a reading costs on a small core: firmware images built, run on a simulator, and checked against the model.
//!
//! ```text
//! toolchain   which compilers are here, and which packages would bring the missing ones
//! subject     a front end as drawn and with a module's constants, and what it must answer
//! source      subjects -> Rust source of images and firmware
//! images      source -> linked images, one for each measured function
//! elf         sizes and symbols of an image
//! runner      an image on a simulator: a row for every call
//! job         a function, what it must answer -> its figure
//! jobs        conversions, limits and sums, and the usual ways
//! channel     temperature, filters, alarms and whole readings, which have a past
//! emitted     the emitted C header by the core's C compiler
//! measure     jobs -> figures; nothing is a figure that was not run
//! recorded    the committed table, and the budget that it sets
//! energy      cycles -> charge per reading
//! text        figures in words
//! ```

pub mod channel;
pub mod chip;
pub mod elf;
pub mod emitted;
pub mod energy;
pub mod figure;
pub mod images;
pub mod job;
pub mod jobs;
pub mod measure;
pub mod recorded;
pub mod runner;
pub mod source;
pub mod subject;
pub mod text;
pub mod toolchain;

use std::path::{Path, PathBuf};

use thiserror::Error;

/// Why costs cannot be measured.
#[derive(Debug, Error)]
pub enum CostError {
    /// Tools that are not on this machine.
    #[error("missing: {}", .0.join("; "))]
    Missing(Vec<String>),
    /// A build step that failed.
    #[error("{step} failed:\n{output}")]
    Step {
        /// What was tried.
        step: String,
        /// What it said.
        output: String,
    },
    /// A simulator that answered something else than rows.
    #[error("the simulator answers `{answer}` to `{request}`")]
    Runner {
        /// The request.
        request: String,
        /// The answer.
        answer: String,
    },
    /// A file of the harness that cannot be read or written.
    #[error("{path}: {reason}")]
    File {
        /// Which.
        path: String,
        /// Why.
        reason: String,
    },
}

impl CostError {
    pub(crate) fn file(path: &Path, reason: impl ToString) -> Self {
        Self::File {
            path: path.display().to_string(),
            reason: reason.to_string(),
        }
    }
}

/// The folder of the images' workspace and the runners.
#[must_use]
pub fn cores_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("cores")
}
