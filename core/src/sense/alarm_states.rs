//! The alarms of a channel as they stand, and how long its voltages settle after bleeding.

use super::channel_setup::Plausibility;
use super::reading::Alarms;
use crate::watch::alarm::Alarm;

/// Five bytes of RAM.
#[derive(Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub(super) struct AlarmStates {
    settling: u8,
    pub(super) over_voltage: Alarm,
    pub(super) under_voltage: Alarm,
    pub(super) over_temperature: Alarm,
    pub(super) under_temperature: Alarm,
}

impl AlarmStates {
    /// All clear and settled.
    pub(super) const CLEAR: Self = Self {
        settling: 0,
        over_voltage: Alarm::CLEAR,
        under_voltage: Alarm::CLEAR,
        over_temperature: Alarm::CLEAR,
        under_temperature: Alarm::CLEAR,
    };

    /// Which are active.
    #[inline]
    pub(super) const fn active(&self) -> Alarms {
        Alarms {
            over_voltage: self.over_voltage.is_active(),
            under_voltage: self.under_voltage.is_active(),
            over_temperature: self.over_temperature.is_active(),
            under_temperature: self.under_temperature.is_active(),
        }
    }

    /// Clears all, latching ones too.
    pub(super) const fn acknowledge(&mut self) {
        *self = Self {
            settling: self.settling,
            ..Self::CLEAR
        };
    }

    /// Whether a reading is taken while the resistor bleeds, or within the set-up's readings after.
    #[inline]
    pub(super) const fn settle(&mut self, bleeding: bool, plausibility: &Plausibility) -> bool {
        if !bleeding && self.settling == 0 {
            return false;
        }
        self.count_down(bleeding, plausibility);
        true
    }

    #[cold]
    const fn count_down(&mut self, bleeding: bool, plausibility: &Plausibility) {
        self.settling = if bleeding {
            plausibility.settle_readings
        } else {
            self.settling.saturating_sub(1)
        };
    }
}
