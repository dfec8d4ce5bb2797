//! The constants of a module: the cheapest form that lies close enough to its calibrated curve.
//!
//! A curve is an exact gain and offset over the drawing. Constants are whole numbers, so they lie a little beside it; how far is found
//! exactly, over the counts of the cell's range.
//!
//! | topology | forms, the cheapest first | distance |
//! |---|---|---|
//! | divided input | M of 16 bits, S = bits + 3; M of 48 bits, S = 32 | linear in the count: largest at one of the ends |
//! | supply reference | D even below 2^16; below 2^17; below 2^28 | at an end or where the curves run parallel |
//!
//! A form serves when no count of the cell's range lies more than [`DISTANCE_LIMIT`] of an output step beside the curve. The last form is taken
//! as it is. A quotient of a cheaper form may leave one count in 256 at the rail without a voltage: there the cell stands at its reference, far
//! below any cell in use. A line of 16 bits may leave out one count in 16,000 at 0 V: full scale is M / 8 units, so M is 8,000 for a volt in
//! millivolts, and rounding moves it by half a unit.

use num_bigint::BigInt;
use num_integer::Integer;
use num_rational::BigRational;
use num_traits::{One, Signed, ToPrimitive, Zero};
use tallyvolt::{ConfigError, LineConstants, QuotientConstants};
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::rational::{fraction, nearest_ties_up, whole};

use super::curve::{CellCounts, Curve, turn};
use crate::describe::firmware::{Constants, Conversion, Firmware};

/// Twentieths of an output step that constants may lie beside the curve: one.
pub const DISTANCE_LIMIT: (u32, u32) = (1, 20);

/// Denominators of a quotient stay below these powers of two, and grow by a power of two up to this a count: the crate's short form, what a
/// sum of 32 bits divides still, and the crate's long form.
const DENOMINATORS: [(u32, u32); 3] = [(16, 7), (17, 7), (28, 27)];

/// Constants that were chosen, and how good they are.
#[derive(Debug, Clone)]
pub struct Chosen {
    /// What the module converts with.
    pub constants: Constants,
    /// The conversion, checked by the crate.
    pub conversion: Conversion,
    /// Largest distance from the curve over the counts of the cell's range, in output units; exact.
    pub distance: BigRational,
}

/// Chooses the constants of a module.
///
/// # Errors
/// [`ConfigError::Constants`] when gain and offset leave no count of the cell's range a voltage.
pub fn choose(
    front_end: &FrontEnd,
    firmware: &Firmware,
    curve: &CalibrationModel,
) -> Result<Chosen, ConfigError> {
    let model = Model::new(front_end, curve.clone());
    let curve = Curve::of(&model).ok_or(ConfigError::Constants)?;
    let range = CellCounts::of(&model, &curve).ok_or(ConfigError::Constants)?;
    let candidates = match &curve {
        Curve::Line { slope, at_zero } => lines(slope, at_zero, firmware.count_bits(), &range),
        Curve::Quotient { numerator, start } => quotients(numerator, start, &range),
    };
    let limit = fraction(DISTANCE_LIMIT.0.into(), DISTANCE_LIMIT.1.into());
    for constants in &candidates {
        let is_last = Some(constants) == candidates.last();
        let Ok(conversion) = firmware.module(*constants) else {
            continue;
        };
        let distance = distance(&curve, constants, &range);
        if is_last || distance <= limit {
            return Ok(Chosen {
                constants: *constants,
                conversion,
                distance,
            });
        }
    }
    Err(ConfigError::Constants)
}

/// Counts at an end that a coarser form may leave out: one in 256.
pub fn cut(largest: u32) -> u32 {
    (largest / 256).max(1)
}

/// A power of two.
pub(crate) fn two_to(power: u32) -> BigRational {
    BigRational::from_integer(BigInt::one() << power)
}

/// Candidates of a divided input: M to the nearest, B so that the distance vanishes in the middle of the cell's range.
fn lines(
    slope: &BigRational,
    at_zero: &BigRational,
    bits: u32,
    range: &CellCounts,
) -> Vec<Constants> {
    let middle = (whole(range.first) + whole(range.last)) / whole(2);
    let shifts = if bits <= 16 {
        vec![bits + 3, 32]
    } else {
        vec![32]
    };
    shifts
        .into_iter()
        .filter_map(|shift| {
            let scale = two_to(shift);
            let factor = nearest_ties_up(&(slope * &scale));
            let exact_factor = BigRational::from_integer(factor.clone());
            // Exact value at the middle, less what M makes of the way there, and the half that rounds.
            let start = at_zero * &scale + (slope * &scale - exact_factor) * &middle;
            let at_zero = nearest_ties_up(&(start + &scale / whole(2)));
            if shift != 32 && factor.bits() > 16 {
                return None;
            }
            line(&factor, &at_zero, shift, range.largest)
        })
        .collect()
}

/// A line's constants over all counts that are voltages.
fn line(factor: &BigInt, at_zero: &BigInt, shift: u32, largest: u32) -> Option<Constants> {
    if !factor.is_positive() {
        return None;
    }
    let end: BigInt = BigInt::from(65_536) << shift;
    let first = (-at_zero).div_ceil(factor).max(BigInt::one());
    let last = (end - BigInt::one() - at_zero).div_floor(factor);
    let (first, last) = (
        first.to_u32()?,
        last.min(BigInt::from(largest - 1)).to_u32()?,
    );
    let addend = (at_zero + factor * first).to_u128()?;
    Some(Constants::Line(LineConstants {
        first,
        counts: last.checked_sub(first)? + 1,
        factor: factor.to_u128()?,
        addend,
        shift: u8::try_from(shift).ok()?,
    }))
}

/// Candidates of a supply reference: D to the nearest even number, K so that the distances at both ends of the cell's range are alike.
fn quotients(numerator: &BigRational, start: &BigRational, range: &CellCounts) -> Vec<Constants> {
    DENOMINATORS
        .iter()
        .filter_map(|(bits, steepest)| {
            // The last count whose D must stay below, and two for what rounding adds.
            let reach = start + whole(range.largest - cut(range.largest)) + whole(2);
            let step_log2 = (1..=*steepest)
                .rev()
                .find(|step| two_to(*step) * &reach <= two_to(*bits))?;
            let scale = two_to(step_log2);
            let at_zero = nearest_ties_up(&(start * &scale / whole(2))) * 2;
            let denominator = |count: u32| {
                BigRational::from_integer((BigInt::from(count) << step_log2) + &at_zero)
            };
            let exact = |count: u32| whole(count) + start;
            let ends = [range.first, range.last];
            let wanted: BigRational = ends.iter().map(|count| numerator / exact(*count)).sum();
            let given: BigRational = ends.iter().map(|count| denominator(*count).recip()).sum();
            let numerator = nearest_ties_up(&(wanted / given));
            quotient(&numerator, &at_zero, step_log2, *bits, range.largest)
        })
        .collect()
}

/// A quotient's constants over all counts that are voltages.
fn quotient(
    numerator: &BigInt,
    at_zero: &BigInt,
    step_log2: u32,
    bits: u32,
    largest: u32,
) -> Option<Constants> {
    // K + D / 2 below 2^16 D: D above 2 K / (2^17 - 1); and even, at least 2.
    let least: BigInt = (numerator * 2_u8).div_floor(&BigInt::from(131_071)) + 1;
    let step: BigInt = BigInt::one() << step_log2;
    let above = least.max(BigInt::from(2)) - at_zero;
    let first = above.div_ceil(&step).max(BigInt::one());
    let at_first = (&first * &step + at_zero).to_u32()?;
    let first = first.to_u32()?;
    // D of the last count is below 2^bits.
    let end: BigInt = BigInt::one() << bits;
    let last = (end - BigInt::one() - at_zero).div_floor(&step);
    let last = last.min(BigInt::from(largest - 1)).to_u32()?;
    Some(Constants::Quotient(QuotientConstants {
        first,
        counts: last.checked_sub(first)? + 1,
        numerator: numerator.to_u64()?,
        at_first,
        step_log2: u8::try_from(step_log2).ok()?,
    }))
}

/// The exact value of constants at a count, in output units, before it is rounded.
pub fn exact_units(constants: &Constants, count: u32) -> BigRational {
    match constants {
        Constants::Line(line) => {
            let position = BigInt::from(count) - BigInt::from(line.first);
            let sum = BigInt::from(line.factor) * position + BigInt::from(line.addend);
            BigRational::new(sum, BigInt::one() << line.shift) - fraction(1, 2)
        }
        Constants::Quotient(quotient) => {
            let position = BigInt::from(count) - BigInt::from(quotient.first);
            let denominator = (position << quotient.step_log2) + BigInt::from(quotient.at_first);
            BigRational::new(quotient.numerator.into(), denominator)
        }
    }
}

/// Largest distance between constants and curve over the counts of the cell's range, in output units.
fn distance(curve: &Curve, constants: &Constants, range: &CellCounts) -> BigRational {
    let mut counts = vec![range.first, range.last];
    if let (Curve::Quotient { numerator, start }, Constants::Quotient(quotient)) =
        (curve, constants)
    {
        counts.extend(turn(numerator, start, quotient, range));
    }
    counts
        .into_iter()
        .map(|count| (exact_units(constants, count) - curve.at(count)).abs())
        .max()
        .unwrap_or_else(BigRational::zero)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// M is 64 steps a count at S = 11: count 1024 would be 65 536, one more than a voltage can be, and count 1023 lies below it.
    #[test]
    fn a_window_ends_before_the_first_value_too_large() {
        for (at_zero, last) in [(0, 1023), (1, 1023), (-1, 1024)] {
            let made = line(&BigInt::from(64 << 11), &BigInt::from(at_zero), 11, 2048);
            let Some(Constants::Line(made)) = made else {
                panic!("constants: {made:?}");
            };
            assert_eq!(
                (made.first, made.first + made.counts - 1),
                (1, last),
                "{at_zero}"
            );
        }
        // The converter's own end, where the values would go on.
        let made = line(&BigInt::from(64 << 11), &BigInt::from(0), 11, 512);
        assert!(matches!(made, Some(Constants::Line(line)) if line.first + line.counts == 512));
    }
}
