//! A limit as a comparison of counts. Which count it is, the conversion finds by halving its window.

use crate::units::Count;

/// A limit on counts: one comparison, no conversion.
///
/// Both forms are strict, as the threshold registers of window comparators are; where a chip compares with "or equal",
/// write one count further.
///
/// A conversion never turns back along the counts, so the counts whose converted value lies beyond a limit are a run at one
/// end of the range. Its last count is found by halving the window about 26 times with the conversion itself, so that
/// comparing counts gives the verdict of comparing converted values, at every count:
///
/// | topology | over the limit | under the limit |
/// |---|---|---|
/// | count rises with the value (divided input) | `Above` the largest count not over | `Below` the smallest not under |
/// | count falls (supply reference, most thermistors) | `Below` the smallest count not over | `Above` the largest not under |
///
/// Beyond means strictly beyond: a reading equal to the limit is not. A count that is a fault belongs to the side it lies
/// on, so a rail trips what a value beyond the rail would trip.
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
