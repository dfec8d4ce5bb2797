//! What is not known after the fit: of gain and offset, of a calibrated reading, and what one more point would buy.
//!
//! A later reading at voltage V, in counts, is off by
//!
//! ```text
//! own noise and rounding  -  what noise, rounding and display left in the line at w(V)  -  what the meter left in it
//!                         +  the offset not fitted
//! ```
//!
//! each carried through the shares c_l of [`super::line`]: what is new at every voltage goes by squares; the meter's error is
//! one for all readings and goes by its sum (GUM H.3.6), so more points do not average it away. The sum, turned into millivolts
//! at V, and the rounding of the output make the error of a reading; [`super::error`] has its 95 %.

use serde::Serialize;

use super::error::{Error, Standard};
use super::levels::{Level, SAME_VOLTAGE, display};
use super::line::{Design, Point};
use super::meter::Meter;
use super::noise::Noise;
use super::rounding::HARMONICS;
use super::transfer::Transfer;

/// Voltages at which the cell's range is looked at.
const GRID: u32 = 9;
/// Voltages that are tried for one more point.
const CANDIDATES: u32 = 17;

/// Rows at one voltage, as the fit weighs them.
#[derive(Debug, Clone, Copy)]
pub struct Weighed {
    /// Position, place and weight.
    pub point: Point,
    /// Rows.
    pub repeats: f64,
    /// What is new at this voltage, in counts.
    pub error: Error,
    alike: [f64; HARMONICS],
    display_shared: f64,
}

/// Everything an uncertainty is made of.
#[derive(Debug, Clone, Copy)]
pub struct Basis<'a> {
    /// The front end.
    pub transfer: &'a Transfer,
    /// The bench meter.
    pub meter: &'a Meter,
    /// The batch's noise.
    pub noise: &'a Noise,
    /// Standard uncertainty of an offset that is not fitted, in counts; 0 where it is.
    pub unknown_offset: f64,
    /// The fitted slope.
    pub slope: f64,
}

/// Gain and offset in their stored meaning.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Parameters {
    /// Of the gain.
    pub gain: Standard,
    /// Of the offset, single-sample counts.
    pub offset: Standard,
    /// Correlation of the two, -1 to 1.
    pub correlation: f64,
}

/// One more row, where it helps most.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct NextPoint {
    /// The voltage to set.
    pub at_mv: f64,
    /// Largest expanded uncertainty in the cell's range then.
    pub then_mv: f64,
}

/// How much of all levels' places is in a quantity.
fn shares(levels: &[Weighed], share: impl Fn(&Point) -> f64) -> f64 {
    levels.iter().map(|level| share(&level.point)).sum()
}

impl Basis<'_> {
    /// A level with its error, and one over its variance as its weight.
    pub(crate) fn weigh(&self, level: &Level) -> Weighed {
        self.weigh_rows(
            (level.position, level.place),
            level.repeats(),
            level.alike,
            level.display_shared,
        )
    }

    fn weigh_rows(
        &self,
        (position, place): (f64, f64),
        repeats: f64,
        alike: [f64; HARMONICS],
        display_shared: f64,
    ) -> Weighed {
        let shown = self.meter.display_counts(self.transfer, position);
        let error = self
            .noise
            .mean(repeats, &alike)
            .and(display(shown, repeats, display_shared));
        Weighed {
            point: Point {
                x: position,
                y: place,
                weight: error.variance.recip(),
            },
            repeats,
            error,
            alike,
            display_shared,
        }
    }

    /// The meter's shared error in counts, with its sign.
    fn systematic(&self, position: f64) -> f64 {
        let mv = self.transfer.voltage_mv(position);
        self.meter.systematic_mv(mv) * self.transfer.counts_per_mv(mv)
    }

    /// Error of a quantity to which every level adds `share` of its place.
    fn independent(levels: &[Weighed], share: impl Fn(&Point) -> f64) -> Error {
        levels
            .iter()
            .map(|level| level.error.times(share(&level.point)))
            .fold(Error::default(), Error::and)
    }

    fn shared(&self, levels: &[Weighed], share: impl Fn(&Point) -> f64) -> f64 {
        levels
            .iter()
            .map(|level| share(&level.point) * self.systematic(level.point.x))
            .sum()
    }

    /// Uncertainty of a later reading at a voltage, in millivolts.
    pub fn reading(&self, levels: &[Weighed], design: &Design, mv: f64) -> Standard {
        self.reading_error(levels, design, mv)
            .standard(self.noise.degrees)
    }

    /// Error of a later reading at a voltage, in millivolts.
    pub(crate) fn reading_error(&self, levels: &[Weighed], design: &Design, mv: f64) -> Error {
        let position = self.transfer.position(mv);
        let share = |point: &Point| design.share(point, position);
        let meter = self.shared(levels, share) * self.slope;
        let offset = self.unknown_offset * (1.0 - shares(levels, share));
        self.noise
            .one()
            .and(Self::independent(levels, share))
            .and(Error::rectangular(meter.powi(2)))
            .and(Error::rectangular(offset.powi(2)))
            .times((self.slope * self.transfer.counts_per_mv(mv)).recip())
            .and(Error::rectangular(self.transfer.unit_mv.powi(2) / 12.0))
    }

    /// The largest standard uncertainty of a reading in the cell's range, and the voltage where it is.
    pub fn worst(&self, levels: &[Weighed], design: &Design) -> (f64, Standard) {
        let (mv, error) = self.worst_error(levels, design);
        (mv, error.standard(self.noise.degrees))
    }

    fn worst_error(&self, levels: &[Weighed], design: &Design) -> (f64, Error) {
        self.transfer
            .grid(GRID)
            .map(|mv| (mv, self.reading_error(levels, design, mv)))
            .max_by(|one, other| one.1.variance.total_cmp(&other.1.variance))
            .unwrap_or((f64::NAN, Error::normal(f64::NAN)))
    }

    /// Uncertainties of gain and offset.
    pub fn parameters(&self, levels: &[Weighed], design: &Design) -> Parameters {
        let of_slope = |point: &Point| design.share_of_slope(point);
        let of_offset = |point: &Point| design.share(point, 0.0);
        let slope_meter = self.shared(levels, of_slope) * self.slope;
        let offset_meter = self.shared(levels, of_offset) * self.slope;
        // An offset that is not fitted: it pulls the slope, and is itself wrong by as much as it is.
        let pulled = self.unknown_offset * shares(levels, of_slope);
        let fitted_covariance: f64 = levels
            .iter()
            .map(|level| of_slope(&level.point) * of_offset(&level.point) * level.error.variance)
            .sum();
        let of = |share: &dyn Fn(&Point) -> f64, meter: f64, offset: f64| {
            Self::independent(levels, share)
                .and(Error::rectangular(meter.powi(2)))
                .and(Error::rectangular(offset.powi(2)))
        };
        let slope = of(&of_slope, slope_meter, pulled);
        let offset = of(&of_offset, offset_meter, self.unknown_offset);
        let covariance =
            fitted_covariance + slope_meter * offset_meter - pulled * self.unknown_offset;
        let gain_per_slope = self.transfer.gain_per_slope(self.slope);
        let both = (slope.variance * offset.variance).sqrt();
        Parameters {
            gain: slope.times(gain_per_slope).standard(self.noise.degrees),
            offset: offset
                .times(self.transfer.per_sample.recip())
                .standard(self.noise.degrees),
            correlation: if both > 0.0 {
                covariance / both * gain_per_slope.signum()
            } else {
                0.0
            },
        }
    }

    /// Standard uncertainty of a level's residual, in counts: its own, less what the fit took up, and what the fit could
    /// not take up of the meter's error and of an offset.
    pub fn residual(&self, levels: &[Weighed], design: &Design, level: &Weighed) -> f64 {
        let share = |point: &Point| design.share(point, level.point.x);
        let line = Self::independent(levels, share).variance;
        let meter = (self.systematic(level.point.x) - self.shared(levels, share)) * self.slope;
        let offset = self.unknown_offset * (1.0 - shares(levels, share));
        let own = (level.error.variance - line).max(0.0);
        (own + meter.powi(2) + offset.powi(2)).sqrt()
    }

    /// Where one more row would make the largest uncertainty smallest; none where no row makes it smaller.
    ///
    /// `design_of` fits as the module's mode would with the row added. Where that fits an offset, the shares of all points in a reading
    /// add up to 1, and nothing is left of one that was not known.
    pub fn next_point(
        &self,
        levels: &[Weighed],
        now: Standard,
        design_of: impl Fn(&[Weighed]) -> Option<Design>,
    ) -> Option<NextPoint> {
        let (low, high) = self.transfer.span();
        let same = (high - low) * SAME_VOLTAGE;
        let with = |at_mv: f64| {
            let position = self.transfer.position(at_mv);
            let mut more = levels.to_vec();
            // One row more at a voltage that was read is a repeat: what the repeats share, it shares.
            match more
                .iter_mut()
                .find(|level| (level.point.x - position).abs() <= same)
            {
                Some(level) => {
                    let place = (level.point.x, 0.0);
                    let repeats = level.repeats + 1.0;
                    *level = self.weigh_rows(place, repeats, level.alike, level.display_shared);
                }
                None => more.push(self.weigh_rows((position, 0.0), 1.0, [1.0; HARMONICS], 1.0)),
            }
            let design = design_of(&more)?;
            let (_, worst) = self.worst_error(&more, &design);
            Some((at_mv, worst))
        };
        self.transfer
            .grid(CANDIDATES)
            .filter_map(with)
            .min_by(|one, other| one.1.variance.total_cmp(&other.1.variance))
            .map(|(at_mv, worst)| NextPoint {
                at_mv,
                then_mv: worst.standard(self.noise.degrees).expanded,
            })
            .filter(|next| next.then_mv < now.expanded)
    }
}

#[cfg(test)]
mod by_differences;
