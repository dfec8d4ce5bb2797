//! Plausibility: what makes a reading doubtful although its count converts.

use crate::units::{Count, Sample};

/// A set of faults of one reading.
///
/// | fault | how it is noticed |
/// |---|---|
/// | supply below minimum | the cell's count is beyond the count limit of the converter's lowest supply voltage |
/// | sample at the rail | any sample of the window was 0 or the top code, even where the sum is not at the rail |
/// | stuck | the same count in a row of readings |
/// | reference lost | supply reference: count 0 or a voltage beyond the output. Divided input: cell and sensor both at the top |
/// | sensor open, short, out of table | from the thermistor's conversion |
/// | bleeding | the bleed resistor conducts, or did a few readings ago: the wire's I * R is in the reading |
///
/// # Reading while the bleed resistor conducts
/// A bleed current I through the resistance R that the bleed and the measurement share (wires, connector, a fuse) makes the
/// reading low by I * R, whatever the topology: [`bleed_error_uv`]. 150 mA through 80 mOhm is 12 mV. The voltage is still
/// reported, flagged, and voltage limits are not judged until the window is fresh again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Faults(u16);

impl Faults {
    /// No fault.
    pub const NONE: Self = Self(0);
    /// The count is no voltage; the reading's voltage says why.
    pub const NO_VOLTAGE: Self = Self(1);
    /// The supply is below the converter's minimum: nothing it converts is specified.
    pub const SUPPLY_LOW: Self = Self(1 << 1);
    /// A sample of the window stood at 0 or at the top code: the sum is cut off.
    pub const SAMPLE_AT_RAIL: Self = Self(1 << 2);
    /// The count has not moved for the readings that the set-up allows.
    pub const STUCK: Self = Self(1 << 3);
    /// The reference is missing.
    pub const REFERENCE_LOST: Self = Self(1 << 4);
    /// The temperature sensor's circuit is open.
    pub const SENSOR_OPEN: Self = Self(1 << 5);
    /// The temperature sensor's circuit is shorted.
    pub const SENSOR_SHORT: Self = Self(1 << 6);
    /// The temperature is outside the table.
    pub const SENSOR_RANGE: Self = Self(1 << 7);
    /// The bleed resistor conducts, or conducted within the window: the voltage is low by I * R.
    pub const BLEEDING: Self = Self(1 << 8);

    /// Every fault with its name, in the order of its bit.
    pub const ALL: [(Self, &'static str); 9] = [
        (Self::NO_VOLTAGE, "no voltage"),
        (Self::SUPPLY_LOW, "supply low"),
        (Self::SAMPLE_AT_RAIL, "sample at rail"),
        (Self::STUCK, "stuck"),
        (Self::REFERENCE_LOST, "reference lost"),
        (Self::SENSOR_OPEN, "sensor open"),
        (Self::SENSOR_SHORT, "sensor short"),
        (Self::SENSOR_RANGE, "sensor out of table"),
        (Self::BLEEDING, "bleeding"),
    ];

    /// These faults and those.
    #[must_use]
    pub const fn with(self, others: Self) -> Self {
        Self(self.0 | others.0)
    }

    /// These faults, and those if a condition holds.
    #[must_use]
    pub(crate) const fn with_if(self, others: Self, condition: bool) -> Self {
        if condition { self.with(others) } else { self }
    }

    /// Whether all of `others` are among these.
    #[must_use]
    pub const fn contains(self, others: Self) -> bool {
        self.0 & others.0 == others.0
    }

    /// Whether there is none.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// One bit a fault, in the order of [`Faults::ALL`], for a frame or a log.
    #[must_use]
    pub const fn bits(self) -> u16 {
        self.0
    }

    /// The faults of such a number; none where it has a bit that is no fault known here. What newer firmware found is not dropped
    /// unseen: the frame or log needs a newer version of this crate.
    ///
    /// ```
    /// use tallyvolt::Faults;
    ///
    /// let found = Faults::STUCK.with(Faults::BLEEDING);
    /// assert_eq!(Faults::from_bits(found.bits()), Some(found));
    /// assert_eq!(Faults::from_bits(1 << 15), None);
    /// ```
    #[must_use]
    pub const fn from_bits(bits: u16) -> Option<Self> {
        if bits & !Self::KNOWN == 0 {
            Some(Self(bits))
        } else {
            None
        }
    }

    /// The bits of all faults.
    const KNOWN: u16 = {
        let (mut known, mut rest) = (Self::NONE, Self::ALL.as_slice());
        while let [(fault, _), others @ ..] = rest {
            known = known.with(*fault);
            rest = others;
        }
        known.0
    };
}

#[cfg(feature = "defmt")]
impl defmt::Format for Faults {
    fn format(&self, fmt: defmt::Formatter<'_>) {
        if self.is_empty() {
            defmt::write!(fmt, "no faults");
        }
        for (fault, name) in Self::ALL {
            if self.contains(fault) {
                defmt::write!(fmt, "[{=str}]", name);
            }
        }
    }
}

/// How many microvolts a reading is low while a bleed current flows through shared resistance: exactly I * R.
///
/// # Range
/// Every input is accepted: 65 535 mA through 65 535 mOhm is below 2^32 uV.
#[must_use]
#[expect(clippy::arithmetic_side_effects, reason = "(2^16 - 1)^2 is below 2^32")]
pub const fn bleed_error_uv(milliamperes: u16, milliohms: u16) -> u32 {
    milliamperes as u32 * milliohms as u32
}

/// Notices a count that does not move.
///
/// A quiet input through a coarse converter rests on one code for good reason: look for this only where noise moves the
/// counts, as it does in a sum of samples with half a step of noise or more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct StuckWatch {
    count: u32,
    row: u8,
}

impl StuckWatch {
    /// Nothing seen yet.
    pub const NEW: Self = Self { count: 0, row: 0 };

    /// Takes a reading's count; true once `readings` in a row were equal. 0 never answers true.
    #[inline]
    pub const fn update(&mut self, count: Count, readings: u8) -> bool {
        is_stuck(&mut self.count, &mut self.row, count, readings)
    }
}

/// [`StuckWatch::update`] of a watch whose parts lie where there is room for them.
#[inline]
pub(crate) const fn is_stuck(last: &mut u32, row: &mut u8, count: Count, readings: u8) -> bool {
    *row = if *row > 0 && *last == count.0 {
        row.saturating_add(1)
    } else {
        1
    };
    *last = count.0;
    readings > 0 && *row >= readings
}

/// Notices samples at 0 or at the top code for as long as they are in the window.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RailWatch {
    left: u16,
}

impl RailWatch {
    /// Nothing seen yet.
    pub const NEW: Self = Self { left: 0 };

    /// Takes a sample of a converter with this top code, for a window of so many samples.
    #[inline]
    pub const fn update(&mut self, sample: Sample, top_code: Sample, window: u16) {
        self.left = if at_rail(sample, top_code) {
            window
        } else {
            self.left.saturating_sub(1)
        };
    }

    /// Takes several samples, the oldest first: the same as each in turn.
    #[inline]
    pub fn extend(&mut self, samples: &[u16], top_code: Sample, window: u16) {
        if any_at_rail(samples, top_code) {
            self.update_each(samples, top_code, window);
        } else if self.left > 0 {
            // A slice may be longer than any window.
            let passed = u16::try_from(samples.len()).unwrap_or(u16::MAX);
            self.left = self.left.saturating_sub(passed);
        }
    }

    #[cold]
    #[inline(never)]
    fn update_each(&mut self, samples: &[u16], top_code: Sample, window: u16) {
        for sample in samples {
            self.update(Sample(*sample), top_code, window);
        }
    }

    /// Whether the window holds such a sample.
    #[must_use]
    pub const fn in_window(self) -> bool {
        self.left > 0
    }
}

/// Apart from sums of the same samples, as those are from each other: `SlidingSum::keep`.
#[inline(never)]
fn any_at_rail(samples: &[u16], top_code: Sample) -> bool {
    let mut samples = samples.iter();
    samples.any(|sample| at_rail(Sample(*sample), top_code))
}

/// 0, or the top code and above: less one, 0 is the largest number, so one comparison tells. (A top code of 0 is beyond all.)
const fn at_rail(sample: Sample, top_code: Sample) -> bool {
    (sample.0 as usize).wrapping_sub(1) >= (top_code.0 as usize).saturating_sub(1)
}
