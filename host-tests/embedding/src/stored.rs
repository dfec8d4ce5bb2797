//! A module's own record, loaded from a flash at start; without one the module reads as drawn, and says so.

use embedded_storage::nor_flash::NorFlash;
use tallyvolt::{ChannelSetup, Store, StoreError};

use crate::cell::{Cell, INPUT, SETUP, over_voltage};

/// Where the bench program put the two slots.
pub const ADDRESS: u32 = 0;

/// The channel's set-up with the module's own conversion, if the flash holds it. Limits are counts of the constants they were found
/// with, so they are found anew.
///
/// # Errors
/// [`StoreError`] when the flash cannot hold two slots there.
pub fn setup<F: NorFlash>(flash: F) -> Result<ChannelSetup<Cell>, StoreError> {
    let Ok((conversion, _)) = Store::new(flash, ADDRESS)?.conversion(&INPUT) else {
        return Ok(SETUP);
    };
    let mut own = ChannelSetup {
        conversion,
        calibrated: true,
        ..SETUP
    };
    own.limits.over_voltage = over_voltage(&conversion).ok();
    if own.limits.over_voltage.is_none() {
        // A limit that cannot be watched is worse than a module that is not calibrated.
        return Ok(SETUP);
    }
    Ok(own)
}

#[cfg(test)]
mod tests {
    use embedded_storage::nor_flash::{ErrorType, NorFlashError, NorFlashErrorKind, ReadNorFlash};
    use tallyvolt::fixed::types::{I24F8, U8F24};
    use tallyvolt::{Channel, Sensing, Voltage};

    use super::*;
    use crate::cell::{AS_DRAWN, WINDOW};

    /// A flash of two erase blocks of 64 bytes, in RAM.
    struct Flash([u8; 128]);

    #[derive(Debug)]
    struct Failed;

    impl NorFlashError for Failed {
        fn kind(&self) -> NorFlashErrorKind {
            NorFlashErrorKind::OutOfBounds
        }
    }

    impl ErrorType for &mut Flash {
        type Error = Failed;
    }

    impl ReadNorFlash for &mut Flash {
        const READ_SIZE: usize = 1;

        fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Failed> {
            let start = offset as usize;
            let held = self.0.get(start..start + bytes.len()).ok_or(Failed)?;
            bytes.copy_from_slice(held);
            Ok(())
        }

        fn capacity(&self) -> usize {
            self.0.len()
        }
    }

    impl NorFlash for &mut Flash {
        const WRITE_SIZE: usize = 4;
        const ERASE_SIZE: usize = 64;

        fn erase(&mut self, from: u32, to: u32) -> Result<(), Failed> {
            let held = self.0.get_mut(from as usize..to as usize).ok_or(Failed)?;
            held.fill(0xFF);
            Ok(())
        }

        fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Failed> {
            let start = offset as usize;
            let held = self.0.get_mut(start..start + bytes.len()).ok_or(Failed)?;
            for (held, byte) in held.iter_mut().zip(bytes) {
                *held &= byte;
            }
            Ok(())
        }
    }

    fn voltage(flash: &mut Flash) -> (Result<Voltage, tallyvolt::Fault>, bool) {
        let setup = setup(flash).expect("two slots fit");
        let mut channel = Channel::<_, WINDOW>::new(&setup).expect("sixteen samples are summed");
        channel.samples(&[3065; WINDOW]);
        let reading = channel.reading(Sensing::default()).expect("a full window");
        (reading.voltage, reading.calibrated)
    }

    #[test]
    fn an_erased_flash_reads_as_drawn_and_a_record_as_calibrated() {
        let mut flash = Flash([0xFF; 128]);
        assert_eq!(voltage(&mut flash), (Ok(Voltage(3200)), false));
        let module = AS_DRAWN
            .scaled(U8F24::lit("1.004"), I24F8::lit("1.25"))
            .expect("a small correction");
        let mut store = Store::new(&mut flash, ADDRESS).expect("two slots fit");
        store.store(&INPUT, &module).expect("a flash that works");
        // (3065.5 - 1.25) / 4096 of 4275.25 mV, times 1.004: 3211.142 mV.
        assert_eq!(voltage(&mut flash), (Ok(Voltage(3211)), true));
        flash.0[12] ^= 1;
        flash.0[76] ^= 1;
        assert_eq!(voltage(&mut flash), (Ok(Voltage(3200)), false));
    }
}
