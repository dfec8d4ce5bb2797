//! A calibration gain of 3.

use tallyvolt::fixed::types::{I24F8, U8F24};
use tallyvolt::{Calibration, proven};

const BENCH: Calibration = proven!(Calibration::new(U8F24::from_bits(3 << 24), I24F8::ZERO));

fn main() {
    let _ = BENCH;
}
