//! A complete firmware for an ATmega328P on a cell: it samples cell and temperature sensor through the converter's registers,
//! runs a channel for each topology, and sends a line for each reading.
//!
//! ```text
//! supply 3301 254 alarms 0 faults 0       the cell as supply and reference, the 1.1 V bandgap sampled; constants from a
//!                                         record in EEPROM, `no calibration` without it; sensor on ADC1
//! divided 3300 - alarms 4 faults 64       the cell through a divider on ADC0, against the internal 1.1 V, as drawn; sensor on
//!                                         ADC2
//! ```
//!
//! Millivolts, tenths of a degree Celsius, `-` for what is none. Alarms add up: 1 over voltage, 2 under voltage, 4 over
//! temperature, 8 under temperature. Faults are `Faults::bits`. **Lithium cells burn:** the limits here are for show; this
//! is a meter, not a protection system.
//!
//! 8 MHz clock (the internal oscillator, fuse CKDIV8 not programmed), UART at 9600 baud, 8 bits, no parity. On a board with
//! a 16 MHz crystal it is 19 200 baud, and the converter's clock 250 kHz.
#![no_std]

mod board;
mod report;

mod front_ends {
    include!(env!("TALLYVOLT_FRONT_ENDS"));
}

use board::{Converter, Uart};
use front_ends::{board_divided, board_supply};
use tallyvolt::{
    CellConversion, Channel, ChannelSetup, Count, Reading, Sensing, TemperatureSensor, proven,
};

/// The record of the supply channel, at the EEPROM's first address: what `avr-objcopy -j .eeprom` gives to a programmer.
#[used]
#[unsafe(link_section = ".eeprom")]
static RECORD: [u8; tallyvolt::RECORD_BYTES] = board_supply::RECORD;

static DIVIDED: ChannelSetup<board_divided::Module, board_divided::FittedSensor> =
    proven!(board_divided::setup(board_divided::AS_DRAWN, false));

/// Samples in a count of the cell, as the front-end files say.
const SAMPLES: usize = 16;
/// Samples in a count of the sensor.
const SENSOR_SAMPLES: usize = 4;

#[panic_handler]
fn panicked(_: &core::panic::PanicInfo<'_>) -> ! {
    loop {}
}

/// Samples the cell and its sensor; the channel's reading.
fn read<C: CellConversion>(
    converter: &mut Converter,
    channel: &mut Channel<'_, C, SAMPLES, impl TemperatureSensor>,
    cell: u8,
    sensor: u8,
) -> Option<Reading> {
    channel.samples(&converter.window::<SAMPLES>(cell));
    let sensor = converter.window::<SENSOR_SAMPLES>(sensor);
    let sensor = sensor.iter().map(|sample| u32::from(*sample)).sum();
    channel.reading(Sensing {
        sensor: Some(Count(sensor)),
        bleeding: false,
    })
}

/// Where the start-up code of avr-libc goes.
#[unsafe(no_mangle)]
pub extern "C" fn main() -> ! {
    let mut converter = Converter::new();
    let mut uart = Uart::new();
    // A module's own constants; without a record of this front end it goes on as drawn.
    let (module, calibrated) =
        match board_supply::INPUT.load(&board::eeprom::<{ tallyvolt::RECORD_BYTES }>()) {
            Ok(module) => (module, true),
            Err(_) => (board_supply::AS_DRAWN, false),
        };
    if !calibrated {
        report::text(&mut uart, b"no calibration\n");
    }
    let Ok(supply) = board_supply::setup(module, calibrated) else {
        loop {}
    };
    let (Ok(mut supply), Ok(mut divided)) = (Channel::new(&supply), Channel::new(&DIVIDED)) else {
        loop {}
    };
    loop {
        let (cell, sensor) = (board::BANDGAP_AGAINST_SUPPLY, board::PIN_1_AGAINST_SUPPLY);
        if let Some(reading) = read(&mut converter, &mut supply, cell, sensor) {
            report::line(&mut uart, b"supply ", &reading);
        }
        let (cell, sensor) = (board::PIN_0_AGAINST_BANDGAP, board::PIN_2_AGAINST_BANDGAP);
        if let Some(reading) = read(&mut converter, &mut divided, cell, sensor) {
            report::line(&mut uart, b"divided ", &reading);
        }
    }
}
