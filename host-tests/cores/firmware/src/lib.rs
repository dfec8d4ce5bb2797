#![no_std]
#[panic_handler]
fn panicked(_: &core::panic::PanicInfo<'_>) -> ! { loop {} }
