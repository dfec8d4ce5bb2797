//! Why a description cannot be turned into a conversion: one error type to match on, whose text says how to fix the description.

use crate::field::Field;

/// A description that cannot be proven, with the quantity, its value and the limits.
///
/// Through [`crate::proven!`] it is a compile error whose text is [`ConfigError::fix`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum ConfigError {
    /// A value outside its limits.
    OutOfBounds {
        /// Which quantity.
        field: Field,
        /// The value given.
        value: i64,
        /// Smallest value allowed.
        min: i64,
        /// Largest value allowed.
        max: i64,
    },
    /// A number of samples that is not a power of two.
    SamplesNotPowerOfTwo {
        /// The number given.
        samples: u16,
    },
    /// A right shift that leaves fewer than three counts, so none between zero and the rail.
    ShiftTooLarge {
        /// The shift given.
        right_shift: u8,
        /// Largest count that is left.
        largest_count: u32,
    },
    /// A cell whose lowest voltage is not below its highest.
    CellRangeEmpty {
        /// Lowest cell voltage in microvolts.
        min_uv: u32,
        /// Highest cell voltage in microvolts.
        max_uv: u32,
    },
    /// A cell whose highest voltage is more than the output type can carry.
    CellAboveOutput {
        /// Highest cell voltage in microvolts.
        max_uv: u32,
        /// Largest output in microvolts.
        limit_uv: u32,
    },
    /// A divider that puts the fullest cell above the reference.
    DividerAboveReference {
        /// Divided voltage of the fullest cell in microvolts, rounded down.
        pin_uv: u32,
        /// The reference in microvolts.
        reference_uv: u32,
    },
    /// A supply reference that is not below the emptiest cell's voltage.
    ReferenceNotBelowCell {
        /// The reference in microvolts.
        reference_uv: u32,
        /// Lowest cell voltage in microvolts.
        min_uv: u32,
    },
    /// A temperature table whose entries do not keep one direction.
    TableTurnsBack {
        /// The first entry that turns back; 0 if all are equal.
        index: u32,
    },
    /// A temperature table whose counts pass its entries or the wire limits.
    TableCounts {
        /// Count of the first entry.
        first: u32,
        /// Counts that are temperatures.
        counts: u32,
        /// Counts from the first entry to the last.
        positions: u32,
    },
    /// A limit, or the value where it comes back, that all readable values are beyond, or none.
    LimitNotReadable {
        /// The limit in the value's own steps.
        limit: i32,
    },
    /// A hysteresis so long that no voltage comes back inside the limit: an alarm would never end.
    HysteresisTooLong {
        /// The limit in microvolts.
        limit_uv: u32,
        /// How far inside the limit a voltage would have come back, in microvolts.
        hysteresis_uv: u32,
    },
    /// A channel, or a summing stage, whose window is not what the conversion sums.
    WindowMismatch {
        /// Samples in the channel's window.
        window: u32,
        /// Samples in a count of the conversion.
        samples: u16,
        /// Right shift of that sum.
        right_shift: u8,
    },
    /// Counts that are wider than the conversion's type says.
    CountsWider {
        /// The largest count of the description.
        largest_count: u32,
        /// Bits of a count that the conversion takes.
        bits: u32,
    },
    /// No line up to the widest product gives every count exactly.
    Unproven {
        /// Largest shift tried.
        shift: u32,
    },
    /// Module constants outside their limits: some count would wrap, or leave the output's range.
    Constants,
}

impl ConfigError {
    /// The rule that was broken and how to fix it, without the numbers (these are in the variant).
    #[must_use]
    pub const fn fix(&self) -> &'static str {
        match self {
            Self::OutOfBounds { field, .. } => match field {
                Field::Bits => "converter bits must be 8 to 16: give the converter's resolution",
                Field::Samples => "samples must be 1 to 1024: sum fewer, or decimate twice",
                Field::ExtraBits => "extra bits must be 0 to 5 (4^5 = 1024 samples)",
                Field::RightShift => "right shift must be 0 to 8: shift less, the bits are wanted",
                Field::ReferenceUv => {
                    "the reference must be 100 000 to 8 000 000 microvolts: check the unit"
                }
                Field::Resistance => {
                    "each divider resistance must be 1 to 10 000 000: give both in ohms, or both in a coarser unit"
                }
                Field::CellUv => {
                    "cell voltages must be 100 000 to 65 535 000 microvolts: check the unit"
                }
                Field::CountBits => "counts have 8 to 26 bits: give the width of the largest count",
                Field::Gain => "the gain must be 0.5 to 2: measure again",
                Field::Offset => "the offset must be -4096 to 4096 counts: measure again",
                Field::TableEntries => "a temperature table has 16 to 64 entries: build it again",
                Field::TableStep => {
                    "table entries must be 2^0 to 2^14 counts apart: sum fewer samples for the temperature"
                }
                Field::TableFraction => {
                    "table entries may be 0 to 6 bits finer than 0.1 degC: build it again"
                }
                Field::TableCount => {
                    "a temperature table starts at count 1 or above: build it for this converter"
                }
                Field::DebounceReadings => "a debounce takes 1 to 127 readings: 1 reacts at once",
                Field::LowPass => "the low-pass time constant must be 2^1 to 2^6 readings",
            },
            Self::SamplesNotPowerOfTwo { .. } => {
                "samples must be a power of two (1, 2, 4, .. 1024): sum to the next power of two"
            }
            Self::ShiftTooLarge { .. } => {
                "the right shift leaves no count between zero and the rail: shift less or sum more samples"
            }
            Self::CellRangeEmpty { .. } => {
                "the cell's lowest voltage must be below its highest: swap or correct them"
            }
            Self::CellAboveOutput { .. } => {
                "the fullest cell does not fit a 16-bit voltage: use the 1 mV output unit"
            }
            Self::DividerAboveReference { .. } => {
                "the divider puts the fullest cell above the reference: raise the top or lower the bottom resistance"
            }
            Self::ReferenceNotBelowCell { .. } => {
                "the supply reference must be below the emptiest cell's voltage: choose a lower reference"
            }
            Self::TableTurnsBack { .. } => {
                "table entries must all rise or all fall: build the table again"
            }
            Self::TableCounts { .. } => {
                "the table's counts must lie between the wire limits and not pass its last entry: build it again"
            }
            Self::LimitNotReadable { .. } => {
                "a limit and its hysteresis must lie inside what can be read: move it, or widen the input's range"
            }
            Self::HysteresisTooLong { .. } => {
                "a voltage must come back inside what can be read: shorten the hysteresis, and check its unit"
            }
            Self::WindowMismatch { .. } => {
                "the channel's window must be the acquisition's samples, without a shift: describe the sum that is taken"
            }
            Self::CountsWider { .. } => {
                "the counts are wider than the conversion's type: write DividedConversion<BITS> with the width of the largest count"
            }
            Self::Unproven { .. } => {
                "no line is exact at every count: sum fewer samples or change the last digit of a resistance"
            }
            Self::Constants => {
                "module constants must give some count a voltage, and none beyond the output's range: take them from `fit`, measure gain and offset again, or draw a circuit in which the output can hold some count"
            }
        }
    }
}

/// Turns a `Result` of this crate into its value while compiling.
///
/// An error becomes a compile error that says the fix and the values given, so firmware holds only proven constants. The expression is
/// evaluated in a `const` block: nothing of it, and no panic, is left at run time.
///
/// ```
/// use tallyvolt::{BlockSum, proven};
///
/// const SIXTEEN: BlockSum = proven!(BlockSum::new(16));
/// # assert_eq!(SIXTEEN, BlockSum::new(16).unwrap());
/// ```
#[macro_export]
macro_rules! proven {
    ($described:expr) => {
        const {
            match $described {
                Ok(value) => value,
                Err(error) => {
                    let error: $crate::ConfigError = error;
                    error.refuse()
                }
            }
        }
    };
}

/// The value of a `Result`, whose error the function around it returns: `?`, as far as a function of constants may.
macro_rules! tried {
    ($result:expr) => {
        match $result {
            Ok(value) => value,
            Err(error) => return Err(error),
        }
    };
}
pub(crate) use tried;
