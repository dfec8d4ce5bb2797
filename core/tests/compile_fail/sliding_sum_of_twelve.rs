//! A sliding sum of 12 samples.

fn main() {
    let _ = tallyvolt::SlidingSum::<12>::new();
}
