//! A channel in a `static`: the converter's interrupt gives it samples, the main loop asks for a reading.

use core::cell::RefCell;

use critical_section::Mutex;
use tallyvolt::{Channel, ConfigError, Reading, Sample, Sensing};

use crate::cell::{CellChannel, SETUP};

static CHANNEL: Mutex<RefCell<Option<CellChannel>>> = Mutex::new(RefCell::new(None));

/// At start, before the interrupt is enabled.
///
/// # Errors
/// [`ConfigError::WindowMismatch`] when the window is not what the conversion sums.
pub fn start() -> Result<(), ConfigError> {
    let channel = Channel::new(&SETUP)?;
    critical_section::with(|section| CHANNEL.borrow_ref_mut(section).replace(channel));
    Ok(())
}

/// In the interrupt, with the converter's result register.
pub fn on_conversion(result: u16) {
    critical_section::with(|section| {
        if let Some(channel) = CHANNEL.borrow_ref_mut(section).as_mut() {
            channel.sample(Sample(result));
        }
    });
}

/// In the main loop, as often as a reading is wanted; none before the window is full.
#[must_use]
pub fn reading() -> Option<Reading> {
    critical_section::with(|section| {
        let mut channel = CHANNEL.borrow_ref_mut(section);
        channel.as_mut()?.reading(Sensing::default())
    })
}

#[cfg(test)]
mod tests {
    use tallyvolt::Voltage;

    use super::*;

    #[test]
    fn samples_of_another_context_become_readings() {
        assert_eq!(reading(), None);
        on_conversion(3065);
        start().expect("sixteen samples are summed");
        let interrupt = std::thread::spawn(|| (0..15).for_each(|_| on_conversion(3065)));
        interrupt.join().expect("it ends");
        assert_eq!(reading(), None, "the sample before the start is not one");
        on_conversion(3065);
        let reading = reading().expect("sixteen samples are there");
        assert_eq!(reading.voltage, Ok(Voltage(3200)));
        assert!(!reading.calibrated && !reading.alarms.any());
    }
}
