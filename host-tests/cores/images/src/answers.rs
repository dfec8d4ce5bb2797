//! Answers as numbers that a simulator can hand out. A short one has one value for any fault, as much as most firmware needs;
//! an outcome keeps faults apart.

use tallyvolt::{Fault, Temperature, TemperatureFault, Voltage};

/// A voltage, or 65 535 for any fault.
#[inline]
pub fn reading(result: Result<Voltage, Fault>) -> u16 {
    match result {
        Ok(Voltage(units)) => units,
        Err(_) => u16::MAX,
    }
}

/// A voltage, or 2^16 plus the fault's number.
#[inline]
pub fn outcome(result: Result<Voltage, Fault>) -> u32 {
    match result {
        Ok(Voltage(units)) => u32::from(units),
        Err(Fault::ZeroCount) => 1 << 16,
        Err(Fault::Rail) => (1 << 16) + 1,
        Err(Fault::BelowRange) => (1 << 16) + 2,
        Err(Fault::AboveRange) => (1 << 16) + 3,
    }
}

/// A temperature in tenths of a degree, or -32 768 for any fault.
#[inline]
pub fn tenths(result: Result<Temperature, TemperatureFault>) -> i16 {
    match result {
        Ok(Temperature(tenths)) => tenths,
        Err(_) => i16::MIN,
    }
}

/// Tenths of a degree in 16 bits, or 2^16 plus the fault's number.
#[inline]
pub fn sensor_outcome(result: Result<Temperature, TemperatureFault>) -> u32 {
    match result {
        Ok(Temperature(tenths)) => u32::from(tenths as u16),
        Err(TemperatureFault::OpenCircuit) => 1 << 16,
        Err(TemperatureFault::ShortCircuit) => (1 << 16) + 1,
        Err(TemperatureFault::BelowTable | TemperatureFault::AboveTable) => (1 << 16) + 2,
    }
}
