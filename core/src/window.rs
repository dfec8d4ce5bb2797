//! The counts that are voltages: a window in the count range, and the fault on either side of it.
//!
//! Conversions work on the *position* of a count inside its window, so one subtraction and one comparison decide
//! validity, and the arithmetic behind them never meets a negative or an overflowing number.

use crate::units::{Count, Fault};

/// `counts` consecutive valid counts from `first` on, below the rail.
///
/// # Range
/// `first` at least 1; `first + counts` at most the largest count; `quick` is `counts` or 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub struct Window {
    first: u32,
    /// How many counts the conversion's quick arithmetic takes: all of them, or none. One comparison with it decides whether a
    /// count is a voltage and how to get it; whatever fails goes the slow way, which looks at `counts`.
    quick: u32,
    counts: u32,
    rail: u32,
    before: Fault,
    behind: Fault,
}

impl Window {
    /// The window between two counts, both inclusive and clipped to 1 .. `rail` - 1.
    ///
    /// `before` and `behind` are the faults of counts that lie outside but are neither zero nor rail.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::arithmetic_side_effects,
        reason = "low is clipped to 1 .. rail and high to low - 1 .. rail - 1, and rail is at least 2 and below 2^26"
    )]
    pub(crate) const fn between(
        low: i128,
        high: i128,
        rail: Count,
        before: Fault,
        behind: Fault,
    ) -> Self {
        let rail = rail.0;
        let first = if low < 1 {
            1
        } else if low > rail as i128 {
            rail
        } else {
            low as u32
        };
        let end = if high < first as i128 {
            first
        } else if high >= rail as i128 {
            rail
        } else {
            high as u32 + 1
        };
        Self {
            first,
            quick: 0,
            counts: end - first,
            rail,
            before,
            behind,
        }
    }

    /// The same window for a conversion whose quick arithmetic takes its positions, or does not.
    pub(crate) const fn quick_if(self, takes: bool) -> Self {
        Self {
            quick: if takes { self.counts } else { 0 },
            ..self
        }
    }

    /// The position of a count that the quick arithmetic takes.
    #[inline]
    pub(crate) const fn quick_position(&self, count: Count) -> Option<u32> {
        // Wraps on purpose, as below.
        let position = count.0.wrapping_sub(self.first);
        if position < self.quick {
            Some(position)
        } else {
            None
        }
    }

    /// The position of a count in the window, or its fault.
    #[inline]
    pub(crate) const fn position(&self, count: Count) -> Result<u32, Fault> {
        // Wraps on purpose: a count before the window becomes a position far behind it.
        let position = count.0.wrapping_sub(self.first);
        if position < self.counts {
            Ok(position)
        } else {
            Err(self.fault(count))
        }
    }

    #[cold]
    const fn fault(&self, count: Count) -> Fault {
        if count.0 == 0 {
            Fault::ZeroCount
        } else if count.0 >= self.rail {
            Fault::Rail
        } else if count.0 < self.first {
            self.before
        } else {
            self.behind
        }
    }

    /// The first count that is a voltage.
    #[must_use]
    pub const fn first(&self) -> Count {
        Count(self.first)
    }

    /// How many counts are voltages; 0 if a calibration leaves none.
    #[must_use]
    pub const fn counts(&self) -> u32 {
        self.counts
    }

    /// The smallest count that reads as [`Fault::Rail`].
    #[must_use]
    pub const fn rail(&self) -> Count {
        Count(self.rail)
    }
}
