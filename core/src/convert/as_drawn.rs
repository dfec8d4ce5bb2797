//! A drawing as a type: constants that are in the code, and not in memory.

use core::marker::PhantomData;

use super::line::DividedConversion;
use super::window::told;
use crate::arch::{Immediate, ImmediateLine, kernels};
use crate::units::{Count, Fault, Voltage};

/// A drawing's conversion as an associated constant.
pub trait Drawn<const BITS: u32> {
    /// The conversion, as [`crate::DividedInput::conversion`] proves it.
    const CONVERSION: DividedConversion<BITS>;
}

/// A conversion without memory: that of a [`Drawn`] type. Every voltage is that of its constant.
///
/// A conversion behind a pointer is loaded word by word at every count. Constants of a type are immediate operands, which a core of
/// 8 bits converts with in half the time.
///
/// ```
/// # use tallyvolt::{
/// #     Acquisition, CellRange, Count, DividedConversion, DividedDescription, DividedInput, OutputUnit, Voltage, proven,
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

#[cfg(feature = "defmt")]
impl<const BITS: u32, D> defmt::Format for AsDrawn<BITS, D> {
    fn format(&self, fmt: defmt::Formatter<'_>) {
        defmt::write!(fmt, "AsDrawn");
    }
}

impl<const BITS: u32, D> AsDrawn<BITS, D> {
    /// The only value there is.
    pub const NEW: Self = Self(PhantomData);
}

impl<const BITS: u32, D: Drawn<BITS>> AsDrawn<BITS, D> {
    /// The voltage of a count in output units, or why the count is none.
    ///
    /// # Errors
    /// [`Fault`], as [`DividedConversion::voltage`].
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "immediate operands")]
    #[cfg_attr(
        not(all(feature = "arch", target_arch = "avr", target_feature = "mul")),
        expect(clippy::missing_const_for_fn, reason = "kernels are no constants")
    )]
    pub fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
        if BITS > 16 {
            return D::CONVERSION.voltage(count);
        }
        match kernels::drawn::<Self>(count) {
            Some(units) => Ok(Voltage(units)),
            None => Err(D::CONVERSION.fault(count)),
        }
    }

    /// The value at a position of the window.
    pub(crate) const fn at(&self, position: u32) -> Voltage {
        D::CONVERSION.at(position)
    }
}

told!(
    [const BITS: u32, D: Drawn<BITS>] AsDrawn<BITS, D>,
    |_of| (D::CONVERSION.window().first, D::CONVERSION.window().counts),
    D::CONVERSION.summing()
);

impl<const BITS: u32, D: Drawn<BITS>> Immediate for AsDrawn<BITS, D> {
    const LINE: ImmediateLine = D::CONVERSION.immediate();
}
