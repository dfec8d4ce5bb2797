//! Monte Carlo settings.

use clap::Args;

use tallyvolt_analysis::choose::budget::monte_carlo::Run;
use tallyvolt_analysis::choose::budget::{TRIALS, TRIALS_RANGE};

#[derive(Debug, Args)]
pub(super) struct Trials {
    /// Monte Carlo trials.
    #[arg(long, default_value_t = TRIALS as u64, value_parser = clap::value_parser!(u64).range(TRIALS_RANGE))]
    trials: u64,
    /// Seed: the same seed gives the same figures, on any number of threads.
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

impl Trials {
    pub(super) fn run(&self) -> Run {
        Run {
            // At most 4 000 000, which fits any pointer width this program is built for.
            trials: usize::try_from(self.trials).unwrap_or(TRIALS),
            seed: self.seed,
        }
    }
}
