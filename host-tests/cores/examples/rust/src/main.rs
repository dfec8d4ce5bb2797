//! A whole firmware for a Cortex-M0+: every result of the converter becomes millivolts, or a fault that has a name.
//!
//! Lithium cells burn: this measures, and protects nothing. The board is invented; `board.ld` places its three registers.
//!
//! ```text
//! cargo build --release
//! ```
#![no_std]
#![no_main]

mod hut_divided_12bit;

use core::panic::PanicInfo;
use core::ptr::{addr_of, addr_of_mut, read_volatile, write_volatile};

use hut_divided_12bit::AS_DRAWN;
use tallyvolt::{Count, Fault, Voltage};

unsafe extern "C" {
    static CONVERTER_RESULT: u32;
    static mut REPORT_VOLTAGE: u32;
    static mut REPORT_FAULT: u32;
}

/// The vectors behind the initial stack pointer: reset, and the two faults of the core.
#[used]
#[unsafe(link_section = ".vectors")]
static VECTORS: [extern "C" fn() -> !; 3] = [reset, stop, stop];

/// Start: reads, converts and reports, without end.
#[unsafe(no_mangle)]
extern "C" fn reset() -> ! {
    loop {
        // SAFETY: the board's registers, at the addresses that the linker script gives.
        let count = unsafe { read_volatile(addr_of!(CONVERTER_RESULT)) };
        let answer = reading(count);
        // SAFETY: as above.
        unsafe {
            write_volatile(addr_of_mut!(REPORT_VOLTAGE), answer & 0xFFFF);
            write_volatile(addr_of_mut!(REPORT_FAULT), answer >> 16);
        }
    }
}

/// Millivolts, or 2^16 times a fault's number. A function of its own, so that a simulator can call it.
#[inline(never)]
#[unsafe(no_mangle)]
extern "C" fn reading(count: u32) -> u32 {
    match AS_DRAWN.voltage(Count(count)) {
        Ok(Voltage(mv)) => u32::from(mv),
        Err(Fault::ZeroCount) => 1 << 16,
        Err(Fault::Rail) => 2 << 16,
        Err(Fault::BelowRange) => 3 << 16,
        Err(Fault::AboveRange) => 4 << 16,
    }
}

extern "C" fn stop() -> ! {
    loop {}
}

/// Never called: nothing here panics.
#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    stop()
}
