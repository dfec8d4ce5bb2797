//! Limits: a voltage or temperature limit as a count limit. What follows when one is passed is in [`crate::watch::alarm`].

use core::convert::identity;
use core::num::NonZero;

use super::alarm::{AlarmRule, Limit};
use super::count_limit::CountLimit;
use crate::arch::{narrow, wide};
use crate::convert::as_drawn::{AsDrawn, Drawn};
use crate::convert::cell_conversion::CellConversion;
use crate::convert::divided_module::DividedModule;
use crate::convert::line::DividedConversion;
use crate::convert::quotient::SupplyConversion;
use crate::convert::supply_module::SupplyModule;
use crate::convert::tabled_supply_module::TabledSupplyModule;
use crate::convert::thermistor::Thermistor;
use crate::error::{ConfigError, tried};
use crate::rounding::divide_floor_u32;
use crate::units::{Count, Microvolts, OutputUnit, Temperature};

/// Which values are beyond a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LimitSide {
    /// Values above it.
    Over,
    /// Values below it.
    Under,
}

/// The first of so many positions at which a condition holds, which does from there on; their number where it holds at none. In the
/// type of that number: a core of 8 bits halves 16 bits, which a short form's counts have, in half the code.
macro_rules! halved {
    ($positions:expr, $middle:ident, $condition:expr) => {{
        let (mut low, mut high) = (0, $positions);
        while low < high {
            let $middle = low + ((high - low) >> 1);
            if $condition {
                high = $middle;
            } else {
                low = $middle + 1;
            }
        }
        low
    }};
}

/// A conversion that a voltage limit can be given to: each of them, by the methods of the same names that are `const`.
pub trait VoltageLimits: CellConversion {
    /// The count limit that gives, at every count, the verdict of comparing the converted voltage with the limit.
    ///
    /// # Errors
    /// [`ConfigError::LimitNotReadable`] when all readable voltages, or none, are beyond the limit.
    fn count_limit(&self, side: LimitSide, limit: Microvolts) -> Result<CountLimit, ConfigError>;

    /// A limit with its rule; a voltage has come back when it is `hysteresis` inside the limit.
    ///
    /// # Errors
    /// As [`VoltageLimits::count_limit`], for the limit and for where it comes back; [`ConfigError::HysteresisTooLong`];
    /// [`ConfigError::OutOfBounds`] for the readings.
    fn limit(
        &self,
        side: LimitSide,
        limit: Microvolts,
        hysteresis: Microvolts,
        rule: AlarmRule,
    ) -> Result<Limit, ConfigError>;
}

macro_rules! voltage_limits {
    ($([$($bits:tt)*] $conversion:ty, rises: $rises:literal, counts: $narrow:ident, $wide:ident;)+) => {$(
        impl<$($bits)*> $conversion {
            /// The count limit that gives, at every count, the verdict of comparing the converted voltage with the limit.
            ///
            /// # Errors
            /// [`ConfigError::LimitNotReadable`] when all readable voltages, or none, are beyond the limit.
            // Inline, so that a constant limit is divided while compiling.
            #[inline(always)]
            pub const fn count_limit(
                &self,
                side: LimitSide,
                limit: Microvolts,
            ) -> Result<CountLimit, ConfigError> {
                let limit = in_steps(side, limit, self.unit());
                let upper = is_upper(side, $rises);
                match self.count_at(upper, reached(side, limit)) {
                    Some(count) => Ok(count_limit(upper, Count(count.get()))),
                    None => Err(ConfigError::LimitNotReadable { limit }),
                }
            }

            /// The last count that is not beyond; none where all of them are, or none is.
            #[expect(
                clippy::arithmetic_side_effects,
                reason = "middle is below high; first is 1 at least, first and counts together at most the largest count, below 2^26"
            )]
            const fn count_at(&self, upper: bool, reached: Option<u16>) -> Option<NonZero<u32>> {
                let (Some(reached), window) = (reached, self.window()) else {
                    return None;
                };
                let counts = $narrow(window.counts());
                let found = halved!(counts, middle, (self.at($wide(middle)).0 >= reached) == $rises);
                if found == 0 || found == counts {
                    return None;
                }
                NonZero::new(window.first().0 + $wide(found) - upper as u32)
            }

            /// A limit with its rule; a voltage has come back when it is `hysteresis` inside the limit.
            ///
            /// # Errors
            /// As [`Self::count_limit`], for the limit and for where it comes back; [`ConfigError::HysteresisTooLong`];
            /// [`ConfigError::OutOfBounds`] for the readings.
            #[inline(always)]
            pub const fn limit(
                &self,
                side: LimitSide,
                limit: Microvolts,
                hysteresis: Microvolts,
                rule: AlarmRule,
            ) -> Result<Limit, ConfigError> {
                let released = tried!(released_voltage(side, limit, hysteresis));
                tried!(Limit::check(rule));
                let trip = in_steps(side, limit, self.unit());
                let hold = in_steps(side, released, self.unit());
                let (trip_at, hold_at) = (reached(side, trip), reached(side, hold));
                match self.limit_at(is_upper(side, $rises), trip_at, hold_at, rule) {
                    Ok(limit) => Ok(limit),
                    Err(End::Trip) => Err(ConfigError::LimitNotReadable { limit: trip }),
                    Err(End::Hold) => Err(ConfigError::LimitNotReadable { limit: hold }),
                }
            }

            /// A limit, by the voltages that reach it and where it comes back; the one that cannot be read.
            // On small cores once, for both limits.
            #[cfg_attr(target_pointer_width = "16", inline(never))]
            const fn limit_at(
                &self,
                upper: bool,
                trip: Option<u16>,
                hold: Option<u16>,
                rule: AlarmRule,
            ) -> Result<Limit, End> {
                let Some(trip) = self.count_at(upper, trip) else {
                    return Err(End::Trip);
                };
                let Some(hold) = self.count_at(upper, hold) else {
                    return Err(End::Hold);
                };
                Ok(Limit::of(upper, [Count(trip.get()), Count(hold.get())], rule))
            }
        }

        impl<$($bits)*> VoltageLimits for $conversion {
            #[inline(always)]
            fn count_limit(
                &self,
                side: LimitSide,
                limit: Microvolts,
            ) -> Result<CountLimit, ConfigError> {
                self.count_limit(side, limit)
            }

            #[inline(always)]
            fn limit(
                &self,
                side: LimitSide,
                limit: Microvolts,
                hysteresis: Microvolts,
                rule: AlarmRule,
            ) -> Result<Limit, ConfigError> {
                self.limit(side, limit, hysteresis, rule)
            }
        }
    )+};
}

voltage_limits! {
    [const BITS: u32] DividedConversion<BITS>, rises: true, counts: identity, identity;
    [const BITS: u32] DividedModule<BITS>, rises: true, counts: narrow, wide;
    [const BITS: u32, D: Drawn<BITS>] AsDrawn<BITS, D>, rises: true, counts: identity, identity;
    [] SupplyConversion, rises: false, counts: identity, identity;
    [] SupplyModule, rises: false, counts: narrow, wide;
    [] TabledSupplyModule, rises: false, counts: narrow, wide;
}

impl Thermistor<'_> {
    /// As [`DividedConversion::count_limit`], for temperatures; the table says which way the count goes.
    ///
    /// # Errors
    /// [`ConfigError::LimitNotReadable`] when all readable temperatures, or none, are beyond the limit.
    pub const fn count_limit(
        &self,
        side: LimitSide,
        limit: Temperature,
    ) -> Result<CountLimit, ConfigError> {
        match self.count_at(side, limit.0 as i32) {
            Ok(count) => Ok(count_limit(is_upper(side, self.table().rises()), count)),
            Err(error) => Err(error),
        }
    }

    /// A limit with its rule; a temperature has come back when it is `hysteresis_tenths` times 0.1 K inside the limit.
    ///
    /// # Errors
    /// As [`DividedConversion::limit`].
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "an i16 and a u16: within -98 304 and 98 302"
    )]
    pub const fn limit(
        &self,
        side: LimitSide,
        limit: Temperature,
        hysteresis_tenths: u16,
        rule: AlarmRule,
    ) -> Result<Limit, ConfigError> {
        let released = match side {
            LimitSide::Over => limit.0 as i32 - hysteresis_tenths as i32,
            LimitSide::Under => limit.0 as i32 + hysteresis_tenths as i32,
        };
        tried!(Limit::check(rule));
        match (
            self.count_at(side, limit.0 as i32),
            self.count_at(side, released),
        ) {
            (Ok(trip), Ok(hold)) => {
                let upper = is_upper(side, self.table().rises());
                Ok(Limit::of(upper, [trip, hold], rule))
            }
            (Err(error), _) | (_, Err(error)) => Err(error),
        }
    }

    #[expect(
        clippy::arithmetic_side_effects,
        reason = "a temperature and its hysteresis; middle is below high; first is 1 at least, first and counts together at most the \
                  largest count, below 2^26"
    )]
    const fn count_at(&self, side: LimitSide, limit: i32) -> Result<Count, ConfigError> {
        let (rises, counts) = (self.table().rises(), self.counts());
        let reached = limit + matches!(side, LimitSide::Over) as i32;
        let found = halved!(
            counts,
            middle,
            (self.table().at(middle).0 as i32 >= reached) == rises
        );
        if found == 0 || found == counts {
            return Err(ConfigError::LimitNotReadable { limit });
        }
        Ok(Count(self.first().0 + found - is_upper(side, rises) as u32))
    }
}

/// An end of a limit.
enum End {
    Trip,
    Hold,
}

/// Whether the counts beyond are the larger ones.
const fn is_upper(side: LimitSide, rises: bool) -> bool {
    matches!(side, LimitSide::Over) == rises
}

const fn count_limit(upper: bool, count: Count) -> CountLimit {
    if upper {
        CountLimit::Above(count)
    } else {
        CountLimit::Below(count)
    }
}

/// The voltage at which a limit is no longer beyond.
const fn released_voltage(
    side: LimitSide,
    limit: Microvolts,
    hysteresis: Microvolts,
) -> Result<Microvolts, ConfigError> {
    let released = match side {
        LimitSide::Over => limit.0.checked_sub(hysteresis.0),
        LimitSide::Under => limit.0.checked_add(hysteresis.0),
    };
    match released {
        Some(released) => Ok(Microvolts(released)),
        None => Err(ConfigError::HysteresisTooLong {
            limit_uv: limit.0,
            hysteresis_uv: hysteresis.0,
        }),
    }
}

/// A limit in whole output steps with the same verdict: `n * step > limit` exactly when `n > floor(limit / step)`, and
/// `n * step < limit` exactly when `n < ceil(limit / step)`.
#[expect(
    clippy::cast_possible_wrap,
    clippy::arithmetic_side_effects,
    reason = "a u32 over 100 at least is below 2^26; the step is never 0"
)]
const fn in_steps(side: LimitSide, limit: Microvolts, unit: OutputUnit) -> i32 {
    let step = unit.step_uv();
    match side {
        LimitSide::Over => divide_floor_u32(limit.0, step) as i32,
        LimitSide::Under => {
            let whole = divide_floor_u32(limit.0, step);
            (whole + (whole * step != limit.0) as u32) as i32
        }
    }
}

/// The smallest voltage beyond a limit in output steps, or under it the smallest that is not; none where there is no such voltage.
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a limit is a u32 over 100; looked at first"
)]
const fn reached(side: LimitSide, limit: i32) -> Option<u16> {
    let reached = limit + matches!(side, LimitSide::Over) as i32;
    if reached > u16::MAX as i32 {
        return None;
    }
    Some(reached as u16)
}
