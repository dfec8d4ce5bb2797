//! Why nothing is emitted.

use tallyvolt::ConfigError;
use thiserror::Error;

use tallyvolt_analysis::describe::firmware::DescribeError;
use tallyvolt_analysis::describe::thermistor_table::error::BuildError;

/// Why nothing was emitted.
#[derive(Debug, Error)]
pub enum EmitError {
    /// The firmware crate refuses the front end.
    #[error(transparent)]
    Describe(#[from] DescribeError),
    /// No table fits the thermistor.
    #[error("[thermistor]: {0}; {fix}", fix = .0.fix())]
    Thermistor(#[from] BuildError),
    /// The firmware crate refuses a limit.
    #[error("{key}: {error}")]
    Limit {
        /// Its key in `[limits]`.
        key: &'static str,
        /// Why.
        error: ConfigError,
    },
    /// A channel sums in firmware, so a shift by hardware has no place in it.
    #[error(
        "[converter] right_shift = {right_shift}: a channel sums the samples of a buffer, which nothing has shifted; leave the \
         shift out, or emit without --channel"
    )]
    ChannelShift {
        /// The shift that is described.
        right_shift: u32,
    },
    /// The front end does not pass its own check, so firmware must not be built from it.
    #[error("{name} does not pass `tallyvolt check`, so nothing is emitted:\n{block}")]
    Fails {
        /// The front end's name.
        name: String,
        /// The check in words.
        block: String,
    },
}
