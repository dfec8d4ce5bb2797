//! A set-up that is known to fit its window, so that a channel of it can be made while compiling, for a `static`.

use super::channel_setup::ChannelSetup;
use crate::convert::as_drawn::{AsDrawn, Drawn};
use crate::convert::divided_module::DividedModule;
use crate::convert::line::DividedConversion;
use crate::convert::quotient::SupplyConversion;
use crate::convert::supply_module::SupplyModule;
use crate::convert::tabled_supply_module::TabledSupplyModule;
use crate::convert::thermistor::Thermistor;
use crate::convert::window::Summing;
use crate::error::ConfigError;

/// A [`ChannelSetup`] whose conversion is of `WINDOW` summed samples without a shift: what [`crate::Channel::of`] and
/// [`crate::BlockChannel::of`] take.
#[derive(Debug, Clone, Copy)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct WindowSetup<'a, C, const WINDOW: usize, S = Thermistor<'static>> {
    pub(super) setup: &'a ChannelSetup<C, S>,
    pub(super) summing: Summing,
}

impl<'a, C, const WINDOW: usize, S> WindowSetup<'a, C, WINDOW, S> {
    /// Of a set-up and what its conversion sums.
    #[inline]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "a window too long for 16 bits is made the longest, which is none of a set-up either"
    )]
    pub(super) const fn new(
        setup: &'a ChannelSetup<C, S>,
        summing: Summing,
    ) -> Result<Self, ConfigError> {
        let window = if WINDOW > u16::MAX as usize {
            u32::MAX
        } else {
            WINDOW as u32
        };
        match summing.check_window(window) {
            Ok(()) => Ok(Self { setup, summing }),
            Err(error) => Err(error),
        }
    }
}

// A trait's methods are not `const` yet, so each conversion has its own.
macro_rules! windows {
    ($([$($bits:tt)*] $conversion:ty;)+) => {$(
        impl<$($bits)* S> ChannelSetup<$conversion, S> {
            /// This set-up for channels of `WINDOW` samples that are made while compiling.
            ///
            /// # Errors
            /// [`ConfigError::WindowMismatch`] when the conversion is not of `WINDOW` summed samples without a shift.
            pub const fn for_window<const WINDOW: usize>(
                &self,
            ) -> Result<WindowSetup<'_, $conversion, WINDOW, S>, ConfigError> {
                WindowSetup::new(self, self.conversion.summing())
            }
        }
    )+};
}

windows! {
    [const BITS: u32,] DividedConversion<BITS>;
    [const BITS: u32,] DividedModule<BITS>;
    [const BITS: u32, D: Drawn<BITS>,] AsDrawn<BITS, D>;
    [] SupplyConversion;
    [] SupplyModule;
    [] TabledSupplyModule;
}
