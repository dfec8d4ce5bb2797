//! Summing stages: sixteen samples, `sample` and the fifteen codes above it, to one count.

use tallyvolt::{BlockSum, Count, Sample, SlidingSum, SumAndShift};

/// What a stage that has no count yet answers; no sum of sixteen samples is as large.
const NONE: u32 = u32::MAX;

fn number(count: Option<Count>) -> u32 {
    match count {
        Some(Count(count)) => count,
        None => NONE,
    }
}

fn of_sixteen(sample: u16, mut push: impl FnMut(Sample) -> Option<Count>) -> u32 {
    let mut last = None;
    for above in 0..16 {
        last = push(Sample(sample.wrapping_add(above)));
    }
    number(last)
}

#[unsafe(no_mangle)]
pub extern "C" fn block_sum_16(sample: u16) -> u32 {
    match BlockSum::new(16) {
        Ok(mut stage) => of_sixteen(sample, |sample| stage.push(sample)),
        Err(_) => NONE,
    }
}

#[unsafe(no_mangle)]
pub extern "C" fn sum_and_shift_16(sample: u16) -> u32 {
    match SumAndShift::new(2) {
        Ok(mut stage) => of_sixteen(sample, |sample| stage.push(sample)),
        Err(_) => NONE,
    }
}

#[unsafe(no_mangle)]
pub extern "C" fn sliding_sum_16(sample: u16) -> u32 {
    let mut stage = SlidingSum::<16>::new();
    of_sixteen(sample, |sample| stage.push(sample))
}
