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
    trip: CountLimit,
    hold: CountLimit,
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
        match (trip, hold) {
            (Ok(trip), Ok(hold)) => Ok(Self {
                trip,
                hold,
                readings: rule.readings,
                latching: rule.latching,
            }),
            (Err(error), _) | (_, Err(error)) => Err(error),
        }
    }

    /// Beyond this, an alarm that is clear counts towards tripping.
    #[must_use]
    pub const fn trip(&self) -> CountLimit {
        self.trip
    }

    /// Beyond this, an alarm that is active stays active.
    #[must_use]
    pub const fn hold(&self) -> CountLimit {
        self.hold
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
        let held_against = if active { limit.hold } else { limit.trip };
        let speaks_for_change = held_against.is_beyond(count) != active;
        let row = if !speaks_for_change || (active && limit.latching) {
            0
        } else {
            (self.state & !ACTIVE) + 1
        };
        self.state = if row >= limit.readings {
            (self.state & ACTIVE) ^ ACTIVE
        } else {
            (self.state & ACTIVE) | row
        };
        self.is_active()
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
