//! Why costs cannot be measured.

use std::path::Path;

use thiserror::Error;

/// Why costs cannot be measured.
#[derive(Debug, Error)]
pub enum CostError {
    /// The source of the images is not where it was when the program was built.
    #[error(
        "measuring builds firmware images from Tallyvolt's source, and {0} is not there: run it from a clone, or show the \
         committed figures with --recorded"
    )]
    Away(String),
    /// A core that none of the asked ways is for.
    #[error(
        "no function of this core is written in the ways of --by: leave it out, or add portable"
    )]
    Nothing,
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
    /// A file that cannot be read or written.
    #[must_use]
    pub fn file(path: &Path, reason: impl ToString) -> Self {
        Self::File {
            path: path.display().to_string(),
            reason: reason.to_string(),
        }
    }
}
