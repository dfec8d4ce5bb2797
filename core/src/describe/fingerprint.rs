//! The fingerprint of a description: which front end a calibration record was made for.
//!
//! CRC-32C over the description's values that a conversion depends on, in 22 bytes, little-endian:
//!
//! | bytes | value |
//! |---|---|
//! | 0 | topology: 1 divided input, 2 supply reference |
//! | 1 | bits of a sample |
//! | 2 | full scale: 0 for 2^bits, 1 for 2^bits - 1 |
//! | 3 | code centre: 0 edge, 1 half |
//! | 4..6 | samples in a count |
//! | 6 | right shift |
//! | 7 | shift rounding: 0 truncate, 1 nearest; 0 where nothing is shifted |
//! | 8..10 | output unit in microvolts |
//! | 10..14 | reference in microvolts |
//! | 14..18 | top resistance, 0 for a supply reference |
//! | 18..22 | bottom resistance, 0 for a supply reference |
//!
//! Both resistances are divided by their greatest common divisor: only the ratio is measured, so 24 900 over 10 000 ohms
//! and 249 over 100 of any unit are the same front end. The cell's range is left out: it checks a description, and no
//! count is converted differently for it.

use crc::{CRC_32_ISCSI, Crc, NoTable};

use super::acquisition::{Acquisition, CodeCentre, FullScale, ShiftRounding};
use super::factor::Factor;
use crate::units::OutputUnit;

/// CRC-32C (Castagnoli polynomial, `CRC-32/ISCSI` in the RevEng catalogue), bit by bit: slow, and without a table.
pub(crate) const fn crc_32c(bytes: &[u8]) -> u32 {
    const CRC_32C: Crc<u32, NoTable> = Crc::<u32, NoTable>::new(&CRC_32_ISCSI);
    CRC_32C.checksum(bytes)
}

/// Identity of a front end's description.
///
/// # Range
/// Any `u32`. Two different descriptions share one with a chance of 1 in 2^32.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fingerprint(pub u32);

/// The values behind a fingerprint.
pub(crate) struct Described {
    pub(crate) acquisition: Acquisition,
    pub(crate) unit: OutputUnit,
    pub(crate) reference_uv: u32,
    /// Top and bottom resistance, both at least 1; none for a supply reference.
    pub(crate) divider: Option<(u32, u32)>,
}

impl Described {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "a reduced resistance is at most the resistance, a u32; the output unit is 100 or 1000"
    )]
    pub(crate) const fn fingerprint(&self) -> Fingerprint {
        let (topology, top, bottom) = match self.divider {
            Some((top, bottom)) => {
                let ratio = Factor::reduced(top as u64, bottom as u64);
                (1, ratio.numerator as u32, ratio.denominator as u32)
            }
            None => (2, 0, 0),
        };
        let acquisition = self.acquisition;
        let full_scale = match acquisition.full_scale {
            FullScale::PowerOfTwo => 0,
            FullScale::TopCode => 1,
        };
        let centre = match acquisition.code_centre {
            CodeCentre::Edge => 0,
            CodeCentre::Half => 1,
        };
        let rounding = match acquisition.shift_rounding {
            ShiftRounding::Nearest if acquisition.right_shift > 0 => 1,
            ShiftRounding::Nearest | ShiftRounding::Truncate => 0,
        };
        let [samples_low, samples_high] = acquisition.samples.to_le_bytes();
        let [unit_low, unit_high] = (self.unit.step_uv() as u16).to_le_bytes();
        let [r0, r1, r2, r3] = self.reference_uv.to_le_bytes();
        let [t0, t1, t2, t3] = top.to_le_bytes();
        let [b0, b1, b2, b3] = bottom.to_le_bytes();
        let bytes = [
            topology,
            acquisition.bits,
            full_scale,
            centre,
            samples_low,
            samples_high,
            acquisition.right_shift,
            rounding,
            unit_low,
            unit_high,
            r0,
            r1,
            r2,
            r3,
            t0,
            t1,
            t2,
            t3,
            b0,
            b1,
            b2,
            b3,
        ];
        Fingerprint(crc_32c(&bytes))
    }
}
