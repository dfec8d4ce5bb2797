//! A limit without a unit.

use tallyvolt::{CountLimit, LimitSide, SupplyConversion};

fn limit(conversion: &SupplyConversion) {
    let _ = conversion.count_limit(LimitSide::Over, 3600);
}

fn main() {
    let _ = limit;
    let _: Option<CountLimit> = None;
}
