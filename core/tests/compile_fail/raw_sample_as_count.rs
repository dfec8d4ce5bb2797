//! A raw sample where a count is meant.

use tallyvolt::{Count, SupplyConversion};

fn read(conversion: &SupplyConversion, raw: u16) {
    let _ = conversion.voltage(Count::from(raw));
}

fn main() {
    let _ = read;
}
