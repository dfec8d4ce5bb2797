//! What a conversion answers for one count, in words that firmware, model and table share.

use std::fmt;

/// A voltage in output units, or a named fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Output units.
    Units(u32),
    /// Not a voltage.
    Fault(FaultName),
}

impl Outcome {
    /// The output units; none of a fault.
    #[must_use]
    pub fn units(self) -> Option<u32> {
        match self {
            Self::Units(units) => Some(units),
            Self::Fault(_) => None,
        }
    }
}

/// Why a count is no voltage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FaultName {
    /// Count 0.
    ZeroCount,
    /// The largest count or more.
    Rail,
    /// Would round to less than zero.
    BelowRange,
    /// Would round to more than the output type holds.
    AboveRange,
}

impl fmt::Display for FaultName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::ZeroCount => "zero_count",
            Self::Rail => "rail",
            Self::BelowRange => "below_range",
            Self::AboveRange => "above_range",
        })
    }
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Units(units) => write!(f, "{units}"),
            Self::Fault(fault) => write!(f, "{fault}"),
        }
    }
}
