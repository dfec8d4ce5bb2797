//! A quotient by a table of reciprocals, for cores that multiply bytes and divide nothing: the table, and what a module keeps for it.
//!
//! K and D = 2 h are those of a [`Quotient`], or twice as large. T lies near 2^29 / D, and q = floor(seed T / 2^16) near K / D. One look at
//! the remainder shows whether the value is q or one more:
//!
//! ```text
//! seed = floor(K / 2^13 + 1/2)
//! T = T_i - floor(s_i (D mod 256) / 2^7)         with i = floor(D / 256)
//! value = floor(K / D + 1/2) = q, or q + 1 where K - h - 2 h q is not below 0
//! ```
//!
//! With K = 2^13 seed + rho, seed T / 2^16 is K / D + e, and e = (seed (T D - 2^29) - 2^16 rho) / (2^16 D). Where e lies within -1/2 and
//! 1/2, q is the value or one less. `proof_tests::reciprocal` shows that for every D of the table and every seed that meets it. e is linear in
//! the seed and in rho, so their ends are enough.

use super::{Narrow, Quotient, narrow};

/// i of the first entry: a slope s_i has 8 bits from here on.
pub(crate) const FIRST: u16 = 65;
/// h of the first entry.
pub(crate) const LEAST_HALF: u16 = FIRST * 128;
/// The largest h.
pub(crate) const LAST_HALF: u16 = 0x7FFF;
/// Where K ends, over 2^16: 5 * 2^25 is that of a reference of 2.56 V in steps of 1 mV.
pub(crate) const END: u16 = 5 << 9;
/// A smaller K, over 2^16, is doubled, and D with it: the first entry's voltage would be below 4250 steps.
pub(crate) const DOUBLED: u16 = 1080;

/// Bytes of an entry: s_i, then T_i, its upper byte first.
pub(crate) const ENTRY: usize = 3;
/// Entries.
pub(crate) const ENTRIES: usize = 256 - FIRST as usize;

/// The table.
#[expect(
    clippy::cast_possible_truncation,
    clippy::indexing_slicing,
    reason = "constants: indices run over the table; s_i is at most 245, T_i at most 32 263"
)]
pub(crate) const TABLE: [u8; ENTRY * ENTRIES] = {
    let mut table = [0; ENTRY * ENTRIES];
    let mut entry = 0;
    while entry < ENTRIES {
        let (slope, reciprocal) = nearest(FIRST as u64 + entry as u64);
        let [high, low] = (reciprocal as u16).to_be_bytes();
        table[ENTRY * entry] = slope as u8;
        table[ENTRY * entry + 1] = high;
        table[ENTRY * entry + 2] = low;
        entry += 1;
    }
    table
};

/// s and T of an entry, whose T is farthest from 2^29 / D by the least: s is one of the two numbers about the chord's slope.
#[expect(
    clippy::arithmetic_side_effects,
    reason = "constants: entry is 65 to 255"
)]
const fn nearest(entry: u64) -> (u64, u64) {
    let below = (1 << 20) / (entry * (entry + 1));
    let ((one, off_by), (other, other_off_by)) = (centred(entry, below), centred(entry, below + 1));
    if off_by <= other_off_by {
        (below, one)
    } else {
        (below + 1, other)
    }
}

/// T of an entry with a slope, and how far it is from 2^29 / D at most, in 2^-16.
#[expect(
    clippy::arithmetic_side_effects,
    reason = "constants: D is 2^14 to 2^16; 2^45 over it is below 2^31, and what a slope of at most 246 takes off below 2^25"
)]
const fn centred(entry: u64, slope: u64) -> (u64, u64) {
    let (mut least, mut most, mut rest) = (u64::MAX, 0, 0);
    while rest < 256 {
        let wanted = (1 << 45) / (256 * entry + rest) + (((slope * rest) >> 7) << 16);
        if wanted < least {
            least = wanted;
        }
        if wanted > most {
            most = wanted;
        }
        rest += 2;
    }
    let reciprocal = (least + most + (1 << 16)) >> 17;
    let (above, below) = (most - least, (reciprocal << 17).abs_diff(least + most));
    (reciprocal, (above + below) >> 1)
}

/// The counts of a quotient that the table serves, and its numbers there.
///
/// # Range
/// h from [`LEAST_HALF`] to [`LAST_HALF`], and not below 15/16 seed + 1: values up to 4369. `counts` is 0 where no count is such, and then
/// nothing else is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub(crate) struct Reciprocal {
    pub(crate) first: u16,
    pub(crate) counts: u16,
    /// D at the first of them.
    pub(crate) at_first: u16,
    /// By what h grows from one count to the next: 2 to 128, so all h are even or all are odd.
    pub(crate) half_step: u8,
    pub(crate) seed: u16,
    /// The lower 16 bits of floor((K - b) / 2), b being 0 where h is even, else 1. Less floor(h / 2) and h q it has the remainder's sign: what
    /// is left is floor((K - h) / 2) - h q, within -h and h - 1.
    pub(crate) half_numerator: u16,
}

impl Reciprocal {
    /// The counts of a quotient.
    // Once in a program, where a record is loaded: in numbers of 16 bits, which wrap where the table serves nothing.
    #[inline(always)]
    #[expect(
        clippy::inline_always,
        reason = "what is loaded goes to its place without a copy"
    )]
    pub(crate) const fn of(quotient: &Quotient) -> Self {
        let mut numerator = quotient.numerator;
        let mut half = low(quotient.half_at_first);
        let mut half_step = low(narrow(quotient.half_step.times(1)));
        // h is below 2^15, and the step at most 2^6.
        if halves(numerator)[1] < DOUBLED {
            numerator <<= 1;
            half <<= 1;
            half_step <<= 1;
        }
        let [lower, upper] = halves(numerator);
        let seed = (upper << 3 | lower >> 13).wrapping_add(lower >> 12 & 1);
        let mut least = seed.wrapping_sub(seed >> 4).wrapping_add(1);
        if least < LEAST_HALF {
            least = LEAST_HALF;
        }
        // Positions before the first one, and those up to the last one.
        let mut before = least.saturating_sub(half);
        let mut end = LAST_HALF.wrapping_sub(half);
        let mut halved = half_step;
        while halved > 1 {
            before = before.wrapping_add(1) >> 1;
            end >>= 1;
            halved >>= 1;
        }
        end = end.wrapping_add(1);
        if end > low(quotient.counts) {
            end = low(quotient.counts);
        }
        let serves = upper < END && half_step > 1 && half <= LAST_HALF && before < end;
        // Where K is 0 the borrow is of no account: bit 31 is not looked at.
        let half_numerator = numerator.wrapping_sub((half & 1) as u32) >> 1;
        Self {
            first: low(quotient.first).wrapping_add(before),
            counts: if serves { end.wrapping_sub(before) } else { 0 },
            at_first: half.wrapping_add(before.wrapping_mul(half_step)) << 1,
            half_step: half_step.to_le_bytes()[0],
            seed,
            half_numerator: halves(half_numerator)[0],
        }
    }
}

/// The lower and the upper 16 bits of a word.
#[expect(clippy::cast_possible_truncation, reason = "halves")]
const fn halves(word: u32) -> [u16; 2] {
    [word as u16, (word >> 16) as u16]
}

/// The same number.
#[cfg_attr(
    target_pointer_width = "16",
    expect(clippy::unnecessary_cast, reason = "elsewhere they are 32 bits")
)]
#[cfg_attr(
    not(target_pointer_width = "16"),
    expect(clippy::cast_possible_truncation, reason = "numbers below 2^16")
)]
const fn low(number: Narrow) -> u16 {
    number as u16
}
