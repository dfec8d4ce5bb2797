//! A reading as a line of text: millivolts, tenths of a degree, alarms, faults.

use core::arch::asm;

use tallyvolt::{Reading, Temperature, Voltage};

use crate::chip::send;

/// Sends one line. In line: a reading is not put together then.
#[inline(always)]
pub fn line(reading: &Reading) {
    match reading.voltage {
        Ok(Voltage(millivolts)) => number(millivolts),
        Err(_) => send(b'-'),
    }
    send(b' ');
    match reading.temperature {
        Some(Ok(Temperature(tenths))) => {
            if tenths < 0 {
                send(b'-');
            }
            number(tenths.unsigned_abs());
        }
        _ => send(b'-'),
    }
    let alarms = reading.alarms;
    let alarms = u8::from(alarms.over_voltage)
        | u8::from(alarms.under_voltage) << 1
        | u8::from(alarms.over_temperature) << 2
        | u8::from(alarms.under_temperature) << 3;
    text!(b" alarms \0");
    number(alarms.into());
    text!(b" faults \0");
    number(reading.faults.bits());
    send(b'\n');
}

/// A text in flash, a zero behind it: a reference would bring it to RAM.
macro_rules! text {
    ($text:literal) => {{
        #[unsafe(link_section = ".progmem.data")]
        static TEXT: [u8; $text.len()] = *$text;
        $crate::report::send_text(&raw const TEXT as *const u8)
    }};
}
pub(crate) use text;

/// Sends what [`text!`] placed in flash.
#[inline(never)]
pub fn send_text(mut at: *const u8) {
    loop {
        let byte: u8;
        // SAFETY: reads flash, which has no effect whatever the address.
        unsafe {
            asm!("lpm {byte}, Z+", byte = out(reg) byte, inout("Z") at, options(nostack, readonly));
        }
        if byte == 0 {
            return;
        }
        send(byte);
    }
}

/// Decimal digits, no leading zeros. Tens are counted: without a multiplier that takes less code than dividing.
#[inline(never)]
fn number(mut value: u16) {
    let mut tens = 0_u16;
    // SAFETY: counts in two registers. In Rust the compiler would find that it is a division, and link a product.
    unsafe {
        asm!(
            "1: adiw {tens}, 1",
            "sbiw {value}, 10",
            "brcc 1b",
            "sbiw {tens}, 1",
            "adiw {value}, 10",
            tens = inout(reg_iw) tens,
            value = inout(reg_iw) value,
            options(pure, nomem, nostack),
        );
    }
    if tens > 0 {
        number(tens);
    }
    send(b'0' + value as u8);
}
