//! Limits: a voltage or temperature limit as a count limit. What follows when one is passed is in [`crate::watch::alarm`].

use super::alarm::{AlarmRule, Limit};
use super::count_limit::CountLimit;
use crate::convert::as_drawn::{AsDrawn, Drawn};
use crate::convert::cell_conversion::CellConversion;
use crate::convert::divided_module::DividedModule;
use crate::convert::line::DividedConversion;
use crate::convert::quotient::SupplyConversion;
use crate::convert::supply_module::SupplyModule;
use crate::convert::thermistor::Thermistor;
use crate::error::ConfigError;
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
    /// As [`VoltageLimits::count_limit`], for the limit and for where it comes back; [`ConfigError::OutOfBounds`] for
    /// the readings.
    fn limit(
        &self,
        side: LimitSide,
        limit: Microvolts,
        hysteresis: Microvolts,
        rule: AlarmRule,
    ) -> Result<Limit, ConfigError>;
}

macro_rules! voltage_limits {
    ($([$($bits:tt)*] $conversion:ty, rises: $rises:literal;)+) => {$(
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
                match self.count_at(side, limit) {
                    Some(count) => Ok(count_limit(is_upper(side, $rises), count)),
                    None => Err(ConfigError::LimitNotReadable { limit }),
                }
            }

            /// The same of a limit in output steps; none where it cannot be read.
            const fn count_at(&self, side: LimitSide, limit: i32) -> Option<Count> {
                let window = self.window();
                let mut search = Search::new(side, limit, $rises, window.counts());
                while let Some(position) = search.probe() {
                    search.narrow(position, self.at(position).0 as i32);
                }
                search.count(is_upper(side, $rises), window.first(), window.counts())
            }

            /// A limit with its rule; a voltage has come back when it is `hysteresis` inside the limit.
            ///
            /// # Errors
            /// As [`Self::count_limit`], for the limit and for where it comes back; [`ConfigError::OutOfBounds`] for
            /// the readings.
            #[inline(always)]
            pub const fn limit(
                &self,
                side: LimitSide,
                limit: Microvolts,
                hysteresis: Microvolts,
                rule: AlarmRule,
            ) -> Result<Limit, ConfigError> {
                let released = match released_voltage(side, limit, hysteresis) {
                    Ok(released) => released,
                    Err(error) => return Err(error),
                };
                if let Err(error) = Limit::check(rule) {
                    return Err(error);
                }
                let trip = in_steps(side, limit, self.unit());
                let hold = in_steps(side, released, self.unit());
                match self.limit_at(side, trip, hold, rule) {
                    Ok(limit) => Ok(limit),
                    Err(limit) => Err(ConfigError::LimitNotReadable { limit }),
                }
            }

            /// A limit in output steps, and where it comes back; the one that cannot be read.
            // On small cores once, for both limits.
            #[cfg_attr(target_pointer_width = "16", inline(never))]
            const fn limit_at(
                &self,
                side: LimitSide,
                trip: i32,
                hold: i32,
                rule: AlarmRule,
            ) -> Result<Limit, i32> {
                match (self.count_at(side, trip), self.count_at(side, hold)) {
                    (Some(trip), Some(hold)) => {
                        Ok(Limit::of(is_upper(side, $rises), [trip, hold], rule))
                    }
                    (None, _) => Err(trip),
                    (_, None) => Err(hold),
                }
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
    [const BITS: u32] DividedConversion<BITS>, rises: true;
    [const BITS: u32] DividedModule<BITS>, rises: true;
    [const BITS: u32, D: Drawn<BITS>] AsDrawn<BITS, D>, rises: true;
    [] SupplyConversion, rises: false;
    [] SupplyModule, rises: false;
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
        if let Err(error) = Limit::check(rule) {
            return Err(error);
        }
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

    const fn count_at(&self, side: LimitSide, limit: i32) -> Result<Count, ConfigError> {
        let rises = self.table().rises();
        let mut search = Search::new(side, limit, rises, self.counts());
        while let Some(position) = search.probe() {
            search.narrow(position, self.table().at(position).0 as i32);
        }
        match search.count(is_upper(side, rises), self.first(), self.counts()) {
            Some(count) => Ok(count),
            None => Err(ConfigError::LimitNotReadable { limit }),
        }
    }
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
        None => Err(ConfigError::LimitNotReadable { limit: 0 }),
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

/// Halving search for the first position whose value is above a limit, or where values fall for the first that is not. Not under a limit is
/// above the one before.
struct Search {
    above: i32,
    rises: bool,
    low: u32,
    high: u32,
}

impl Search {
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "a limit is a u32 over 100, or a temperature and its hysteresis, above -2^17"
    )]
    const fn new(side: LimitSide, limit: i32, rises: bool, positions: u32) -> Self {
        Self {
            above: match side {
                LimitSide::Over => limit,
                LimitSide::Under => limit - 1,
            },
            rises,
            low: 0,
            high: positions,
        }
    }

    /// The next position to look at; none once the end is found.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "low is below high here, and high at most the window's counts, below 2^26"
    )]
    const fn probe(&self) -> Option<u32> {
        if self.low < self.high {
            Some(self.low + ((self.high - self.low) >> 1))
        } else {
            None
        }
    }

    #[expect(
        clippy::arithmetic_side_effects,
        reason = "position is below high, below 2^26"
    )]
    const fn narrow(&mut self, position: u32, value: i32) {
        if (value > self.above) == self.rises {
            self.high = position;
        } else {
            self.low = position + 1;
        }
    }

    /// The count limit; none where all positions are beyond, or none is.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "first >= 1 and first + positions is at most the largest count, below 2^26"
    )]
    const fn count(&self, upper: bool, first: Count, positions: u32) -> Option<Count> {
        if self.low == 0 || self.low == positions {
            return None;
        }
        Some(Count(first.0 + self.low - upper as u32))
    }
}
