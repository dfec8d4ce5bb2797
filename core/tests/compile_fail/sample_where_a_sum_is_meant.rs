//! One sample where the sum of a window is meant.

use tallyvolt::{Sample, SupplyConversion};

fn read(conversion: &SupplyConversion, sample: Sample) {
    let _ = conversion.voltage(sample);
}

fn main() {
    let _ = read;
}
