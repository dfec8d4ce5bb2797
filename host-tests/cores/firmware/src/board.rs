//! Registers of the ATmega328P (data sheet DS40002061, chapters "ADC" and "USART0"), at their data addresses.

use core::ptr::{read_volatile, write_volatile};

const ADCL: *mut u8 = 0x78 as *mut u8;
const ADCH: *mut u8 = 0x79 as *mut u8;
const ADCSRA: *mut u8 = 0x7A as *mut u8;
const ADMUX: *mut u8 = 0x7C as *mut u8;
const UCSR0A: *mut u8 = 0xC0 as *mut u8;
const UCSR0B: *mut u8 = 0xC1 as *mut u8;
const UBRR0L: *mut u8 = 0xC4 as *mut u8;
const UBRR0H: *mut u8 = 0xC5 as *mut u8;
const UDR0: *mut u8 = 0xC6 as *mut u8;
const EECR: *mut u8 = 0x3F as *mut u8;
const EEDR: *mut u8 = 0x40 as *mut u8;
const EEARL: *mut u8 = 0x41 as *mut u8;
const EEARH: *mut u8 = 0x42 as *mut u8;

/// ADEN, prescaler 64: 125 kHz of 8 MHz.
const CONVERTER_ON: u8 = 0x86;
/// ADSC.
const START: u8 = 0x40;
/// REFS0: AVCC is the reference; channel 14: the 1.1 V bandgap.
pub const BANDGAP_AGAINST_SUPPLY: u8 = 0x40 | 14;
/// REFS1 and REFS0: the internal 1.1 V is the reference; channel 0.
pub const PIN_0_AGAINST_BANDGAP: u8 = 0xC0;
/// AVCC is the reference; channel 1: the sensor, fed from it.
pub const PIN_1_AGAINST_SUPPLY: u8 = 0x40 | 1;
/// The internal 1.1 V is the reference; channel 2: the sensor, fed from it through a buffer on AREF.
pub const PIN_2_AGAINST_BANDGAP: u8 = 0xC0 | 2;
/// Conversions thrown away after a change of channel: 8 at 104 us, while the reference and its capacitor settle.
const SETTLING: u8 = 8;

/// EERE.
const EEPROM_READS: u8 = 0x01;

/// UDRE0.
const UART_READY: u8 = 0x20;
/// TXEN0.
const UART_SENDS: u8 = 0x08;
/// 8 MHz / (16 * 9600) - 1.
const BAUD: u8 = 51;

fn read(register: *mut u8) -> u8 {
    // SAFETY: one of the addresses above; reading has no effect but on the converter's and UART's own state.
    unsafe { read_volatile(register) }
}

fn write(register: *mut u8, value: u8) {
    // SAFETY: one of the addresses above; no memory of the program lies there.
    unsafe { write_volatile(register, value) }
}

/// The first bytes of the EEPROM.
pub fn eeprom<const N: usize>() -> [u8; N] {
    let mut bytes = [0; N];
    let mut address = 0_u16;
    for byte in &mut bytes {
        let [low, high] = address.to_le_bytes();
        write(EEARH, high);
        write(EEARL, low);
        write(EECR, EEPROM_READS);
        *byte = read(EEDR);
        address += 1;
    }
    bytes
}

/// The converter.
pub struct Converter(());

impl Converter {
    /// Switches it on.
    pub fn new() -> Self {
        write(ADCSRA, CONVERTER_ON);
        Self(())
    }

    /// Changes channel and reference, and lets both settle.
    fn select(&mut self, channel: u8) {
        write(ADMUX, channel);
        for _ in 0..SETTLING {
            self.sample();
        }
    }

    /// A window of conversions of one channel, settled.
    pub fn window<const N: usize>(&mut self, channel: u8) -> [u16; N] {
        self.select(channel);
        let mut window = [0; N];
        for sample in &mut window {
            *sample = self.sample();
        }
        window
    }

    /// One conversion.
    fn sample(&mut self) -> u16 {
        write(ADCSRA, CONVERTER_ON | START);
        while read(ADCSRA) & START != 0 {}
        // Low byte first: reading it holds the high one.
        let low = read(ADCL);
        u16::from_le_bytes([low, read(ADCH)])
    }
}

/// The UART, sending only.
pub struct Uart(());

impl Uart {
    /// Switches it on.
    pub fn new() -> Self {
        write(UBRR0H, 0);
        write(UBRR0L, BAUD);
        write(UCSR0B, UART_SENDS);
        Self(())
    }

    /// Sends a byte when the last one has gone.
    pub fn send(&mut self, byte: u8) {
        while read(UCSR0A) & UART_READY == 0 {}
        write(UDR0, byte);
    }
}
