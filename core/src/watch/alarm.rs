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
    /// A limit beyond which are the counts above (`upper`), or those below, with a rule that was checked.
    pub(crate) const fn of(upper: bool, [trip, hold]: [Count; 2], rule: AlarmRule) -> Self {
        let side = if upper { Side::Above } else { Side::Below };
        Self {
            trip: side.flipped(trip.0),
            hold: side.flipped(hold.0),
            side,
            readings: rule.readings,
            latching: rule.latching,
        }
    }

    /// Whether a rule can be kept.
    #[inline(always)]
    #[expect(
        clippy::inline_always,
        reason = "a constant rule is checked while compiling"
    )]
    pub(crate) const fn check(rule: AlarmRule) -> Result<(), ConfigError> {
        DEBOUNCE_READINGS.check(rule.readings as i64)
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

    /// [`Alarm::update`] without a way of its own for the common case.
    pub(crate) const fn judge(&mut self, limit: &Limit, count: Count) {
        self.weigh(limit, limit.side.flipped(count.0));
    }

    /// Where the counts end that leave this alarm as it is: the last of them (`true`), or the first; none while a row of readings
    /// speaks for a change, or where there is no such count.
    pub(crate) const fn quiet_end(self, limit: &Limit) -> Option<(bool, u32)> {
        let (clear, end) = match self.state {
            CLEAR => (true, limit.trip),
            ACTIVE if limit.latching => return Some((false, 0)),
            ACTIVE if limit.hold < u32::MAX => (false, limit.hold.wrapping_add(1)),
            _ => return None,
        };
        Some((
            matches!(limit.side, Side::Above) == clear,
            limit.side.flipped(end),
        ))
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
