//! Negative controls: each breaks one rule that the images of the library must keep, so that the check of it can be seen
//! to fail. None is measured.

use core::hint::black_box;

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
