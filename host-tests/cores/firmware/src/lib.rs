//! A complete firmware for an ATmega328P on a cell: it samples through the converter's registers, sums, converts, checks
//! limits and sends a line for each reading.
//!
//! ```text
//! supply 3301 ok          the cell as supply and reference, the 1.1 V bandgap sampled, a module's calibration
//! divided 3300 ok         the cell through a divider on ADC0, against the internal 1.1 V, as drawn
//! ```
//!
//! A count that is no voltage is sent as `supply fault`. **Lithium cells burn:** the limits here are for show; this is a
//! meter, not a protection system.
//!
//! 8 MHz clock (the internal oscillator, fuse CKDIV8 not programmed), UART at 9600 baud, 8 bits, no parity. On a board with
//! a 16 MHz crystal it is 19 200 baud, and the converter's clock 250 kHz.
#![no_std]

mod board;
mod report;

/// What the generated constants' own functions use.
mod readings {
    use tallyvolt::{Fault, Voltage};

    pub fn reading(result: Result<Voltage, Fault>) -> u16 {
        match result {
            Ok(Voltage(units)) => units,
            Err(_) => u16::MAX,
        }
    }
}

mod front_ends {
    include!(env!("TALLYVOLT_FRONT_ENDS"));
}

use board::{Converter, Uart};
use front_ends::{BOARD_DIVIDED_CONSTANT, BOARD_SUPPLY_CALIBRATED};
use tallyvolt::{BlockSum, Count};

/// Samples in a count, as the front-end files say.
const SAMPLES: u16 = 16;

#[panic_handler]
fn panicked(_: &core::panic::PanicInfo<'_>) -> ! {
    loop {}
}

/// Sums one count.
fn count(converter: &mut Converter, block: &mut BlockSum, channel: u8) -> Count {
    converter.select(channel);
    loop {
        if let Some(count) = block.push(converter.sample()) {
            return count;
        }
    }
}

/// Where the start-up code of avr-libc goes.
#[unsafe(no_mangle)]
pub extern "C" fn main() -> ! {
    let mut converter = Converter::new();
    let mut uart = Uart::new();
    let Ok(mut block) = BlockSum::new(SAMPLES) else {
        loop {}
    };
    loop {
        let supply = count(&mut converter, &mut block, board::BANDGAP_AGAINST_SUPPLY);
        report::line(&mut uart, b"supply ", BOARD_SUPPLY_CALIBRATED.voltage(supply));
        let divided = count(&mut converter, &mut block, board::PIN_0_AGAINST_BANDGAP);
        report::line(&mut uart, b"divided ", BOARD_DIVIDED_CONSTANT.voltage(divided));
    }
}
