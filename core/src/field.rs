//! The quantity that an error is about.

/// The described quantity that an error is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Field {
    /// Width of a sample.
    Bits,
    /// Samples in a count.
    Samples,
    /// Extra bits of a decimator.
    ExtraBits,
    /// Right shift of the sum.
    RightShift,
    /// Reference voltage.
    ReferenceUv,
    /// A resistance of the divider.
    Resistance,
    /// Lowest or highest cell voltage.
    CellUv,
    /// Width of the counts of a conversion.
    CountBits,
    /// Gain of a self-calibration.
    Gain,
    /// Offset of a self-calibration.
    Offset,
    /// Entries of a temperature table.
    TableEntries,
    /// Distance of a table's entries.
    TableStep,
    /// Fineness of a table's entries.
    TableFraction,
    /// Count of a table's first entry.
    TableCount,
    /// Consecutive readings of a debounce.
    DebounceReadings,
    /// Time constant of a low-pass filter.
    LowPass,
}

impl Field {
    /// The quantity in words, with its unit.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Bits => "converter bits",
            Self::Samples => "samples in a count",
            Self::ExtraBits => "extra bits",
            Self::RightShift => "right shift",
            Self::ReferenceUv => "reference voltage in microvolts",
            Self::Resistance => "divider resistance",
            Self::CellUv => "cell voltage in microvolts",
            Self::CountBits => "count bits",
            Self::Gain => "gain",
            Self::Offset => "offset in counts",
            Self::TableEntries => "entries of the temperature table",
            Self::TableStep => "base-2 logarithm of the counts between table entries",
            Self::TableFraction => "fraction bits of the table entries",
            Self::TableCount => "count of the first table entry",
            Self::DebounceReadings => "consecutive readings of a debounce",
            Self::LowPass => "base-2 logarithm of the low-pass time constant",
        }
    }

    /// Binary places of the values that an error names: steps of a gain are 2^-24, those of an offset 1/256 count.
    pub(crate) const fn fraction_bits(self) -> u32 {
        match self {
            Self::Gain => 24,
            Self::Offset => 8,
            _ => 0,
        }
    }
}
