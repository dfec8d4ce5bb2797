//! What the topologies are called in the crate, and words filled into lines as rustfmt does.

use std::borrow::Borrow;

use crate::words::wrapping::wrapped;
use tallyvolt_analysis::describe::firmware::Firmware;

/// What the two topologies are called in the crate.
pub(crate) struct Types {
    pub(super) input: &'static str,
    pub(super) description: &'static str,
    pub(super) conversion: &'static str,
    /// The conversion with its parameters.
    pub(crate) module: String,
    /// What a small chip loads.
    pub(crate) short: String,
}

impl Types {
    pub(crate) fn of(firmware: &Firmware) -> Self {
        match firmware {
            Firmware::Divided(_) => Self {
                input: "DividedInput",
                description: "DividedDescription",
                conversion: "DividedConversion",
                module: format!("DividedConversion<{}>", firmware.count_bits()),
                short: format!("DividedModule<{}>", firmware.count_bits()),
            },
            Firmware::Supply(_) => Self {
                input: "SupplyReference",
                description: "SupplyDescription",
                conversion: "SupplyConversion",
                module: "SupplyConversion".to_owned(),
                short: "SupplyModule".to_owned(),
            },
        }
    }
}

/// Words filled into lines as rustfmt fills imports and arrays of short elements: to column 99; the last comma may stand at 100.
pub(super) fn filled(names: &[impl Borrow<str>]) -> String {
    format!("    {},\n", wrapped(&names.join(", "), 4, 99))
}
