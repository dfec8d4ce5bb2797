//! The rows of a comparison, and which way each is better.

use serde::Serialize;

/// A row of the comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum RowName {
    /// Part of the cell's range that can be read and powered.
    Range,
    /// Millivolts a count at the cell's minimum.
    StepMin,
    /// At its nominal voltage.
    StepNominal,
    /// At its maximum.
    StepMax,
    /// Effective bits of a count, by noise and quantisation.
    EffectiveBits,
    /// Worst error over the range of temperature, uncalibrated.
    WorstBefore,
    /// Error that 95 % of modules keep, uncalibrated.
    Error95Before,
    /// Worst error after a two-point calibration.
    WorstAfter,
    /// Error that 95 % of modules keep after a two-point calibration.
    Error95After,
    /// Share of boards within the compared error, uncalibrated.
    YieldBefore,
    /// The same after a two-point calibration.
    YieldAfter,
    /// Current of the divider at nominal voltage.
    Drain,
    /// Lowest supply that converter and reference work from.
    MinimumSupply,
    /// Time until a reading is settled.
    Settling,
    /// Flash of the conversion.
    Flash,
    /// Cycles of the conversion.
    Cycles,
}

impl RowName {
    /// In words, with the unit.
    pub fn label(self) -> &'static str {
        match self {
            Self::Range => "usable range, mV",
            Self::StepMin => "step at minimum, mV",
            Self::StepNominal => "step at nominal, mV",
            Self::StepMax => "step at maximum, mV",
            Self::EffectiveBits => "effective bits",
            Self::WorstBefore => "worst error, uncalibrated, mV",
            Self::Error95Before => "95 % error, uncalibrated, mV",
            Self::WorstAfter => "worst error, two-point, mV",
            Self::Error95After => "95 % error, two-point, mV",
            Self::YieldBefore => "boards within, uncalibrated, %",
            Self::YieldAfter => "boards within, two-point, %",
            Self::Drain => "divider drain, uA",
            Self::MinimumSupply => "minimum supply, mV",
            Self::Settling => "settling time, us",
            Self::Flash => "flash, bytes",
            Self::Cycles => "cycles",
        }
    }

    pub(super) fn more_is_better(self) -> bool {
        matches!(
            self,
            Self::Range | Self::EffectiveBits | Self::YieldBefore | Self::YieldAfter
        )
    }
}
