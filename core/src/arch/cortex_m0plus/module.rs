//! Module constants behind a pointer: a whole conversion as a function without a frame.
//!
//! Words are loaded in pairs and threes, in the order of use.

use core::arch::naked_asm;
use core::mem::offset_of;

use crate::arch::{Line, Quotient};
use crate::convert::divided_module::DividedModule;
use crate::convert::supply_module::SupplyModule;

const _: () = assert!(
    offset_of!(Line, first) == 0
        && offset_of!(Line, counts) == 4
        && offset_of!(Line, factor) == 8
        && offset_of!(Line, addend) == 12
);

impl<const BITS: u32> DividedModule<BITS> {
    /// The output units of a count, or `u32::MAX` where it is none, by a function in the C calling convention: 14 cycles.
    ///
    /// # Range
    /// Every `u32` is accepted.
    // The line is the first of a module, and the product and the sum are below 2^32 at every count of the window.
    #[unsafe(naked)]
    pub extern "C" fn units(count: u32, module: &Self) -> u32 {
        naked_asm!(
            "ldmia r1!, {{r2, r3}}",
            "subs r0, r0, r2",
            "cmp r0, r3",
            "bhs 9f",
            "ldmia r1!, {{r2, r3}}",
            "muls r0, r2, r0",
            "adds r0, r0, r3",
            "lsrs r0, r0, #{shift}",
            "bx lr",
            "9: movs r0, #0",
            "mvns r0, r0",
            "bx lr",
            shift = const BITS + 3,
        )
    }
}

const _: () = assert!(
    offset_of!(Quotient, first) == 0
        && offset_of!(Quotient, counts) == 4
        && offset_of!(Quotient, half_step) == 8
        && offset_of!(Quotient, half_at_first) == 12
        && offset_of!(Quotient, numerator) == 16
);

impl SupplyModule {
    /// The output units of a count, or `u32::MAX` where it is none, by a function in the C calling convention: 38 cycles in the mean.
    ///
    /// # Range
    /// Every `u32` is accepted.
    // The quotient is the first of a module. As `portable::refined`, by finer seeds: for an h from 2^13 to below 2^15 whose bits from 7 on are
    // i, T is 2^21 / (128 i + 64) to the nearest, within 1.0 % of 2^21 / h. u = floor(floor(n / 2^8) T / 2^13) lies within 658 of n / h, so
    // (n - u h) T is within 2^31, and e = floor((n - u h) T / 2^21) within 8 of what u lacks: h is taken off a few times, and mostly not once.
    //
    // u + e is above n / h by less than 1, so that h is put back once at most. Where T h is at most 2^21, neither is above what it stands for.
    // Where it is more, u lacks less than 1.04, of which e makes at most 1; or it is too large already, and e takes off at least that.
    // What is left after e is within 2^19, and so it is negative where it is below h as a signed number and not as an unsigned one.
    //
    // r0: T, r1: h, r3: n and what is left of it. The table lies within reach of one instruction.
    #[unsafe(naked)]
    pub extern "C" fn units(count: u32, module: &Self) -> u32 {
        naked_asm!(
            "ldmia r1!, {{r2, r3}}",
            "subs r0, r0, r2",
            "cmp r0, r3",
            "bhs 9f",
            "ldmia r1, {{r1, r2, r3}}",
            "muls r1, r0, r1",
            "adds r1, r1, r2",
            "adds r3, r3, r1",
            "lsrs r3, r3, #1",
            "lsrs r0, r1, #7",
            "subs r0, #64",
            "blo 3f",
            "2: adr r2, 8f",
            "ldrb r0, [r2, r0]",
            "lsrs r2, r3, #8",
            "muls r2, r0, r2",
            "lsrs r2, r2, #13",
            "mov r12, r2",
            "muls r2, r1, r2",
            "subs r3, r3, r2",
            "muls r0, r3, r0",
            "asrs r0, r0, #21",
            "movs r2, r0",
            "muls r2, r1, r2",
            "subs r3, r3, r2",
            "add r0, r12",
            "cmp r3, r1",
            "bhs 4f",
            "bx lr",
            "3: lsls r3, r3, #2",
            "lsls r1, r1, #2",
            "lsrs r0, r1, #7",
            "subs r0, #64",
            "bhs 2b",
            "b 3b",
            "4: blt 6f",
            "5: adds r0, #1",
            "subs r3, r3, r1",
            "cmp r3, r1",
            "bhs 5b",
            "bx lr",
            "6: subs r0, #1",
            "bx lr",
            "9: movs r0, #0",
            "mvns r0, r0",
            "bx lr",
            ".balign 4",
            "8:",
            ".set .Lmiddle, 8256",
            ".rept 192",
            ".byte ((2 << 21) / .Lmiddle + 1) / 2",
            ".set .Lmiddle, .Lmiddle + 128",
            ".endr",
        )
    }
}
