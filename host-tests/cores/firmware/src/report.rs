//! A reading as a line of text: name, millivolts, tenths of a degree, alarms, faults.

use tallyvolt::{Reading, Temperature, Voltage};

use crate::board::Uart;

/// Sends one line.
pub fn line(uart: &mut Uart, name: &[u8], reading: &Reading) {
    text(uart, name);
    match reading.voltage {
        Ok(Voltage(millivolts)) => number(uart, millivolts),
        Err(_) => uart.send(b'-'),
    }
    uart.send(b' ');
    match reading.temperature {
        Some(Ok(Temperature(tenths))) => {
            if tenths < 0 {
                uart.send(b'-');
            }
            number(uart, tenths.unsigned_abs());
        }
        _ => uart.send(b'-'),
    }
    let alarms = reading.alarms;
    let alarms = u16::from(alarms.over_voltage)
        | u16::from(alarms.under_voltage) << 1
        | u16::from(alarms.over_temperature) << 2
        | u16::from(alarms.under_temperature) << 3;
    text(uart, b" alarms ");
    number(uart, alarms);
    text(uart, b" faults ");
    number(uart, reading.faults.bits());
    uart.send(b'\n');
}

/// Sends text as it is.
pub fn text(uart: &mut Uart, text: &[u8]) {
    for byte in text {
        uart.send(*byte);
    }
}

/// Decimal digits, no leading zeros.
fn number(uart: &mut Uart, mut value: u16) {
    let mut started = false;
    for place in [10_000_u16, 1000, 100, 10, 1] {
        let mut digit = b'0';
        while value >= place {
            value -= place;
            digit += 1;
        }
        started |= digit != b'0' || place == 1;
        if started {
            uart.send(digit);
        }
    }
}
