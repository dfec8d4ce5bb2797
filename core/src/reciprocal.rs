//! The quotient of a supply reference without a division: for cores that have no divider.
//!
//! Wanted is `v = floor(H / E + 1/2)` with E = 2 D even and H the doubled numerator ([`crate::supply_reference`]). Both are
//! doubled together, once, when a calibration is loaded, until the largest E lies in 2^26 .. 2^27; the quotient keeps its
//! value. A seed of five bits and two refinements then give it exactly, in seven 32-bit products:
//!
//! ```text
//! T = round(2^13 / (2 i + 1)), i = floor(E / 2^20)        seed: 112 bytes for i = 16 .. 127
//! R = T * (2^32 - E/2 * T) / 2^23                         Newton's step, from below: R <= 2^40 / E
//! u = floor(H / 2^24) * R / 2^16                          u <= H / E
//! e = floor((H - u E) / 2^16) * R / 2^24                  what u lacks, less than 1.0703
//! v = u + e, and 1 more if H - (u + e) E >= E / 2
//! ```
//!
//! Every line is rounded down, so no estimate exceeds the quotient and the remainder never wraps. The bounds, each
//! evaluated over every E, stand in `docs/numerics.md`.
//!
//! Two rare cases take another way to the same value: E below 2^24, counts in the lowest part of the range, is raised
//! there and then; E of 2^27 or more, sums of 1024 samples of 16 bits, is divided bit by bit.

use crate::supply_reference::Quotient;

/// Smallest E that the refinement takes.
pub(crate) const E_MIN: u32 = 1 << 24;
/// E at the window's last count is below this, and at least half of it.
pub(crate) const E_END: u32 = 1 << 27;
/// A seed stands for 2^20 values of E.
pub(crate) const SEED_SHIFT: u32 = 20;
/// Index of the first seed.
pub(crate) const SEED_FIRST: u32 = E_MIN >> SEED_SHIFT;
/// Number of seeds.
const SEEDS_LEN: usize = ((E_END >> SEED_SHIFT) - SEED_FIRST) as usize;

pub(crate) static SEEDS: [u8; SEEDS_LEN] = seeds();

/// `round(2^13 / (2 i + 1))`: 2^33 over the middle of the seed's interval of E.
#[expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    clippy::indexing_slicing,
    reason = "constants: the index runs over the table, 2^14 / (2 * 16 + 1) is below 2^9 and its half below 2^8"
)]
const fn seeds() -> [u8; SEEDS_LEN] {
    let mut seeds = [0; SEEDS_LEN];
    let mut index = 0;
    while index < SEEDS_LEN {
        let middle = 2 * (index as u32 + SEED_FIRST) + 1;
        seeds[index] = (((2 << 13) + middle) / (2 * middle)) as u8;
        index += 1;
    }
    seeds
}

/// A [`Quotient`] made ready for a core without a divider.
///
/// # Range
/// H (after doubling) below 2^45; E even, from 2 to below 2^29 at every position of the window.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub struct Reciprocal {
    step_log2: u32,
    at_first: u32,
    /// H mod 2^32.
    low: u32,
    /// floor(H / 2^24).
    top: u32,
    doublings: u32,
}

impl Reciprocal {
    /// Prepares a quotient for the positions from 0 to `last`.
    #[must_use]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        reason = "2 D is below 2^29, and doubled only while below 2^26; H / E is below 2^16, so H stays below 2^43 where it is \
                  doubled, and below 2^45 where it is not; low is the low half on purpose"
    )]
    pub const fn of(quotient: Quotient, last: u32) -> Self {
        let mut e = quotient.denominator(last) << 1;
        let mut doublings = 0;
        while e < E_END / 2 {
            e <<= 1;
            doublings += 1;
        }
        let h = quotient.doubled_numerator() << doublings;
        Self {
            step_log2: quotient.step_log2() as u32 + 1 + doublings,
            at_first: quotient.at_first() << (1 + doublings),
            low: h as u32,
            top: (h >> 24) as u32,
            doublings,
        }
    }

    /// The quotient that this was made of.
    #[must_use]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        reason = "top is below 2^21; step_log2 is at least 1 + doublings and that at most 27"
    )]
    pub const fn quotient(&self) -> Quotient {
        Quotient::new(
            self.doubled_h() >> self.doublings,
            (self.step_log2 - 1 - self.doublings) as u8,
            self.at_first >> (1 + self.doublings),
        )
    }

    /// The value at a position: `floor(H / E + 1/2)`.
    ///
    /// # Range
    /// `position` from 0 to the `last` this was made for, within a window that keeps the value at most
    /// [`crate::bounds::VOLTAGE_MAX`]. Any other position gives some number, and never a panic.
    #[inline]
    #[must_use]
    #[expect(clippy::indexing_slicing, reason = "the index is compared first")]
    pub const fn at(&self, position: u32) -> u16 {
        let e = self.e(position);
        let index = (e >> SEED_SHIFT).wrapping_sub(SEED_FIRST) as usize;
        if index < SEEDS_LEN {
            refined(e, SEEDS[index] as u32, self.low, self.top)
        } else {
            self.rare(e)
        }
    }

    /// E at a position.
    #[inline]
    const fn e(&self, position: u32) -> u32 {
        position
            .wrapping_shl(self.step_log2)
            .wrapping_add(self.at_first)
    }

    /// The value at an E outside the refinement's range. Out of line: inlined, it would take the common way's registers.
    #[cold]
    #[inline(never)]
    #[expect(
        clippy::indexing_slicing,
        reason = "an E raised from 2 or more lies in 2^24 .. 2^27, and any other index is compared first"
    )]
    pub(crate) const fn rare(&self, e: u32) -> u16 {
        if e >= E_END {
            return long_division(self.doubled_h(), e);
        }
        let (e, low, top) = raised(e, self.low, self.top);
        let index = (e >> SEED_SHIFT).wrapping_sub(SEED_FIRST) as usize;
        if index < SEEDS_LEN {
            refined(e, SEEDS[index] as u32, low, top)
        } else {
            0
        }
    }

    const fn doubled_h(&self) -> u64 {
        ((self.top as u64) << 24) | (self.low & 0x00FF_FFFF) as u64
    }
}

/// Raises E to 2^24 or more, and H with it. Three bits at a time, so E stays below 2^27.
#[expect(
    clippy::arithmetic_side_effects,
    reason = "shifts by 3 and 21; H / E is below 2^16, so H stays below 2^43 and top below 2^19"
)]
const fn raised(mut e: u32, mut low: u32, mut top: u32) -> (u32, u32, u32) {
    let mut rounds = 0;
    // An E of 2 is raised in 8 rounds; the bound keeps the loop finite for positions outside the window, too.
    while e < E_MIN && rounds < 8 {
        e <<= 3;
        top = (top << 3) | ((low >> 21) & 7);
        low <<= 3;
        rounds += 1;
    }
    (e, low, top)
}

/// The two refinements. Wrapping operators only because the proof is in `docs/numerics.md`, not in the types: within the
/// range of [`Reciprocal::at`], E in 2^24 .. 2^27 and H / E + 1/2 below 2^16, nothing but the remainder's low word wraps.
#[inline]
pub(crate) const fn refined(e: u32, seed: u32, low: u32, top: u32) -> u16 {
    let half = e >> 1;
    let newton = half.wrapping_mul(seed).wrapping_neg() >> 15;
    let reciprocal = seed.wrapping_mul(newton) >> 8;
    let first = top.wrapping_mul(reciprocal) >> 16;
    let rest = low.wrapping_sub(first.wrapping_mul(e));
    let second = (rest >> 16).wrapping_mul(reciprocal) >> 24;
    let rest = rest.wrapping_sub(second.wrapping_mul(e));
    first
        .wrapping_add(second)
        .wrapping_add((rest >= half) as u32) as u16
}

/// `floor(H / E + 1/2)` bit by bit, for any even E from 2 to below 2^30: no product and no table. Out of line, so that the
/// callers stay small enough to be inlined and a constant conversion takes no memory.
///
/// # Range
/// `h` below 2^46 and the value below 2^16: then the remainder, which starts as the upper part of H + E/2, is below E. (Denominators
/// are below 2^28, so E is below 2^29.)
#[inline(never)]
#[expect(
    clippy::cast_possible_truncation,
    reason = "the upper part of a number below 2^47"
)]
pub(crate) const fn long_division(h: u64, e: u32) -> u16 {
    let raised = h.wrapping_add((e >> 1) as u64);
    let rest = (raised >> 16) as u32;
    let [lower, upper, ..] = raised.to_le_bytes();
    let (rest, upper) = eight_bits(rest, upper, e);
    let (_, lower) = eight_bits(rest, lower, e);
    u16::from_le_bytes([lower, upper])
}

/// Eight steps of it: the quotient's bits come into the byte from the right while the numerator's leave on the left.
///
/// Twice the remainder and one is below 2^31, so what is left of it when E is taken off has its own sign.
#[cfg_attr(target_arch = "avr", inline)]
#[cfg_attr(not(target_arch = "avr"), inline(never))]
#[expect(
    clippy::cast_possible_wrap,
    clippy::arithmetic_side_effects,
    reason = "the remainder is below E, below 2^30, so its double fits; shifts by 1 and 7"
)]
const fn eight_bits(mut rest: u32, mut byte: u8, e: u32) -> (u32, u8) {
    let mut bits = 8_u8;
    while bits > 0 {
        rest = (rest << 1) | (byte >> 7) as u32;
        byte <<= 1;
        let less = rest.wrapping_sub(e);
        if less as i32 >= 0 {
            rest = less;
            byte |= 1;
        }
        bits -= 1;
    }
    (rest, byte)
}
