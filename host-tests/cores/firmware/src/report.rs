//! A reading as a line of text: name, millivolts, and what the limits say.

use tallyvolt::{Fault, Voltage};

use crate::board::Uart;

/// Below this a reading is `low`; for show.
const LOW_MV: u16 = 2500;
/// Above this it is `high`; for show.
const HIGH_MV: u16 = 3600;

/// Sends one line.
pub fn line(uart: &mut Uart, name: &[u8], reading: Result<Voltage, Fault>) {
    text(uart, name);
    match reading {
        Ok(Voltage(millivolts)) => {
            number(uart, millivolts);
            let verdict: &[u8] = match millivolts {
                ..LOW_MV => b" low",
                LOW_MV..=HIGH_MV => b" ok",
                _ => b" high",
            };
            text(uart, verdict);
        }
        Err(_) => text(uart, b"fault"),
    }
    uart.send(b'\n');
}

fn text(uart: &mut Uart, text: &[u8]) {
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
