//! Why a table cannot be built.

use thiserror::Error;

/// Why there is no table.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum BuildError {
    /// The temperatures lie in too few counts.
    #[error("the whole temperature range lies in {counts} counts, at least {least} are needed")]
    FewCounts {
        /// Counts in the range.
        counts: u32,
        /// Counts that the smallest table spans.
        least: u32,
    },
    /// Too many counts for the largest table.
    #[error("the temperature range lies in {counts} counts, a table spans at most {most}")]
    ManyCounts {
        /// Counts in the range.
        counts: u32,
        /// Counts that the largest table spans.
        most: u32,
    },
    /// The law or the converter ends inside the range asked for.
    #[error("{celsius} degC is not read: the sensor's law or the converter's range ends before")]
    NotReached {
        /// The end of the range that is not reached.
        celsius: f64,
    },
    /// No table meets the error.
    #[error(
        "no table of {most} entries or fewer stays within {wanted_mc} m degC; the best has {best_mc:.1}"
    )]
    Coarse {
        /// The error asked for.
        wanted_mc: u32,
        /// The smallest error of the tables tried.
        best_mc: f64,
        /// Most entries.
        most: i64,
    },
    /// No count is left to tell a broken wire by.
    #[error(
        "the hottest or coldest temperature reads so near the rail that a broken wire cannot be told from it"
    )]
    NoRoom,
    /// A calibrated reading that no sensor of this law gives.
    #[error("count {count} is no temperature that the sensor's law has")]
    NoOffset {
        /// The count read.
        count: f64,
    },
    /// A calibrated reading too far from the thermometer.
    #[error(
        "count {count} reads {reads_c:.1} degC where the thermometer stood at {at_c} degC: further apart than {most_k} K"
    )]
    FarOffset {
        /// The count read.
        count: f64,
        /// What it means by the sensor's law.
        reads_c: f64,
        /// What the thermometer showed.
        at_c: f64,
        /// The largest offset that is taken off.
        most_k: f64,
    },
    /// A sensor fed by another rail while the cell is the converter's reference.
    #[error(
        "the excitation must be the converter's own reference where the cell is that reference"
    )]
    ForeignExcitation,
}

impl BuildError {
    /// How to fix it.
    pub const fn fix(&self) -> &'static str {
        match self {
            Self::FewCounts { .. } => {
                "widen min_c to max_c, sum more samples, or choose fixed_ohms nearer the sensor's"
            }
            Self::ManyCounts { .. } => "sum fewer samples for the sensor, or shift",
            Self::NotReached { .. } => {
                "narrow min_c to max_c, or choose another fixed resistor or excitation"
            }
            Self::Coarse { .. } => {
                "allow a larger max_error_mc, narrow min_c to max_c, or sum more samples"
            }
            Self::NoRoom => {
                "choose fixed_ohms nearer the sensor's resistance, or narrow min_c to max_c"
            }
            Self::NoOffset { .. } | Self::FarOffset { .. } => {
                "give the sensor's count as firmware sums it, read at calibrated_at_c; a sensor that far off is another part, or wired \
                 otherwise than drawn"
            }
            Self::ForeignExcitation => {
                "feed the sensor from the converter's supply and remove excitation_mv"
            }
        }
    }
}
