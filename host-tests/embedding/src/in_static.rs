//! Channels made by the compiler: each lies in a `static` from the start, without a start function and without an `Option`.
//!
//! A set-up that does not fit its window is a compile error. What a record gives at start is known later: that channel is made by
//! `Channel::new`, as `interrupt_fed` does.

use core::cell::RefCell;

use critical_section::Mutex;
use tallyvolt::{BlockChannel, Channel, Reading, Sensing, proven};

use crate::cell::{Cell, CellChannel, SETUP, WINDOW};

static CHANNEL: Mutex<RefCell<CellChannel>> =
    Mutex::new(RefCell::new(Channel::of(proven!(SETUP.for_window()))));

static BLOCK: Mutex<RefCell<BlockChannel<'static, Cell, WINDOW>>> =
    Mutex::new(RefCell::new(BlockChannel::of(proven!(SETUP.for_window()))));

/// In the converter's interrupt, with the samples that came since the last one, as its buffer holds them.
pub fn on_samples(samples: &[u16]) {
    critical_section::with(|section| CHANNEL.borrow_ref_mut(section).samples(samples));
}

/// In the main loop; none before the window is full.
#[must_use]
pub fn reading() -> Option<Reading> {
    critical_section::with(|section| CHANNEL.borrow_ref_mut(section).reading(Sensing::default()))
}

/// The reading of a whole window, by the channel that keeps none.
#[must_use]
pub fn block_reading(window: &[u16; WINDOW]) -> Reading {
    critical_section::with(|section| {
        let mut channel = BLOCK.borrow_ref_mut(section);
        channel.reading(window, Sensing::default())
    })
}

#[cfg(test)]
mod tests {
    use tallyvolt::Voltage;

    use super::*;

    #[test]
    fn both_channels_read_without_a_start() {
        on_samples(&[3065; WINDOW - 1]);
        assert_eq!(reading(), None);
        on_samples(&[3065]);
        let kept = reading().expect("sixteen samples are there");
        assert_eq!(kept.voltage, Ok(Voltage(3200)));
        assert_eq!(block_reading(&[3065; WINDOW]), kept);
    }

    /// The control: the same way refuses a window that the set-up does not sum.
    #[test]
    fn another_window_is_refused() {
        assert!(SETUP.for_window::<WINDOW>().is_ok());
        assert!(SETUP.for_window::<8>().is_err());
    }
}
