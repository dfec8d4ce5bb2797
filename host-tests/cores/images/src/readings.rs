//! Readings with constants behind a pointer: a module's own, made at load.
//!
//! A short reading answers 65 535 for a fault, as much as most firmware needs; `*_outcome` keeps the fault apart.

use tallyvolt::{Count, DividedConversion, Fault, SupplyConversion, Voltage, arch};

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
fn outcome(result: Result<Voltage, Fault>) -> u32 {
    match result {
        Ok(Voltage(units)) => u32::from(units),
        Err(Fault::ZeroCount) => 1 << 16,
        Err(Fault::Rail) => (1 << 16) + 1,
        Err(Fault::BelowRange) => (1 << 16) + 2,
        Err(Fault::AboveRange) => (1 << 16) + 3,
    }
}

#[unsafe(no_mangle)]
pub extern "C" fn divided(count: u16, conversion: &DividedConversion) -> u16 {
    reading(conversion.voltage(Count::from(count)))
}

#[unsafe(no_mangle)]
pub extern "C" fn divided_wide(count: u32, conversion: &DividedConversion) -> u16 {
    reading(conversion.voltage(Count(count)))
}

#[unsafe(no_mangle)]
pub extern "C" fn divided_outcome(count: u32, conversion: &DividedConversion) -> u32 {
    outcome(conversion.voltage(Count(count)))
}

#[unsafe(no_mangle)]
pub extern "C" fn divided_arch(count: u16, conversion: &DividedConversion) -> u16 {
    reading(arch::divided(conversion, Count::from(count)))
}

#[unsafe(no_mangle)]
pub extern "C" fn divided_arch_wide(count: u32, conversion: &DividedConversion) -> u16 {
    reading(arch::divided(conversion, Count(count)))
}

#[unsafe(no_mangle)]
pub extern "C" fn divided_arch_outcome(count: u32, conversion: &DividedConversion) -> u32 {
    outcome(arch::divided(conversion, Count(count)))
}

#[unsafe(no_mangle)]
pub extern "C" fn supply(count: u16, conversion: &SupplyConversion) -> u16 {
    reading(conversion.voltage(Count::from(count)))
}

#[unsafe(no_mangle)]
pub extern "C" fn supply_wide(count: u32, conversion: &SupplyConversion) -> u16 {
    reading(conversion.voltage(Count(count)))
}

#[unsafe(no_mangle)]
pub extern "C" fn supply_outcome(count: u32, conversion: &SupplyConversion) -> u32 {
    outcome(conversion.voltage(Count(count)))
}

#[unsafe(no_mangle)]
pub extern "C" fn supply_arch(count: u16, conversion: &SupplyConversion) -> u16 {
    reading(arch::supply(conversion, Count::from(count)))
}

#[unsafe(no_mangle)]
pub extern "C" fn supply_arch_wide(count: u32, conversion: &SupplyConversion) -> u16 {
    reading(arch::supply(conversion, Count(count)))
}

#[unsafe(no_mangle)]
pub extern "C" fn supply_arch_outcome(count: u32, conversion: &SupplyConversion) -> u32 {
    outcome(arch::supply(conversion, Count(count)))
}
