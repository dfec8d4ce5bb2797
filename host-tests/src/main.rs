//! The bench program. All of it is in the library; see `tallyvolt_host`.

use std::process::ExitCode;

fn main() -> ExitCode {
    tallyvolt_host::cli::run().into()
}
