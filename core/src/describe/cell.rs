//! The cell's voltage range, as a description states it.

use crate::bounds::{CELL_UV, VOLTAGE_MAX};
use crate::error::{ConfigError, tried};
use crate::units::OutputUnit;

/// Lowest and highest voltage of the cell in use, in microvolts.
///
/// # Range
/// 100 000 to 65 535 000 uV each, the lowest below the highest, the highest within the output unit's reach.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CellRange {
    /// Emptiest cell.
    pub min_uv: u32,
    /// Fullest cell.
    pub max_uv: u32,
}

impl CellRange {
    /// Checks the range against its limits and the output.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "VOLTAGE_MAX * 1000 is below 2^32"
    )]
    pub(crate) const fn check(self, unit: OutputUnit) -> Result<(), ConfigError> {
        tried!(CELL_UV.check(self.min_uv as i64));
        tried!(CELL_UV.check(self.max_uv as i64));
        if self.min_uv >= self.max_uv {
            return Err(ConfigError::CellRangeEmpty {
                min_uv: self.min_uv,
                max_uv: self.max_uv,
            });
        }
        let limit_uv = VOLTAGE_MAX * unit.step_uv();
        if self.max_uv > limit_uv {
            return Err(ConfigError::CellAboveOutput {
                max_uv: self.max_uv,
                limit_uv,
            });
        }
        Ok(())
    }
}
