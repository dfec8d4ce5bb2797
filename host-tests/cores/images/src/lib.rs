//! Functions to measure: each is exported under its name and called on a simulated core.
//!
//! `TALLYVOLT_FRONT_ENDS` names a file that `tallyvolt cost` writes: for each front end a module with its constants, and the
//! functions that use them.
#![no_std]

mod answers;
mod channel;
mod controls;
mod decimation;
#[cfg(feature = "bounds")]
mod line_constants;
#[cfg(feature = "bounds")]
mod lines;
#[cfg(feature = "bounds")]
mod sums;
mod usual;

mod front_ends {
    /// What every front end's module uses.
    #[allow(unused_imports)]
    mod prelude {
        pub use core::mem::MaybeUninit;
        pub use tallyvolt::*;

        pub use crate::answers::{outcome, reading, sensor_outcome, tenths};
        pub use crate::channel::{State, block_reading, whole_reading};
    }

    include!(env!("TALLYVOLT_FRONT_ENDS"));
}

/// The record to load, for the simulator to write.
#[unsafe(no_mangle)]
static mut RECORD: [u8; tallyvolt::RECORD_BYTES] = [0xFF; tallyvolt::RECORD_BYTES];

/// All that the panic handler does, in a function of its own: an image that can panic has it among its symbols, and no other.
#[unsafe(no_mangle)]
#[inline(never)]
extern "C" fn tallyvolt_images_panic() -> ! {
    loop {
        core::hint::black_box(());
    }
}

#[panic_handler]
fn panicked(_: &core::panic::PanicInfo<'_>) -> ! {
    tallyvolt_images_panic()
}
