//! The model as one fraction of two integer lines, for sweeps of millions of counts.
//!
//! ```text
//! units(count) = (a count + b) / (c count + d)
//! ```
//!
//! The four integers are found by solving the rational model at two counts, not by repeating its formulas, and the form is
//! compared with the model wherever it is built. With e = v (c count + d) - (a count + b), by how much a value v lies above
//! the exact one in parts of c count + d, v is the right rounding exactly when `-(c count + d) < 2 e <= c count + d`: the
//! sweep checks that, it never divides.

use num_bigint::BigInt;
use num_integer::Integer;
use num_rational::BigRational;
use num_traits::{One, ToPrimitive, Zero};

use super::rational::whole;
use super::{LARGEST_UNITS, Model};
use crate::front_end::Topology;
use crate::outcome::{FaultName, Outcome};

/// `(a count + b) / (c count + d)` in output units.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct IntegerForm {
    a: i128,
    b: i128,
    c: i128,
    d: i128,
    largest_count: u32,
    /// First and last count that are voltages, and the faults before and behind, where constants say so themselves.
    window: Option<(u32, u32, [FaultName; 2])>,
}

/// Every product of a sweep stays below 2^126, so that nothing can overflow.
const PRODUCT_BITS: u64 = 126;

impl IntegerForm {
    /// The form of a model, checked against it at 17 counts.
    ///
    /// # Panics
    /// Never for a front end within `tallyvolt::bounds`: 2^27 half-steps of 2^8, a factor below 2^62 and a gain below
    /// 2^25 keep every product below 2^126. Beyond, it refuses loudly rather than wrap.
    #[must_use]
    pub fn of(model: &Model) -> Self {
        let largest_count = model.largest_count();
        let (a, b, c, d) = match model.front_end().topology {
            // Equal steps: V(n) - V(n - 1) is the slope.
            Topology::DividedInput(_) => {
                let at = |count| {
                    model
                        .units(count)
                        .expect("a line has a value at every count")
                };
                let slope = at(1) - at(0);
                integers(&[slope, at(0), BigRational::zero(), BigRational::one()])
            }
            // 1 / V is a line: the same with the reciprocals.
            Topology::SupplyReference => {
                let at = |count: u32| model.units(count).map(|units| units.recip());
                let (far, near) = (largest_count, largest_count - 1);
                match (at(far), at(near)) {
                    (Some(high), Some(low)) => {
                        let slope = &high - low;
                        let intercept = high - &slope * whole(far);
                        integers(&[BigRational::zero(), BigRational::one(), slope, intercept])
                    }
                    // An offset beyond the whole range: no count has a value.
                    _ => (0, 1, 0, 0),
                }
            }
        };
        let form = Self {
            a,
            b,
            c,
            d,
            largest_count,
            window: None,
        };
        form.assert_width();
        form.assert_equals(model);
        form
    }

    /// The form of a module's line, `floor((factor (count - first) + addend) / 2^shift)`: without the half that rounds, which is in
    /// the addend.
    ///
    /// # Panics
    /// For numbers beyond an exact sweep, as [`IntegerForm::of`]; never for factors and addends below 2^(16 + shift) with a shift of
    /// 1 to 64.
    #[must_use]
    pub fn of_line(
        (first, counts): (u32, u32),
        factor: u128,
        addend: u128,
        shift: u8,
        largest_count: u32,
    ) -> Self {
        let narrow = |value: u128| i128::try_from(value).expect("constants below 2^80");
        let (a, d) = (narrow(factor), 1_i128 << shift);
        let form = Self {
            a,
            b: narrow(addend) - d / 2 - a * i128::from(first),
            c: 0,
            d,
            largest_count,
            window: Some((
                first,
                first + counts - 1,
                [FaultName::BelowRange, FaultName::AboveRange],
            )),
        };
        form.assert_width();
        form
    }

    /// The form of a module's quotient, `numerator / (2^step_log2 (count - first) + at_first)`.
    ///
    /// # Panics
    /// For numbers beyond an exact sweep; never for numerators below 2^46 and denominators below 2^29.
    #[must_use]
    pub fn of_quotient(
        (first, counts): (u32, u32),
        numerator: u64,
        at_first: u32,
        step_log2: u8,
        largest_count: u32,
    ) -> Self {
        let c = 1_i128 << step_log2;
        let form = Self {
            a: 0,
            b: i128::from(numerator),
            c,
            d: i128::from(at_first) - c * i128::from(first),
            largest_count,
            window: Some((
                first,
                first + counts - 1,
                [FaultName::AboveRange, FaultName::BelowRange],
            )),
        };
        form.assert_width();
        form
    }

    /// What firmware must answer for a count.
    #[must_use]
    pub fn outcome(&self, count: u32) -> Outcome {
        let (numerator, denominator) = self.fraction(count);
        if count == 0 {
            Outcome::Fault(FaultName::ZeroCount)
        } else if count >= self.largest_count {
            Outcome::Fault(FaultName::Rail)
        } else if let Some(fault) = self.outside(count) {
            Outcome::Fault(fault)
        } else if denominator <= 0 {
            Outcome::Fault(FaultName::AboveRange)
        } else if 2 * numerator < -denominator {
            Outcome::Fault(FaultName::BelowRange)
        } else {
            let units = (2 * numerator + denominator).div_euclid(2 * denominator);
            match u32::try_from(units) {
                Ok(units) if units <= LARGEST_UNITS => Outcome::Units(units),
                _ => Outcome::Fault(FaultName::AboveRange),
            }
        }
    }

    /// The same constants without the window that they state: what each count would be.
    #[must_use]
    pub fn without_window(self) -> Self {
        Self {
            window: None,
            ..self
        }
    }

    /// The fault of a count outside the window that constants state.
    #[inline]
    fn outside(&self, count: u32) -> Option<FaultName> {
        let (first, last, [before, behind]) = self.window?;
        if count < first {
            Some(before)
        } else if count > last {
            Some(behind)
        } else {
            None
        }
    }

    /// Whether an answer is the right one, without a division where it is a voltage.
    #[inline]
    #[must_use]
    pub fn is_right(&self, count: u32, answer: Outcome) -> bool {
        match answer {
            Outcome::Units(units)
                if count > 0
                    && count < self.largest_count
                    && units <= LARGEST_UNITS
                    && self.outside(count).is_none() =>
            {
                let (excess, denominator) = self.excess(count, units);
                denominator > 0 && 2 * excess <= denominator && 2 * excess > -denominator
            }
            Outcome::Units(_) => false,
            Outcome::Fault(_) => self.outcome(count) == answer,
        }
    }

    /// Distance between an answer and the exact value, in output units.
    #[inline]
    #[must_use]
    pub fn distance(&self, count: u32, units: u32) -> f64 {
        let (excess, denominator) = self.excess(count, units);
        // Both shifted alike, the denominator to 44 bits, far beyond what is printed. Any 16-bit value's excess then fits
        // 63 bits, which become a double in one instruction where 128 take a long routine; a larger one saturates.
        let spare = (128 - denominator.leading_zeros()).saturating_sub(44);
        let double = |value: i128| (value >> spare).min(i64::MAX.into()) as i64 as f64;
        double(excess.abs()) / double(denominator)
    }

    /// The same with its sign: answer less exact value.
    #[must_use]
    pub fn error(&self, count: u32, units: u32) -> f64 {
        let distance = self.distance(count, units);
        if self.excess(count, units).0 < 0 {
            -distance
        } else {
            distance
        }
    }

    /// By how much a value lies above the exact one, and in parts of what.
    #[inline]
    fn excess(&self, count: u32, units: u32) -> (i128, i128) {
        let (numerator, denominator) = self.fraction(count);
        (i128::from(units) * denominator - numerator, denominator)
    }

    /// Exact voltage as text in millivolts with 6 decimals, rounded to nearest, ties upward; none where there is none.
    #[must_use]
    pub fn millivolts_text(&self, count: u32, unit_uv: u32) -> Option<String> {
        let (numerator, denominator) = self.fraction(count);
        if denominator <= 0 {
            return None;
        }
        // 1e-6 mV is a nanovolt; a unit is unit_uv * 1000 of them.
        let per_unit = i128::from(unit_uv) * 1000;
        let narrow = numerator
            .checked_mul(2 * per_unit)
            .and_then(|doubled| doubled.checked_add(denominator));
        let nanovolts = match narrow {
            Some(raised) => raised.div_euclid(2 * denominator),
            None => {
                let raised = BigInt::from(numerator) * (2 * per_unit) + denominator;
                raised.div_floor(&BigInt::from(2 * denominator)).to_i128()?
            }
        };
        let sign = if nanovolts < 0 { "-" } else { "" };
        let magnitude = nanovolts.unsigned_abs();
        Some(format!(
            "{sign}{}.{:06}",
            magnitude / 1_000_000,
            magnitude % 1_000_000
        ))
    }

    #[inline]
    fn fraction(&self, count: u32) -> (i128, i128) {
        let count = i128::from(count);
        (self.a * count + self.b, self.c * count + self.d)
    }

    fn assert_width(&self) {
        let bits = |value: i128| u64::from(128 - value.unsigned_abs().leading_zeros());
        let count_bits = bits(i128::from(self.largest_count)) + 1;
        let numerator = (bits(self.a) + count_bits).max(bits(self.b)) + 1;
        let denominator = (bits(self.c) + count_bits).max(bits(self.d)) + 1;
        // A value is at most 16 bits, twice that and one 18.
        assert!(
            numerator + 2 <= PRODUCT_BITS && denominator + 18 <= PRODUCT_BITS,
            "front end beyond the bounds of an exact sweep: {self:?}"
        );
    }

    fn assert_equals(&self, model: &Model) {
        for probe in 0..=16_u64 {
            let count = u64::from(self.largest_count) * probe / 16;
            let count = u32::try_from(count).expect("no probe lies above the largest count");
            assert_eq!(self.outcome(count), model.outcome(count), "count {count}");
        }
    }
}

/// Four fractions over their common denominator, in lowest terms.
fn integers(values: &[BigRational; 4]) -> (i128, i128, i128, i128) {
    let common = values
        .iter()
        .fold(BigInt::one(), |lcm, value| lcm.lcm(value.denom()));
    let whole: Vec<BigInt> = values
        .iter()
        .map(|value| (value * BigRational::from_integer(common.clone())).to_integer())
        .collect();
    let divisor = whole
        .iter()
        .fold(BigInt::zero(), |gcd, value| gcd.gcd(value));
    let narrow = |value: &BigInt| {
        (value / &divisor)
            .to_i128()
            .expect("front end beyond the bounds of an exact sweep")
    };
    match &whole[..] {
        [a, b, c, d] => (narrow(a), narrow(b), narrow(c), narrow(d)),
        _ => unreachable!("four values went in"),
    }
}
