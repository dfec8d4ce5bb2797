//! Negative controls: each breaks one rule that the images of the library must keep, so that the check of it can be seen
//! to fail. None is measured.

use core::hint::black_box;

use tallyvolt::{
    Acquisition, CellRange, DividedConversion, DividedDescription, DividedInput, OutputUnit,
};

/// Can panic: an index that nothing bounds.
#[unsafe(no_mangle)]
pub extern "C" fn control_panics(index: u16, values: &[u16; 4]) -> u16 {
    values[usize::from(index)]
}

/// Computes in soft-float.
#[unsafe(no_mangle)]
pub extern "C" fn control_floats(value: f32) -> f32 {
    value * 1.5
}

/// Uses static RAM.
#[unsafe(no_mangle)]
pub extern "C" fn control_keeps_state(value: u16) -> u16 {
    use core::sync::atomic::{AtomicU8, Ordering};
    static STATE: AtomicU8 = AtomicU8::new(1);
    STATE.store(black_box(value) as u8, Ordering::Relaxed);
    u16::from(STATE.load(Ordering::Relaxed))
}

/// Stands for an allocator; the check goes by the name.
#[unsafe(no_mangle)]
pub extern "C" fn malloc(_bytes: usize) -> *mut u8 {
    core::ptr::null_mut()
}

/// Asks for heap.
#[unsafe(no_mangle)]
pub extern "C" fn control_allocates() -> usize {
    // Through a pointer that the optimiser may not see through, so that the symbol stays.
    let allocate: extern "C" fn(usize) -> *mut u8 = black_box(malloc);
    allocate(4) as usize
}

/// Divides more than 64 bits.
#[unsafe(no_mangle)]
pub extern "C" fn control_divides(value: u64, divisor: u64) -> u64 {
    ((u128::from(value) << 64) / u128::from(divisor | 1)) as u64
}

/// Proves on the chip: a drawing that the compiler does not know.
#[unsafe(no_mangle)]
pub extern "C" fn control_proves(top_ohms: u32) -> bool {
    let conversion: Result<DividedConversion<12>, _> = DividedInput::new(DividedDescription {
        acquisition: Acquisition::single(12),
        reference_uv: 1_225_000,
        top_ohms,
        bottom_ohms: 10_000,
        cell: CellRange {
            min_uv: 2_000_000,
            max_uv: 3_650_000,
        },
        unit: OutputUnit::Millivolt,
    })
    .and_then(|input| input.conversion());
    conversion.is_ok()
}
