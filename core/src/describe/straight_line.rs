//! The search for a line's constants, and the proof that they are exact at every count of a drawing.
//!
//! How and why is told at [`DividedInput`](super::divided_input::DividedInput).

use super::floor_sum::floor_sum;
use crate::rounding::{divide_ceil_i128, divide_floor_i128, divide_floor_u128};

/// An exact line: `floor((slope * k + intercept) / denominator)` for k = 0 .. `terms` - 1.
///
/// # Range
/// `terms` from 1 to 2^26; `slope` below 2^59, `denominator` from 1 to below 2^62, every value below 2^16.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct ExactLine {
    pub(crate) terms: u32,
    pub(crate) slope: u128,
    pub(crate) intercept: u128,
    pub(crate) denominator: u128,
}

/// M and B at some shift, below 2^(16 + shift).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Multiplier {
    pub(crate) factor: u128,
    pub(crate) addend: u128,
}

/// A factor next to the exact slope, and by how much of `1 / (denominator * 2^shift)` it lies above it.
#[derive(Clone, Copy)]
struct Slope {
    factor: u128,
    tilt: i128,
}

/// Which way a candidate has to go.
enum Verdict {
    Exact,
    Lower,
    Higher,
    Neither,
}

impl ExactLine {
    /// M and B of a shift that are equal to the line at every position; none if there are none with M next to the exact slope.
    ///
    /// # Range
    /// `shift` up to 64.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_wrap,
        reason = "slope below 2^59 shifted by 64; the rest is below the denominator, below 2^62; values are below 2^16"
    )]
    pub(crate) const fn multiplier(&self, shift: u32) -> Option<Multiplier> {
        if self.terms == 1 {
            let (value, _) = divide_floor_u128(self.intercept, self.denominator);
            return Some(Multiplier {
                factor: 0,
                addend: value << shift,
            });
        }
        let (factor, rest) = divide_floor_u128(self.slope << shift, self.denominator);
        let below = Slope {
            factor,
            tilt: -(rest as i128),
        };
        if rest == 0 {
            return self.addend(below, shift);
        }
        let above = Slope {
            factor: factor + 1,
            tilt: self.denominator as i128 - rest as i128,
        };
        match self.addend(above, shift) {
            Some(found) => Some(found),
            None => self.addend(below, shift),
        }
    }

    /// A B that makes M exact, by halving.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_wrap,
        clippy::cast_sign_loss,
        reason = "the value is below 2^16 and its rest below 2^62, each shifted by at most 64; terms is at most 2^26; no sum below 0 is \
                  made an addend"
    )]
    const fn addend(&self, slope: Slope, shift: u32) -> Option<Multiplier> {
        let (value, rest) = divide_floor_u128(self.intercept, self.denominator);
        let (fraction, rest) = divide_floor_u128(rest << shift, self.denominator);
        // The exact intercept is `floor` and `rest / denominator`.
        let floor = ((value << shift) + fraction) as i128;
        let terms = self.terms as i128;
        let (mut low, mut high) = if slope.tilt > 0 {
            (-terms, 1)
        } else {
            (0, terms + 1)
        };
        if floor + low < 0 {
            low = -floor;
        }
        while low <= high {
            let middle = divide_floor_i128(low + high, 2);
            let addend = (floor + middle) as u128;
            let start = middle * self.denominator as i128 - rest as i128;
            match self.judge(slope, addend, start, shift) {
                Verdict::Exact => {
                    return Some(Multiplier {
                        factor: slope.factor,
                        addend,
                    });
                }
                Verdict::Lower => high = middle - 1,
                Verdict::Higher => low = middle + 1,
                Verdict::Neither => return None,
            }
        }
        None
    }

    /// Compares the sums on both sides of where the candidate crosses the line: d(k) times Q 2^S is `tilt * k + start`.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_sign_loss,
        reason = "start is below 2^27 * 2^62; the crossing is clipped to 0 .. terms"
    )]
    const fn judge(&self, slope: Slope, addend: u128, start: i128, shift: u32) -> Verdict {
        let terms = self.terms as i128;
        // The first k of the second part: d(k) >= 0 from there on if d rises, d(k) < 0 from there on if it falls.
        let crossing = if slope.tilt > 0 {
            divide_ceil_i128(-start, slope.tilt)
        } else if slope.tilt < 0 {
            divide_floor_i128(start, -slope.tilt) + 1
        } else if start >= 0 {
            terms
        } else {
            0
        };
        let split = if crossing < 0 {
            0
        } else if crossing > terms {
            terms
        } else {
            crossing
        } as u128;
        let first = self.parts_agree(slope.factor, addend, shift, 0, split);
        let second = self.parts_agree(slope.factor, addend, shift, split, terms as u128);
        let (too_many, too_few) = if slope.tilt > 0 {
            (!second, !first)
        } else {
            (!first, !second)
        };
        match (too_many, too_few) {
            (false, false) => Verdict::Exact,
            (true, false) => Verdict::Lower,
            (false, true) => Verdict::Higher,
            (true, true) => Verdict::Neither,
        }
    }

    /// Whether the sums over positions from `from` to before `to` are equal.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "from is at most to, and both at most 2^26; slope and M times it are below 2^106"
    )]
    const fn parts_agree(
        &self,
        factor: u128,
        addend: u128,
        shift: u32,
        from: u128,
        to: u128,
    ) -> bool {
        let wanted = floor_sum(
            to - from,
            self.slope,
            self.slope * from + self.intercept,
            self.denominator,
        );
        wanted == floor_sum(to - from, factor, factor * from + addend, 1 << shift)
    }
}
