//! The exit codes of every command.

use std::process::ExitCode;

/// How a command ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Everything holds.
    Holds,
    /// A promise fails.
    Fails,
    /// Bad input, or output that cannot be written.
    BadInput,
}

impl Exit {
    /// Of a command whose input was good.
    pub(super) fn of(holds: bool) -> Self {
        if holds { Self::Holds } else { Self::Fails }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(match exit {
            Exit::Holds => 0,
            Exit::Fails => 1,
            Exit::BadInput => 2,
        })
    }
}
