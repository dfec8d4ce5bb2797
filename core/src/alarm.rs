//! Alarms: hysteresis, debounce by consecutive readings, and latching, in one byte of state.

use crate::bounds::DEBOUNCE_READINGS;
use crate::error::ConfigError;
use crate::limits::CountLimit;
use crate::units::Count;

/// What surrounds a limit: how far a value must come back, how often it must say so, and whether the alarm stays.
///
/// # Range
/// `readings` 1 to 127; 1 means no debounce.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AlarmRule {
    /// Distance from the limit, in the value's own steps, at which a value has come back.
    pub hysteresis: u16,
    /// Consecutive readings that must agree before the alarm changes.
    pub readings: u8,
    /// Whether an alarm stays until it is acknowledged.
    pub latching: bool,
}

impl AlarmRule {
    /// At once, without hysteresis, not latching.
    pub const PLAIN: Self = Self {
        hysteresis: 0,
        readings: 1,
        latching: false,
    };
}

/// A checked limit: where it trips, where it holds, and its rule. Constant, for flash; the state is an [`Alarm`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Limit {
    /// Counts above this one trip, or the others where `below`.
    trip: u32,
    /// Counts above this one hold, or the others where `below`.
    hold: u32,
    below: bool,
    readings: u8,
    latching: bool,
}

impl Limit {
    pub(crate) const fn new(
        trip: Result<CountLimit, ConfigError>,
        hold: Result<CountLimit, ConfigError>,
        rule: AlarmRule,
    ) -> Result<Self, ConfigError> {
        if let Err(error) = DEBOUNCE_READINGS.check(rule.readings as i64) {
            return Err(error);
        }
        let (trip, hold, below) = match (trip, hold) {
            (Ok(CountLimit::Above(trip)), Ok(CountLimit::Above(hold))) => (trip.0, hold.0, false),
            // Below a count are those not above the one before; a count limit has counts on both sides, so there is one.
            (Ok(CountLimit::Below(trip)), Ok(CountLimit::Below(hold))) => {
                (trip.0.saturating_sub(1), hold.0.saturating_sub(1), true)
            }
            (Err(error), _) | (_, Err(error)) => return Err(error),
            // Both come from one conversion and one side.
            (Ok(_), Ok(_)) => return Err(ConfigError::LimitNotReadable { limit: 0 }),
        };
        Ok(Self {
            trip,
            hold,
            below,
            readings: rule.readings,
            latching: rule.latching,
        })
    }

    /// Beyond this, an alarm that is clear counts towards tripping.
    #[must_use]
    pub const fn trip(&self) -> CountLimit {
        self.count_limit(self.trip)
    }

    /// Beyond this, an alarm that is active stays active.
    #[must_use]
    pub const fn hold(&self) -> CountLimit {
        self.count_limit(self.hold)
    }

    const fn count_limit(&self, above: u32) -> CountLimit {
        if self.below {
            CountLimit::Below(Count(above.saturating_add(1)))
        } else {
            CountLimit::Above(Count(above))
        }
    }
}

/// The state of one limit: one byte of RAM.
///
/// | state | reading | then |
/// |---|---|---|
/// | clear | beyond the trip limit, `readings` times in a row | active |
/// | active, not latching | not beyond the hold limit, `readings` times in a row | clear |
/// | active, latching | any | active until [`Alarm::acknowledge`] |
///
/// One reading that disagrees starts a row anew.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Alarm {
    /// [`ACTIVE`], and below it the readings in a row that spoke for a change.
    state: u8,
}

const ACTIVE: u8 = 0x80;

impl Alarm {
    /// Not active.
    pub const CLEAR: Self = Self { state: 0 };

    /// Takes a reading's count and answers whether the alarm is active. Every `u32` is accepted.
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "the row is below the limit's readings between calls, so at most 126, and one more is below ACTIVE"
    )]
    pub const fn update(&mut self, limit: &Limit, count: Count) -> bool {
        let active = self.is_active();
        let threshold = if active { limit.hold } else { limit.trip };
        let beyond = (count.0 > threshold) != limit.below;
        if beyond == active || (active && limit.latching) {
            self.state &= ACTIVE;
            return active;
        }
        let row = (self.state & !ACTIVE) + 1;
        if row < limit.readings {
            self.state = (self.state & ACTIVE) | row;
            return active;
        }
        self.state = (self.state & ACTIVE) ^ ACTIVE;
        !active
    }

    /// Whether the alarm is active.
    #[must_use]
    pub const fn is_active(self) -> bool {
        self.state & ACTIVE != 0
    }

    /// Clears the alarm, latching or not. If the value is still beyond, it trips again after the rule's readings.
    pub const fn acknowledge(&mut self) {
        *self = Self::CLEAR;
    }
}
