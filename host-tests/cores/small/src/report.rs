//! A reading as a line of text: millivolts, tenths of a degree, alarms, faults.

use tallyvolt::{Reading, Temperature, Voltage};

use crate::chip::send;

/// Sends one line.
#[inline(never)]
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
    text(*b" ala");
    text(*b"rms ");
    number(alarms.into());
    text(*b" fau");
    text(*b"lts ");
    number(reading.faults.bits());
    send(b'\n');
}

/// Sends four bytes. By value: a reference would bring them to RAM.
#[inline(never)]
pub fn text(bytes: [u8; 4]) {
    let mut left = u32::from_le_bytes(bytes);
    while left != 0 {
        send(left as u8);
        left >>= 8;
    }
}

/// Decimal digits, no leading zeros.
#[inline(never)]
fn number(value: u16) {
    if value >= 10 {
        number(value / 10);
    }
    send(b'0' + (value % 10) as u8);
}
