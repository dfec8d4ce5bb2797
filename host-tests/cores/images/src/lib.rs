//! Functions to measure: each is exported under its name and called on a simulated core.
//!
//! `TALLYVOLT_FRONT_ENDS` names a file that `tallyvolt cost` writes: the front ends' constants, and one function each with
//! these built in. Everything else takes its constants through a pointer, as a module's calibrated constants come.
#![no_std]

mod channel;
mod controls;
mod decimation;
mod readings;
mod usual;

mod front_ends {
    include!(env!("TALLYVOLT_FRONT_ENDS"));
}

#[panic_handler]
fn panicked(_: &core::panic::PanicInfo<'_>) -> ! {
    loop {}
}
