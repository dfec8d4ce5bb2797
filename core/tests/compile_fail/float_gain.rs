//! A float where a fixed-point gain belongs: `U8F24::lit("1.004")` is meant.

use tallyvolt::SupplyConversion;

fn adjust(conversion: &SupplyConversion) {
    let _ = conversion.scaled(1.004, 1.25);
}

fn main() {
    let _ = adjust;
}
