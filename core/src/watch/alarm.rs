//! Alarms: hysteresis, debounce by consecutive readings, and latching, in one byte of state.

use super::count_limit::CountLimit;
use crate::bounds::DEBOUNCE_READINGS;
use crate::error::ConfigError;
use crate::units::Count;

/// What surrounds a limit: how often a value must say so, and whether the alarm stays.
///
/// # Range
/// `readings` 1 to 127; 1 means no debounce.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AlarmRule {
    /// Consecutive readings that must agree before the alarm changes.
    pub readings: u8,
    /// Whether an alarm stays until it is acknowledged.
    pub latching: bool,
}

impl AlarmRule {
    /// At once, not latching.
    pub const PLAIN: Self = Self {
        readings: 1,
        latching: false,
    };
}

/// A checked limit: where it trips, where it holds, and its rule. Constant, for flash; the state is an [`Alarm`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Limit {
    /// Counts above this one trip, all with their bits flipped where the side says so.
    trip: u32,
    /// Counts above this one hold, likewise.
    hold: u32,
    side: Side,
    readings: u8,
    latching: bool,
}

/// Which bits of a count, and of the count limit, are flipped before they are compared: `count < limit` exactly when
/// `!count > !limit`, so one comparison serves both sides.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(isize)]
enum Side {
    Above = 0,
    Below = -1,
}

impl Side {
    #[inline]
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "0 stays 0, and -1 becomes all bits"
    )]
    const fn flipped(self, count: u32) -> u32 {
        count ^ (self as isize as i32 as u32)
    }
}

impl Limit {
    pub(crate) const fn new(
        trip: CountLimit,
        hold: CountLimit,
        rule: AlarmRule,
    ) -> Result<Self, ConfigError> {
        if let Err(error) = DEBOUNCE_READINGS.check(rule.readings as i64) {
            return Err(error);
        }
        let (trip, hold, side) = match (trip, hold) {
            (CountLimit::Above(trip), CountLimit::Above(hold)) => (trip, hold, Side::Above),
            (CountLimit::Below(trip), CountLimit::Below(hold)) => (trip, hold, Side::Below),
            // Both come from one conversion and one side.
            _ => return Err(ConfigError::LimitNotReadable { limit: 0 }),
        };
        Ok(Self {
            trip: side.flipped(trip.0),
            hold: side.flipped(hold.0),
            side,
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

    const fn count_limit(&self, flipped: u32) -> CountLimit {
        let count = Count(self.side.flipped(flipped));
        match self.side {
            Side::Above => CountLimit::Above(count),
            Side::Below => CountLimit::Below(count),
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

const CLEAR: u8 = 0;
const ACTIVE: u8 = 0x80;

impl Alarm {
    /// Not active.
    pub const CLEAR: Self = Self { state: CLEAR };

    /// Takes a reading's count and answers whether the alarm is active. Every `u32` is accepted.
    #[inline]
    pub const fn update(&mut self, limit: &Limit, count: Count) -> bool {
        let count = limit.side.flipped(count.0);
        // The common case: the reading agrees with the alarm and no change is pending.
        match self.state {
            CLEAR if count <= limit.trip => false,
            ACTIVE if count > limit.hold => true,
            _ => self.weigh(limit, count),
        }
    }

    /// A reading that disagrees, or a row of those before it.
    #[cold]
    #[inline(never)]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "the row is below the limit's readings between calls, so at most 126, and one more is below ACTIVE"
    )]
    const fn weigh(&mut self, limit: &Limit, count: u32) -> bool {
        let active = self.is_active();
        let beyond = count > if active { limit.hold } else { limit.trip };
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

    /// The first and the last of the counts that leave this alarm as it is; none while a row of readings speaks for a change.
    pub(crate) const fn quiet(self, limit: &Limit) -> Option<[u32; 2]> {
        let [low, high] = match self.state {
            CLEAR => [0, limit.trip],
            ACTIVE if limit.latching => [0, u32::MAX],
            ACTIVE => match limit.hold.checked_add(1) {
                Some(low) => [low, u32::MAX],
                None => return None,
            },
            _ => return None,
        };
        Some(match limit.side {
            Side::Above => [low, high],
            Side::Below => [!high, !low],
        })
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
