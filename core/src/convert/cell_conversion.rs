//! What a channel, a limit or generic firmware asks of a conversion, whichever the topology.

use super::as_drawn::{AsDrawn, Drawn};
use super::constants::Words;
use super::divided_module::DividedModule;
use super::line::DividedConversion;
use super::quotient::SupplyConversion;
use super::supply_module::SupplyModule;
use super::tabled_supply_module::TabledSupplyModule;
use super::window::{Summing, Window};
use crate::units::{Count, Fault, Voltage};

/// Any conversion, of either topology. Sealed: its implementations are those of this crate.
pub trait CellConversion: sealed::Sealed {
    /// The voltage of a count, or why it is none.
    ///
    /// # Errors
    /// [`Fault`], as the conversion's own `voltage`.
    fn voltage(&self, count: Count) -> Result<Voltage, Fault>;

    /// The counts that are voltages.
    fn window(&self) -> Window;

    /// How a count comes about, and the step of a voltage.
    fn summing(&self) -> Summing;

    /// Whether a fault means a lost reference; `sensor_at_top` tells of the other input against the same reference.
    fn reference_lost(&self, fault: Fault, sensor_at_top: bool) -> bool;
}

pub(crate) mod sealed {
    use super::{Summing, Words};

    /// Keeps [`super::CellConversion`] to this crate.
    pub trait Sealed {}

    /// A conversion of constants that a record holds.
    pub trait Stored: Sized {
        /// The conversion of S or t and a record's words; none unless they are sound.
        fn from_words(shift: u8, words: &Words, summing: Summing) -> Option<Self>;

        /// S or t, and the words.
        fn words(&self) -> (u8, Words);
    }
}

/// Against a reference of nothing every input reads the top code; the cell alone could also be too high.
fn divided_reference_lost(fault: Fault, sensor_at_top: bool) -> bool {
    sensor_at_top && fault == Fault::Rail
}

/// The reference is what is sampled: next to nothing of it is no cell voltage that could be.
const fn supply_reference_lost(fault: Fault, _sensor_at_top: bool) -> bool {
    matches!(fault, Fault::ZeroCount | Fault::AboveRange)
}

macro_rules! conversions {
    ($([$($bits:tt)*] $conversion:ty, $reference_lost:ident;)+) => {$(
        impl<$($bits)*> sealed::Sealed for $conversion {}

        impl<$($bits)*> CellConversion for $conversion {
            #[inline]
            fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
                self.voltage(count)
            }

            fn window(&self) -> Window {
                self.window()
            }

            #[inline]
            fn summing(&self) -> Summing {
                self.summing()
            }

            fn reference_lost(&self, fault: Fault, sensor_at_top: bool) -> bool {
                $reference_lost(fault, sensor_at_top)
            }
        }

    )+};
}

macro_rules! stored {
    ($([$($bits:tt)*] $conversion:ty;)+) => {$(
        impl<$($bits)*> sealed::Stored for $conversion {
            #[inline(always)]
            fn from_words(shift: u8, words: &Words, summing: Summing) -> Option<Self> {
                Self::from_words(shift, words, summing)
            }

            fn words(&self) -> (u8, Words) {
                self.words()
            }
        }
    )+};
}

conversions! {
    [const BITS: u32] DividedConversion<BITS>, divided_reference_lost;
    [const BITS: u32] DividedModule<BITS>, divided_reference_lost;
    [const BITS: u32, D: Drawn<BITS>] AsDrawn<BITS, D>, divided_reference_lost;
    [] SupplyConversion, supply_reference_lost;
    [] SupplyModule, supply_reference_lost;
    [] TabledSupplyModule, supply_reference_lost;
}

stored! {
    [const BITS: u32] DividedConversion<BITS>;
    [const BITS: u32] DividedModule<BITS>;
    [] SupplyConversion;
    [] SupplyModule;
}
