//! Registers of the ATtiny84 (data sheet 8006), at their data addresses, and a serial line without hardware for it.

use core::arch::asm;
use core::ptr::{read_volatile, write_volatile};

const ADCL: *mut u8 = 0x24 as *mut u8;
const ADCH: *mut u8 = 0x25 as *mut u8;
const ADCSRA: *mut u8 = 0x26 as *mut u8;
const ADMUX: *mut u8 = 0x27 as *mut u8;
const DDRB: *mut u8 = 0x37 as *mut u8;
const PORTB: *mut u8 = 0x38 as *mut u8;
const EECR: *mut u8 = 0x3C as *mut u8;
const EEDR: *mut u8 = 0x3D as *mut u8;
const EEARL: *mut u8 = 0x3E as *mut u8;

/// ADEN, ADSC, prescaler 64: 125 kHz of 8 MHz.
const CONVERT: u8 = 0xC6;
/// ADSC.
const CONVERTING: u8 = 0x40;
/// EERE.
const EEPROM_READS: u8 = 0x01;
/// PB2 sends, and no other pin of its port is used.
const LINE: u8 = 0x04;

/// ADC3, a reference of 1.1 V, against the supply; 0x21 would be the chip's own bandgap, which the simulator does not have.
#[cfg(feature = "supply")]
pub const CELL: u8 = 3;
/// ADC1, against the supply, which feeds the sensor.
#[cfg(feature = "supply")]
pub const SENSOR: u8 = 1;
/// REFS0: ADC2, against AREF.
#[cfg(not(feature = "supply"))]
pub const CELL: u8 = 0x40 | 2;
/// REFS0: ADC1, against AREF, which feeds the sensor.
#[cfg(not(feature = "supply"))]
pub const SENSOR: u8 = 0x40 | 1;

/// Conversions thrown away after a change of channel: 8 at 104 us, while the reference settles.
const SETTLING: u8 = 8;

fn read(register: *mut u8) -> u8 {
    // SAFETY: one of the addresses above; reading has no effect but on the converter's own state.
    unsafe { read_volatile(register) }
}

fn write(register: *mut u8, value: u8) {
    // SAFETY: one of the addresses above; no memory of the program lies there.
    unsafe { write_volatile(register, value) }
}

/// The line rests at 1.
pub fn start() {
    write(PORTB, LINE);
    write(DDRB, LINE);
}

/// A byte of the EEPROM.
pub fn eeprom(address: u8) -> u8 {
    write(EEARL, address);
    write(EECR, EEPROM_READS);
    read(EEDR)
}

/// One conversion.
#[inline(never)]
pub fn sample() -> u16 {
    write(ADCSRA, CONVERT);
    while read(ADCSRA) & CONVERTING != 0 {}
    // Low byte first: reading it holds the high one.
    let low = read(ADCL);
    u16::from_le_bytes([low, read(ADCH)])
}

/// Changes channel and reference, and lets both settle.
#[inline(never)]
pub fn select(channel: u8) {
    write(ADMUX, channel);
    for _ in 0..SETTLING {
        sample();
    }
}

/// Sends a byte: start bit, eight bits, stop bit, 831 cycles each.
#[inline(never)]
pub fn send(byte: u8) {
    let mut frame = u16::from(byte) << 1 | 0x200;
    while frame != 0 {
        write(PORTB, (frame as u8) << LINE.ilog2() & LINE);
        frame >>= 1;
        // SAFETY: counts down in a register: four cycles a round.
        unsafe {
            asm!(
                "1: sbiw {rounds}, 1",
                "brne 1b",
                rounds = inout(reg_iw) 205_u16 => _,
                options(nomem, nostack),
            );
        }
    }
}
