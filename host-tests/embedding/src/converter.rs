//! A converter behind SPI, over `embedded-hal` 1.0: the driver returns samples, and knows nothing of voltages.
//!
//! An invented converter: a command byte with the input's number, then two bytes with 12 bits, most significant first, under four
//! zeros. Your converter's data sheet has its own.

use embedded_hal::spi::SpiDevice;
use tallyvolt::Sample;

/// Why there is no sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ConverterError<E> {
    /// The bus failed.
    Bus(E),
    /// Bits that are zero were not: the converter is absent, or not ready.
    Framing(u16),
}

/// A converter on a bus.
#[derive(Debug)]
pub struct Converter<S> {
    device: S,
}

impl<S: SpiDevice> Converter<S> {
    /// The converter that the device's chip select selects.
    pub const fn new(device: S) -> Self {
        Self { device }
    }

    /// One result of an input.
    ///
    /// # Errors
    /// [`ConverterError`]; a failed sample is left out, and a channel that gets none has no reading.
    pub fn sample(&mut self, input: u8) -> Result<Sample, ConverterError<S::Error>> {
        let mut bytes = [0x80 | input, 0, 0];
        self.device
            .transfer_in_place(&mut bytes)
            .map_err(ConverterError::Bus)?;
        match u16::from_be_bytes([bytes[1], bytes[2]]) {
            code @ 0..=0x0FFF => Ok(Sample(code)),
            other => Err(ConverterError::Framing(other)),
        }
    }

    /// The device, when the converter is done with it.
    pub fn release(self) -> S {
        self.device
    }
}

#[cfg(test)]
mod tests {
    use embedded_hal_mock::eh1::spi::{Mock, Transaction};
    use tallyvolt::{Count, Voltage};

    use super::*;
    use crate::cell::AS_DRAWN;

    fn answered(answer: [u8; 3]) -> Result<Sample, ConverterError<embedded_hal::spi::ErrorKind>> {
        let device = Mock::new(&[
            Transaction::transaction_start(),
            Transaction::transfer_in_place(vec![0x82, 0, 0], answer.to_vec()),
            Transaction::transaction_end(),
        ]);
        let mut converter = Converter::new(device);
        let sample = converter.sample(2);
        converter.release().done();
        sample
    }

    #[test]
    fn twelve_bits_are_a_sample() {
        let sample = answered([0xFF, 0x0B, 0xF9]).expect("four zeros, twelve bits");
        assert_eq!(sample, Sample(3065));
        assert_eq!(AS_DRAWN.voltage(Count(16 * 3065)), Ok(Voltage(3200)));
    }

    #[test]
    fn a_converter_that_is_absent_gives_no_sample() {
        assert_eq!(
            answered([0xFF, 0xFF, 0xFF]),
            Err(ConverterError::Framing(0xFFFF))
        );
    }
}
