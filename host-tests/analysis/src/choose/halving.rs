//! Where a property begins or a condition ends, found by halving.

/// The smallest count in `low ..= high` that has a property which, once there, stays; `high` where none has.
pub fn first_where(mut low: u32, mut high: u32, has: impl Fn(u32) -> bool) -> u32 {
    while low < high {
        let middle = low + (high - low) / 2;
        if has(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    low
}

/// The value up to which a condition holds, between two values; the distance of the two is halved so many times.
pub fn halved((mut low, mut high): (f64, f64), times: u32, holds: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..times {
        let middle = f64::midpoint(low, high);
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}
