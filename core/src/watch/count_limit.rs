//! A limit as a comparison of counts. Which count it is, the conversion finds by halving its window.

use crate::units::Count;

/// A limit on counts: one comparison, no conversion.
///
/// Both forms are strict, as the threshold registers of window comparators are; where a chip compares with "or equal",
/// write one count further.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum CountLimit {
    /// Beyond are the counts above this one.
    Above(Count),
    /// Beyond are the counts below this one.
    Below(Count),
}

impl CountLimit {
    /// Whether a count is beyond the limit. Every `u32` is accepted.
    #[inline]
    #[must_use]
    pub const fn is_beyond(self, count: Count) -> bool {
        match self {
            Self::Above(limit) => count.0 > limit.0,
            Self::Below(limit) => count.0 < limit.0,
        }
    }

    /// The counts that neither of two opposite limits trips, first and last, for a converter's window comparator: a
    /// chip may sleep while counts stay within.
    ///
    /// None when both limits look the same way, or when they leave no count between them.
    #[must_use]
    pub const fn quiet_counts(self, other: Self) -> Option<(Count, Count)> {
        match (self, other) {
            (Self::Above(last), Self::Below(first)) | (Self::Below(first), Self::Above(last))
                if first.0 <= last.0 =>
            {
                Some((first, last))
            }
            _ => None,
        }
    }
}
