//! Lines near their bounds, of 8, 12 and 16 bits: B that carries with the first byte product, with the second or with the third, and M of 8 to
//! 41 bits.

use tallyvolt::LineConstants;

const fn line(first: u32, counts: u32, factor: u128, addend: u128, shift: u8) -> LineConstants {
    LineConstants {
        first,
        counts,
        factor,
        addend,
        shift,
    }
}

/// The wide form alone.
pub const OF_8: [LineConstants; 2] = [
    line(1, 254, 0x101_F0F1_F2F3, 0xFF_FFFF_FFF1, 32),
    line(1, 254, 0xFE_DCBA_9876, 0xFF_FFFF_0001, 32),
];
/// The short form with carries of the first product and of the second, and the wide form.
pub const OF_12: [LineConstants; 3] = [
    line(2000, 2095, 0x8755, 0x007F_FF80, 15),
    line(1, 4094, 0x7FFF, 0x0078_8000, 15),
    line(1, 4094, 0xF_FEFD_FCFB, 0x3F_FFFF_FFFF, 32),
];
/// The short form with carries of the second product and the third, of the first, and the wide form.
pub const OF_16: [LineConstants; 9] = [
    line(1, 65_534, 0xFFFF, 0x0002_0FF0, 19),
    line(40_000, 20_000, 0x8CEF, 0x02FF_FE01, 19),
    line(1, 65_534, 0xFFFE_FDFC, 0x1_FFFF_FFF0, 32),
    line(1, 65_534, 0x0034_56FF, 0xFFC8_FFFF_FFFF, 32),
    // One byte of M alone, and B with all bits in the bytes above its products: every carry runs through all of them. At count 258, position 257,
    // the lowest byte decides, and at position 256 the last product.
    line(1, 65_534, 0xFF, 0xFF_FFFF_0080, 32),
    line(2, 65_533, 0xFF, 0xFF_FFFF_0080, 32),
    line(1, 65_534, 0xFF00, 0xFF_FF00_8000, 32),
    line(1, 65_534, 0xFF_0000, 0xFF_0080_0000, 32),
    line(1, 65_534, 0xFF00_0000, 0xFF_8000_0000, 32),
];
