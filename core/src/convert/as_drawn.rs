//! A drawing as a type: constants that are in the code, and not in memory.
//!
//! A conversion behind a pointer is loaded word by word at every count. Constants of a type are immediate operands, which a core of
//! 8 bits converts with in half the time.

use core::marker::PhantomData;

use super::cell_conversion::{CellConversion, sealed};
use super::line::DividedConversion;
use super::window::{Summing, Window};
use crate::error::ConfigError;
use crate::units::{Count, Fault, Microvolts, Voltage};
use crate::watch::alarm::{AlarmRule, Limit};
use crate::watch::limits::{CountLimit, LimitSide};

/// A drawing's conversion as an associated constant.
pub trait Drawn<const BITS: u32> {
    /// The conversion, as [`crate::DividedInput::conversion`] proves it.
    const CONVERSION: DividedConversion<BITS>;
}

/// A conversion without memory: that of a [`Drawn`] type. Every voltage is that of its constant.
///
/// ```
/// # use tallyvolt::{
/// #     Acquisition, CellRange, CellConversion, Count, DividedConversion, DividedDescription, DividedInput, OutputUnit, Voltage, proven,
/// # };
/// use tallyvolt::{AsDrawn, Drawn};
/// # const INPUT: DividedInput = proven!(DividedInput::new(DividedDescription {
/// #     acquisition: Acquisition::single(12),
/// #     reference_uv: 1_225_000,
/// #     top_ohms: 24_900,
/// #     bottom_ohms: 10_000,
/// #     cell: CellRange { min_uv: 2_000_000, max_uv: 3_650_000 },
/// #     unit: OutputUnit::Millivolt,
/// # }));
/// struct Lighting;
/// impl Drawn<12> for Lighting {
///     const CONVERSION: DividedConversion<12> = proven!(INPUT.conversion());
/// }
/// assert_eq!(AsDrawn::<12, Lighting>::NEW.voltage(Count(3065)), Ok(Voltage(3200)));
/// ```
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct AsDrawn<const BITS: u32, D>(PhantomData<D>);

impl<const BITS: u32, D> core::fmt::Debug for AsDrawn<BITS, D> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("AsDrawn")
    }
}

impl<const BITS: u32, D> AsDrawn<BITS, D> {
    /// The only value there is.
    pub const NEW: Self = Self(PhantomData);
}

impl<const BITS: u32, D> sealed::Kernels for AsDrawn<BITS, D> {}

impl<const BITS: u32, D: Drawn<BITS>> CellConversion for AsDrawn<BITS, D> {
    #[inline]
    fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
        #[cfg(all(feature = "arch", target_arch = "avr", target_feature = "mul"))]
        return crate::arch::drawn::<BITS, D>(count);
        #[cfg(not(all(feature = "arch", target_arch = "avr", target_feature = "mul")))]
        D::CONVERSION.voltage(count)
    }

    fn window(&self) -> Window {
        D::CONVERSION.window()
    }

    #[inline]
    fn summing(&self) -> Summing {
        D::CONVERSION.summing()
    }

    fn count_limit(&self, side: LimitSide, limit: Microvolts) -> Result<CountLimit, ConfigError> {
        D::CONVERSION.count_limit(side, limit)
    }

    fn limit(
        &self,
        side: LimitSide,
        limit: Microvolts,
        hysteresis: Microvolts,
        rule: AlarmRule,
    ) -> Result<Limit, ConfigError> {
        D::CONVERSION.limit(side, limit, hysteresis, rule)
    }

    fn reference_lost(&self, fault: Fault, sensor_at_top: bool) -> bool {
        D::CONVERSION.reference_lost(fault, sensor_at_top)
    }
}
