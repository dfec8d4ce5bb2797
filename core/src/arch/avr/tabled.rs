//! The value of a quotient at a count, by a table of reciprocals.
#![expect(unsafe_code, reason = "assembly, and a place in flash")]

use core::arch::asm;
use core::mem::offset_of;

use crate::arch::portable::position;
pub(crate) use crate::arch::reciprocal::Reciprocal;
use crate::arch::reciprocal::{ENTRY, FIRST, TABLE};
use crate::units::Count;

/// The table among the code. No code of Rust's reads it: the kernel does, by the instruction that reads flash.
// SAFETY: what is not code does not run there, and the section asks for nothing else.
#[unsafe(link_section = ".progmem.data.tallyvolt")]
static IN_FLASH: [u8; TABLE.len()] = TABLE;

/// The units of a count that the table serves; else `otherwise`, which is what the module without a table answers.
#[inline]
pub(crate) fn tabled_units(
    table: &Reciprocal,
    count: Count,
    otherwise: impl FnOnce() -> u32,
) -> u32 {
    match position(count, table.first, table.counts) {
        Some(position) => value(table, position).into(),
        None => apart(otherwise),
    }
}

/// Apart, so that what the steps need is not made ready where the table answers.
#[cold]
#[inline(never)]
fn apart(otherwise: impl FnOnce() -> u32) -> u32 {
    otherwise()
}

/// The value at a position, as `arch::reciprocal` tells.
///
/// Registers: D r19:r18, which becomes h and floor(h / 2); s r22, then 0; T r23:r30; seed r27:r26; seed times T, over 2^8, r25:r24:r31; what is
/// left r21:r20.
#[inline]
fn value(table: &Reciprocal, position: u16) -> u16 {
    let value;
    // SAFETY: reads the table's numbers by a reference, and an entry in flash; changes what is declared changed, and r0 and r1, which is zero
    // again at the end.
    unsafe {
        asm!(
            "ldd r20, Z+{half_step}",
            "ldd r18, Z+{at_first}",
            "ldd r19, Z+{at_first}+1",
            "fmul r22, r20",
            "add r18, r0",
            "adc r19, r1",
            "fmul r23, r20",
            "add r19, r0",
            "ldd r26, Z+{seed}",
            "ldd r27, Z+{seed}+1",
            "ldd r20, Z+{half_numerator}",
            "ldd r21, Z+{half_numerator}+1",
            "ldi r30, {entry}",
            "mul r19, r30",
            "movw r30, r0",
            "subi r30, lo8(-({table}-{before}))",
            "sbci r31, hi8(-({table}-{before}))",
            "lpm r22, Z+",
            "lpm r23, Z+",
            "lpm r30, Z",
            "fmul r22, r18",
            "ldi r22, 0",
            "sbc r23, r22",
            "sub r30, r1",
            "sbc r23, r22",
            "mul r26, r30",
            "mov r31, r1",
            "mul r27, r23",
            "movw r24, r0",
            "mul r26, r23",
            "add r31, r0",
            "adc r24, r1",
            "adc r25, r22",
            "mul r27, r30",
            "add r31, r0",
            "adc r24, r1",
            "adc r25, r22",
            "lsr r19",
            "ror r18",
            "mul r18, r24",
            "sub r20, r0",
            "sbc r21, r1",
            "mul r18, r25",
            "sub r21, r0",
            "mul r19, r24",
            "sub r21, r0",
            "lsr r19",
            "ror r18",
            "sub r20, r18",
            "sbc r21, r19",
            // One more, less the sign.
            "lsl r21",
            "sbci r24, 255",
            "sbci r25, 255",
            "clr r1",
            half_step = const offset_of!(Reciprocal, half_step),
            at_first = const offset_of!(Reciprocal, at_first),
            seed = const offset_of!(Reciprocal, seed),
            half_numerator = const offset_of!(Reciprocal, half_numerator),
            entry = const ENTRY,
            before = const ENTRY * FIRST as usize,
            table = sym IN_FLASH,
            inout("Z") core::ptr::from_ref(table) => _,
            inout("r23r22") position => _,
            out("r19r18") _,
            out("r21r20") _,
            out("r25r24") value,
            out("r27r26") _,
            options(pure, readonly, nostack),
        );
    }
    value
}
