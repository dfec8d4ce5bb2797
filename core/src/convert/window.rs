//! The counts that are voltages: a window in the count range, and the fault on either side of it.
//!
//! Conversions work on the *position* of a count inside its window, so one subtraction and one comparison decide
//! validity, and the arithmetic behind them never meets a negative or an overflowing number.

use crate::error::ConfigError;
use crate::units::{Count, Fault, OutputUnit};

/// How the counts of a conversion come about, and what its answers mean.
///
/// # Range
/// `rail` 2 to [`crate::bounds::COUNT_MAX`]; `samples` a power of two from 1 to 1024; `right_shift` 0 to 8.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Summing {
    /// The largest count, the smallest that reads as [`Fault::Rail`].
    pub(crate) rail: u32,
    pub(crate) samples: u16,
    pub(crate) right_shift: u8,
    pub(crate) unit: OutputUnit,
}

impl Summing {
    /// The smallest count that reads as [`Fault::Rail`].
    #[must_use]
    pub const fn rail(self) -> Count {
        Count(self.rail)
    }

    /// Samples in a count.
    #[must_use]
    pub const fn samples(self) -> u16 {
        self.samples
    }

    /// Right shift of their sum.
    #[must_use]
    pub const fn right_shift(self) -> u8 {
        self.right_shift
    }

    /// Step of a voltage.
    #[must_use]
    pub const fn unit(self) -> OutputUnit {
        self.unit
    }

    /// Whether a count is the sum of just these samples, without a shift: what a window of `window` samples gives.
    ///
    /// # Errors
    /// [`ConfigError::WindowMismatch`] where it is not.
    pub(crate) const fn check_window(self, window: u32) -> Result<(), ConfigError> {
        if window != self.samples as u32 || self.right_shift != 0 {
            return Err(ConfigError::WindowMismatch {
                window,
                samples: self.samples,
                right_shift: self.right_shift,
            });
        }
        Ok(())
    }
}

/// `counts` consecutive counts from `first` on that are voltages, below the rail.
///
/// # Range
/// `first` at least 1, `counts` at least 1, `first + counts` at most `rail`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Window {
    pub(crate) first: u32,
    pub(crate) counts: u32,
    pub(crate) rail: u32,
}

impl Window {
    /// A window, if it is one.
    pub(crate) const fn new(first: u32, counts: u32, rail: u32) -> Option<Self> {
        // No sum that could wrap: the rail is compared with what lies below it.
        if first >= 1 && counts >= 1 && first < rail && counts <= rail.wrapping_sub(first) {
            Some(Self {
                first,
                counts,
                rail,
            })
        } else {
            None
        }
    }

    /// The window between two counts, both inclusive and clipped to 1 .. `rail` - 1; none where nothing is left.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::arithmetic_side_effects,
        reason = "both ends are clipped to 1 .. rail - 1 and rail is below 2^26; last is at least first"
    )]
    pub(crate) const fn between(low: i128, high: i128, rail: u32) -> Option<Self> {
        let first = if low < 1 { 1 } else { low };
        let top = rail as i128 - 1;
        let last = if high > top { top } else { high };
        if last < first {
            return None;
        }
        Self::new(first as u32, (last - first + 1) as u32, rail)
    }

    /// Whether it leaves another's counts but for one in 256 of all at an end, at least one.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "counts below 2^26, and as many in 256 and one"
    )]
    pub(crate) const fn leaves(&self, other: &Self) -> bool {
        let cut = self.rail / 256 + 1;
        self.first <= other.first + cut && self.last().0 + cut >= other.last().0
    }

    /// The first count that is a voltage.
    #[must_use]
    pub const fn first(&self) -> Count {
        Count(self.first)
    }

    /// How many counts are voltages, at least 1.
    #[must_use]
    pub const fn counts(&self) -> u32 {
        self.counts
    }

    /// The last count that is a voltage.
    #[must_use]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "first + counts is at most the rail, below 2^26, and counts is at least 1"
    )]
    pub const fn last(&self) -> Count {
        Count(self.first + self.counts - 1)
    }

    /// The smallest count that reads as [`Fault::Rail`].
    #[must_use]
    pub const fn rail(&self) -> Count {
        Count(self.rail)
    }
}

/// Whether counts of 16 bits are a window below a rail, in 16 bits: wider comparisons are what code on an 8-bit core is made of.
pub(crate) const fn is_window(first: u16, counts: u16, rail: u16) -> bool {
    first >= 1 && counts >= 1 && first < rail && counts <= rail.wrapping_sub(first)
}

/// The fault of a count outside its window: zero and rail first, then what lies before `first`, then what lies behind.
#[cold]
pub(crate) const fn fault_outside(
    count: Count,
    first: u32,
    rail: u32,
    [before, behind]: [Fault; 2],
) -> Fault {
    if count.0 == 0 {
        Fault::ZeroCount
    } else if count.0 >= rail {
        Fault::Rail
    } else if count.0 < first {
        before
    } else {
        behind
    }
}

/// What every conversion tells of itself, by its first count and their number, and by what it sums.
macro_rules! told {
    ([$($bits:tt)*] $conversion:ty, |$of:ident| ($first:expr, $counts:expr), $summing:expr) => {
        impl<$($bits)*> $conversion {
            /// The counts that are voltages.
            #[must_use]
            pub const fn window(&self) -> $crate::convert::window::Window {
                let $of = self;
                $crate::convert::window::Window {
                    first: $first,
                    counts: $counts,
                    rail: $summing.rail,
                }
            }

            /// How a count comes about, and the step of a voltage.
            #[must_use]
            pub const fn summing(&self) -> $crate::convert::window::Summing {
                let $of = self;
                $summing
            }

            /// Step of a voltage.
            #[must_use]
            pub const fn unit(&self) -> $crate::units::OutputUnit {
                self.summing().unit
            }
        }
    };
}
pub(crate) use told;
