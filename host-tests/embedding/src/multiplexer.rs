//! Several cells behind one multiplexer and one converter: a channel each, and samples taken while the input settles thrown away.
//!
//! Each cell has its own channel, so that its window, its alarms and its calibration are its own. How many samples to throw away
//! depends on the input's filter; `tallyvolt budget` says what settling leaves of a step.

use tallyvolt::{Channel, ConfigError, Reading, Sample, Sensing};

use crate::cell::{CellChannel, SETUP, WINDOW};

/// Cells behind the multiplexer.
pub const CELLS: usize = 4;

/// The channels behind one converter.
#[derive(Debug)]
pub struct Multiplexed {
    channels: [CellChannel; CELLS],
    settling_samples: u8,
}

impl Multiplexed {
    /// Channels without samples.
    ///
    /// # Errors
    /// [`ConfigError::WindowMismatch`] when the window is not what the conversion sums.
    pub fn new(settling_samples: u8) -> Result<Self, ConfigError> {
        let channel = || Channel::new(&SETUP);
        Ok(Self {
            channels: [channel()?, channel()?, channel()?, channel()?],
            settling_samples,
        })
    }

    /// Goes round once: selects each cell, lets the input settle, fills its window, reads it.
    ///
    /// # Errors
    /// What `sample` failed with; cells behind it have no reading in this round.
    pub fn round<E>(
        &mut self,
        mut select: impl FnMut(usize) -> Result<(), E>,
        mut sample: impl FnMut() -> Result<Sample, E>,
    ) -> Result<[Option<Reading>; CELLS], E> {
        let mut readings = [None; CELLS];
        for (cell, (channel, reading)) in self.channels.iter_mut().zip(&mut readings).enumerate() {
            select(cell)?;
            for _ in 0..self.settling_samples {
                sample()?;
            }
            for _ in 0..WINDOW {
                channel.sample(sample()?);
            }
            *reading = channel.reading(Sensing::default());
        }
        Ok(readings)
    }
}

#[cfg(test)]
mod tests {
    use core::cell::Cell;
    use core::convert::Infallible;

    use tallyvolt::Voltage;

    use super::*;

    /// Codes of four cells; for two samples after a change of input the cell before still shows.
    fn round(settling_samples: u8) -> [Option<Reading>; CELLS] {
        let codes = [3065, 3000, 2900, 3160];
        let (selected, before, since) = (Cell::new(3), Cell::new(3), Cell::new(0));
        let select = |cell| {
            before.set(selected.replace(cell));
            since.set(0);
            Ok::<_, Infallible>(())
        };
        let sample = || {
            since.set(since.get() + 1);
            let cell: usize = if since.get() <= 2 {
                before.get()
            } else {
                selected.get()
            };
            Ok(Sample(codes[cell]))
        };
        let mut cells = Multiplexed::new(settling_samples).expect("sixteen samples are summed");
        cells.round(select, sample).expect("nothing fails")
    }

    #[test]
    fn each_cell_has_its_own_reading() {
        let voltages = round(2).map(|reading| reading.expect("a full window").voltage);
        // (code + 1/2) / 4096 of 4275.25 mV: 3199.653, 3131.809, 3027.432, 3298.811.
        assert_eq!(voltages, [3200, 3132, 3027, 3299].map(|mv| Ok(Voltage(mv))));
    }

    #[test]
    fn samples_that_have_not_settled_would_be_seen() {
        let voltages = round(0).map(|reading| reading.expect("a full window").voltage);
        assert_ne!(voltages[1], Ok(Voltage(3132)));
    }
}
