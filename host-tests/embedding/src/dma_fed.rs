//! A circular buffer that a DMA fills: its interrupt hands over the half that is complete, the main loop converts it.
//!
//! A half is a window, so each half is one reading. A half that nobody took in time is counted, not mixed with the next.

use core::cell::Cell;

use critical_section::Mutex;
use tallyvolt::Sensing;

use crate::cell::{CellChannel, WINDOW};

static HALF: Mutex<Cell<Option<[u16; WINDOW]>>> = Mutex::new(Cell::new(None));
static LOST: Mutex<Cell<u16>> = Mutex::new(Cell::new(0));

/// In the DMA's interrupt, half complete or complete, with a copy of that half: the DMA goes on writing into the other.
pub fn on_half(half: [u16; WINDOW]) {
    critical_section::with(|section| {
        if HALF.borrow(section).replace(Some(half)).is_some() {
            let lost = LOST.borrow(section);
            lost.set(lost.get().saturating_add(1));
        }
    });
}

/// In the main loop: the reading of the half that came last, if one came.
#[must_use]
pub fn reading(channel: &mut CellChannel) -> Option<tallyvolt::Reading> {
    let half = critical_section::with(|section| HALF.borrow(section).take())?;
    channel.samples(&half);
    channel.reading(Sensing::default())
}

/// Halves that were overwritten before the main loop took them.
#[must_use]
pub fn lost() -> u16 {
    critical_section::with(|section| LOST.borrow(section).get())
}

#[cfg(test)]
mod tests {
    use tallyvolt::{Channel, Voltage};

    use super::*;
    use crate::cell::SETUP;

    #[test]
    fn a_half_is_a_reading_and_a_lost_one_is_counted() {
        let mut channel = Channel::new(&SETUP).expect("sixteen samples are summed");
        assert_eq!(reading(&mut channel), None);
        on_half([3065; WINDOW]);
        let first = reading(&mut channel).expect("a half");
        assert_eq!((first.voltage, lost()), (Ok(Voltage(3200)), 0));
        on_half([3065; WINDOW]);
        on_half([3500; WINDOW]);
        let later = reading(&mut channel).expect("a half");
        // 3500.5 / 4096 of 4275.25 mV = 3653.697 mV.
        assert_eq!((later.voltage, lost()), (Ok(Voltage(3654)), 1));
        assert!(!later.alarms.over_voltage, "one reading over 3600 mV");
        on_half([3500; WINDOW]);
        let third = reading(&mut channel).expect("a half");
        assert!(third.alarms.over_voltage, "and two");
    }
}
