//! A calibrated curve in two numbers, exact: what constants are chosen for.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{One, Signed, ToPrimitive};
use tallyvolt::QuotientConstants;
use tallyvolt_model::Model;
use tallyvolt_model::front_end::Topology;
use tallyvolt_model::rational::whole;

use crate::choose::halving::first_where;

/// The voltage in output units over the count.
#[derive(Debug, Clone)]
pub(super) enum Curve {
    /// Divided input: `slope * count + at_zero`, with a slope above 0.
    Line {
        slope: BigRational,
        at_zero: BigRational,
    },
    /// Supply reference: `numerator / (count + start)`, with a numerator above 0.
    Quotient {
        numerator: BigRational,
        start: BigRational,
    },
}

impl Curve {
    /// From two counts of the model; `None` where gain and offset leave the uppermost counts no voltage.
    pub(super) fn of(model: &Model) -> Option<Self> {
        let far = model.largest_count() - 1;
        let (there, before) = (model.units(far)?, model.units(far - 1)?);
        Some(match &model.front_end().topology {
            Topology::DividedInput(_) => {
                let slope = &there - before;
                let at_zero = there - &slope * whole(far);
                slope
                    .is_positive()
                    .then_some(Self::Line { slope, at_zero })?
            }
            // 1 / V is a straight line in the count.
            Topology::SupplyReference => {
                let numerator = (there.recip() - before.recip()).recip();
                let start = &numerator / there - whole(far);
                numerator
                    .is_positive()
                    .then_some(Self::Quotient { numerator, start })?
            }
        })
    }

    /// The exact value at a count. A quotient's counts stand above its pole wherever the cell's range is.
    pub(super) fn at(&self, count: u32) -> BigRational {
        match self {
            Self::Line { slope, at_zero } => slope * whole(count) + at_zero,
            Self::Quotient { numerator, start } => numerator / (whole(count) + start),
        }
    }

    /// The count from which on the voltage is on the other side of `units`: at or above it for a line, below it for a quotient.
    fn crossing(&self, units: &BigRational) -> BigInt {
        match self {
            Self::Line { slope, at_zero } => ((units - at_zero) / slope).ceil().to_integer(),
            Self::Quotient { numerator, start } => {
                (numerator / units - start).floor().to_integer() + 1
            }
        }
    }
}

/// The counts of the cell's range: from the first at or above its lower end to the first at or above its upper end. A quotient falls: from
/// the first below the upper end to the first below the lower one.
pub(super) struct CellCounts {
    pub(super) first: u32,
    pub(super) last: u32,
    /// The largest that the converter gives.
    pub(super) largest: u32,
}

impl CellCounts {
    pub(super) fn of(model: &Model, curve: &Curve) -> Option<Self> {
        let (cell, unit) = (&model.front_end().cell, model.unit_uv());
        let largest = model.largest_count();
        let ends = [cell.min_uv, cell.max_uv].map(|uv| {
            let count = curve.crossing(&(whole(uv) / &unit));
            let count = count.max(BigInt::one()).min(BigInt::from(largest));
            count.to_u32().unwrap_or(largest)
        });
        let first = ends.into_iter().min()?;
        let last = ends.into_iter().max()?.min(largest - 1);
        (first < last).then_some(Self {
            first,
            last,
            largest,
        })
    }
}

/// Where a quotient's constants lie farthest from a curve between the ends: the two counts around the place where both fall equally
/// steeply. There is one at most, because the root of each slope is a straight line in the count.
pub(super) fn turn(
    numerator: &BigRational,
    start: &BigRational,
    constants: &QuotientConstants,
    range: &CellCounts,
) -> [u32; 2] {
    // N (c + q)^-2 against K 2^t D^-2, without fractions.
    let ours = numerator.numer() * start.denom() * start.denom();
    let theirs = (BigInt::from(constants.numerator) << constants.step_log2) * numerator.denom();
    let rises = |count: u32| {
        let position = BigInt::from(count) - BigInt::from(constants.first);
        let denominator = (position << constants.step_log2) + BigInt::from(constants.at_first);
        let reach = BigInt::from(count) * start.denom() + start.numer();
        &ours * &denominator * &denominator > &theirs * &reach * &reach
    };
    let at_first = rises(range.first);
    let turned = first_where(range.first + 1, range.last, |count| {
        rises(count) != at_first
    });
    [turned - 1, turned]
}

#[cfg(test)]
mod tests;
