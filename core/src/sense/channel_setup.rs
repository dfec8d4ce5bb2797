//! Everything constant about a channel: conversion, sensor, limits, plausibility.

use crate::convert::thermistor::Thermistor;
use crate::watch::alarm::Limit;
use crate::watch::count_limit::CountLimit;

/// The limits of a channel; each may be left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ChannelLimits {
    /// On the cell's count.
    pub over_voltage: Option<Limit>,
    /// On the cell's count.
    pub under_voltage: Option<Limit>,
    /// On the sensor's count.
    pub over_temperature: Option<Limit>,
    /// On the sensor's count.
    pub under_temperature: Option<Limit>,
}

impl ChannelLimits {
    /// No limit.
    pub const NONE: Self = Self {
        over_voltage: None,
        under_voltage: None,
        over_temperature: None,
        under_temperature: None,
    };
}

/// What a channel looks for beyond the count itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Plausibility {
    /// Where the cell feeds the converter: the count limit of the converter's lowest supply.
    pub supply_minimum: Option<CountLimit>,
    /// Equal counts in a row that mean a stuck converter; 0 does not look for it.
    pub stuck_readings: u8,
    /// Readings after the end of bleeding in which voltage limits are not judged yet.
    pub settle_readings: u8,
}

impl Plausibility {
    /// Looks for nothing that needs a number.
    pub const NONE: Self = Self {
        supply_minimum: None,
        stuck_readings: 0,
        settle_readings: 0,
    };
}

/// Everything constant about a channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub struct ChannelSetup<C, S = Thermistor<'static>> {
    /// Count to voltage.
    pub conversion: C,
    /// Limits, as counts of this conversion and this thermistor.
    pub limits: ChannelLimits,
    /// Count to temperature, where a sensor is fitted: a [`Thermistor`], or a [`crate::SensorAsDrawn`] whose table takes no RAM.
    pub thermistor: Option<S>,
    /// Plausibility.
    pub plausibility: Plausibility,
    /// Whether the conversion holds a module's own calibration.
    pub calibrated: bool,
}
