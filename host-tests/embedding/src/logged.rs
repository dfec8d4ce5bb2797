//! A reading in a log. With the feature `defmt` every value of the library goes into a log as it is; the text stays on the PC.

use tallyvolt::Reading;

/// One line a reading, with its numbers and no text in flash.
pub fn log(cell: u8, reading: &Reading) {
    if reading.faults == tallyvolt::Faults::NONE {
        defmt::info!("cell {}: {}", cell, reading.voltage);
    } else {
        defmt::warn!("cell {}: {} {}", cell, reading.voltage, reading.faults);
    }
}
