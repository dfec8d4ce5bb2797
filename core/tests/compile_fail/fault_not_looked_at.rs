//! A reading whose fault nobody looks at.

use tallyvolt::{Count, SupplyConversion, Voltage};

fn read(conversion: &SupplyConversion, count: Count) -> Voltage {
    conversion.voltage(count)
}

fn main() {
    let _ = read;
}
