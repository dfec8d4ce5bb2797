//! The fingerprint of a description: which front end a calibration record was made for.

use super::acquisition::{Acquisition, CodeCentre, FullScale, ShiftRounding};
use super::factor::Factor;
use crate::units::OutputUnit;

/// The Castagnoli polynomial 0x1EDC6F41, bits in reverse.
const CASTAGNOLI: u32 = 0x82F6_3B78;

/// CRC-32C (`CRC-32/ISCSI` in the RevEng catalogue), a bit at a time and without a table. The `crc` crate, which tests compare this with,
/// takes more flash.
pub(crate) const fn crc_32c(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    let mut rest = bytes;
    while let [byte, more @ ..] = rest {
        crc ^= *byte as u32;
        let mut bits = 8_u8;
        while bits > 0 {
            // All bits or none: a product of the lowest bit would take a multiplier, and a branch more code.
            crc = crc >> 1 ^ CASTAGNOLI & (crc & 1).wrapping_neg();
            bits = bits.wrapping_sub(1);
        }
        rest = more;
    }
    !crc
}

/// Identity of a front end's description.
///
/// CRC-32C over the description's values that a conversion depends on, in 22 bytes, little-endian:
///
/// | bytes | value |
/// |---|---|
/// | 0 | topology: 1 divided input, 2 supply reference |
/// | 1 | bits of a sample |
/// | 2 | full scale: 0 for 2^bits, 1 for 2^bits - 1 |
/// | 3 | code centre: 0 edge, 1 half |
/// | 4..6 | samples in a count |
/// | 6 | right shift |
/// | 7 | shift rounding: 0 truncate, 1 nearest; 0 where nothing is shifted |
/// | 8..10 | output unit in microvolts |
/// | 10..14 | reference in microvolts |
/// | 14..18 | top resistance, 0 for a supply reference |
/// | 18..22 | bottom resistance, 0 for a supply reference |
///
/// Both resistances are divided by their greatest common divisor: only the ratio is measured, so 24 900 over 10 000 ohms
/// and 249 over 100 of any unit are the same front end. The cell's range is left out: it checks a description, and no
/// count is converted differently for it.
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

#[cfg(test)]
mod tests {
    use super::crc_32c;
    use crc::{CRC_32_ISCSI, Crc, NoTable};

    /// Against a library, for every single byte and for every length of a string that takes all byte values.
    #[test]
    fn the_checksum_is_the_published_one() {
        let reference = Crc::<u32, NoTable>::new(&CRC_32_ISCSI);
        assert_eq!(
            crc_32c(b"123456789"),
            0xE306_9283,
            "RevEng catalogue, CRC-32/ISCSI, check"
        );
        let all: [u8; 256] = core::array::from_fn(|index| index.to_le_bytes()[0]);
        for (index, byte) in all.iter().enumerate() {
            assert_eq!(crc_32c(&[*byte]), reference.checksum(&[*byte]));
            let (start, rest) = all.split_at(index);
            assert_eq!(crc_32c(start), reference.checksum(start));
            assert_eq!(crc_32c(rest), reference.checksum(rest));
        }
    }
}
