//! A supply reference's module whose quotient a table of reciprocals gives, where a core has a use for one.

use super::supply_module::SupplyModule;
use super::window::told;
use crate::arch::tabled::{Reciprocal, tabled_units};
use crate::units::{Count, Fault, Voltage};

/// A [`SupplyModule`] that costs flash and RAM and saves cycles. Every answer is the plain module's.
///
/// An AVR has no divider, and divides bit by bit. With the feature `arch` this type has a table of reciprocals in the flash there, 573 bytes, and
/// numbers of its own beside the module's, 11 bytes of RAM: a voltage takes 100 cycles instead of up to 203. Only a program that uses the type
/// links the table. On every other core, without the feature, and on an AVR with more than 64 kB of flash it is the plain module and nothing else.
///
/// It pays where the CPU's time is scarce: where conversions follow each other without a pause, or one chip converts for many cells. Seventy
/// cycles are well below 1 % of what a converter takes for sixteen samples.
///
/// # Range
/// The table serves counts at which D has 16 bits, or would have them doubled, and voltages of up to 4369 output units. With constants of `fit`
/// in steps of 1 mV, counts of 9 to 14 bits and a reference of 0.6 V to 2.5 V, these are the voltages from 2200 mV, or less, to 4200 mV, or more. At
/// any other count the module divides bit by bit, some 55 cycles later than the plain one.
///
/// ```
/// # use tallyvolt::{
/// #     Acquisition, CellRange, ConfigError, Count, OutputUnit, RECORD_BYTES, RecordError, SupplyDescription, SupplyModule,
/// #     SupplyReference, Voltage, proven,
/// # };
/// # const INPUT: SupplyReference = proven!(SupplyReference::new(SupplyDescription {
/// #     acquisition: Acquisition::single(12),
/// #     reference_uv: 1_200_000,
/// #     cell: CellRange { min_uv: 2_000_000, max_uv: 3_650_000 },
/// #     unit: OutputUnit::Millivolt,
/// # }));
/// # fn shown(record: &[u8; RECORD_BYTES]) -> Result<(), RecordError> {
/// let loaded: SupplyModule = INPUT.load(record)?;
/// let module = loaded.with_table();
/// assert_eq!(module.voltage(Count(1500)), loaded.voltage(Count(1500)));
/// # Ok(())
/// # }
/// # let drawn = INPUT.conversion().unwrap();
/// # shown(&INPUT.record(&drawn, 1).encode()).unwrap();
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TabledSupplyModule {
    module: SupplyModule,
    table: Reciprocal,
}

told!([] TabledSupplyModule, |of| (of.module.window().first, of.module.window().counts), of.module.summing());

impl TabledSupplyModule {
    /// The voltage of a count in output units, or why the count is none.
    ///
    /// # Range
    /// Every `u32` is accepted.
    ///
    /// # Rounding
    /// To the nearest output unit, ties upward, of the constants' model; no error on top.
    ///
    /// # Errors
    /// [`Fault`], as [`SupplyModule::voltage`].
    #[inline]
    pub fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
        self.module.told(count, Self::units(count.0, self))
    }

    /// The output units of a count, or `u32::MAX` where it is none: for callers in other languages, in the C calling convention.
    ///
    /// # Range
    /// Every `u32` is accepted.
    #[inline]
    pub extern "C" fn units(count: u32, module: &Self) -> u32 {
        tabled_units(&module.table, Count(count), move || {
            SupplyModule::units(count, &module.module)
        })
    }

    /// The module without its table, as a record holds it.
    #[must_use]
    pub const fn plain(&self) -> SupplyModule {
        self.module
    }

    /// The value at a position of the window.
    pub(crate) const fn at(&self, position: u32) -> Voltage {
        self.module.at(position)
    }
}

impl SupplyModule {
    /// This module with a table of reciprocals, where the core has a use for one.
    #[must_use]
    #[inline(always)]
    #[expect(
        clippy::inline_always,
        reason = "what is loaded goes to its place without a copy"
    )]
    pub const fn with_table(self) -> TabledSupplyModule {
        TabledSupplyModule {
            table: Reciprocal::of(self.quotient()),
            module: self,
        }
    }
}
