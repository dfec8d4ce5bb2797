//! What is not known after the fit: of gain and offset, of a calibrated reading, and what one more point would mend.
//!
//! A later reading at voltage V, in counts, is off by
//!
//! ```text
//! own noise and rounding  -  what noise left in the line at w(V)  -  what the meter left in it  +  the offset not fitted
//! ```
//!
//! each carried through the shares c_l of [`super::line`]: noise is independent from row to row and goes by squares; the
//! meter's error is one for all readings and goes by its sum (GUM H.3.6), so more points do not average it away. The sum of
//! squares, turned into millivolts at V, and the rounding of the output make the standard uncertainty; effective degrees of
//! freedom are by Welch and Satterthwaite (GUM G.4.1), and the factor is Student's for 95 %.

use serde::Serialize;
use statrs::distribution::{ContinuousCDF, StudentsT};

use super::levels::SAME_VOLTAGE;
use super::line::{Design, Point};
use super::meter::Meter;
use super::noise::Noise;
use super::transfer::Transfer;

/// Two-sided 95 %.
const UPPER_QUANTILE: f64 = 0.975;
/// The same of the normal distribution: 1.959964.
const NORMAL_FACTOR: f64 = 1.959_963_984_540_054;
/// Beyond these degrees of freedom Student's factor is the normal one to 4 digits.
const DEGREES_NORMAL: f64 = 1e5;
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

/// A value's standard uncertainty and its effective degrees of freedom; none is infinite.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Standard {
    /// Standard uncertainty.
    pub u: f64,
    /// Effective degrees of freedom.
    pub degrees: Option<f64>,
}

impl Standard {
    /// The 95 % half-width.
    #[must_use]
    pub fn expanded(&self) -> f64 {
        self.u * factor(self.degrees)
    }
}

/// Student's two-sided 95 % factor.
#[must_use]
pub fn factor(degrees: Option<f64>) -> f64 {
    match degrees {
        Some(degrees) if degrees < DEGREES_NORMAL => {
            // Truncated downward, as GUM G.4.1 advises; below 1 there is no table.
            StudentsT::new(0.0, 1.0, degrees.floor().max(1.0))
                .map_or(f64::INFINITY, |student| student.inverse_cdf(UPPER_QUANTILE))
        }
        _ => NORMAL_FACTOR,
    }
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

impl Basis<'_> {
    /// The weight of a level: one over the variance of its mean place.
    #[must_use]
    pub fn weigh(&self, position: f64, place: f64, repeats: f64) -> Weighed {
        let row = self.noise.per_count.powi(2) + self.display(position).powi(2);
        let variance = row / repeats + self.noise.per_level.powi(2);
        Weighed {
            point: Point {
                x: position,
                y: place,
                weight: variance.recip(),
            },
            repeats,
        }
    }

    /// The display's rounding in counts.
    fn display(&self, position: f64) -> f64 {
        self.meter.display_mv() * self.counts_per_mv(position)
    }

    /// The meter's shared error in counts, with its sign.
    fn systematic(&self, position: f64) -> f64 {
        self.meter.systematic_mv(self.transfer.voltage_mv(position)) * self.counts_per_mv(position)
    }

    fn counts_per_mv(&self, position: f64) -> f64 {
        self.transfer
            .counts_per_mv(self.transfer.voltage_mv(position))
    }

    /// Variance of a quantity to which every level adds `share` of its place, and the part of it that was measured.
    fn independent(&self, levels: &[Weighed], share: impl Fn(&Point) -> f64) -> (f64, f64) {
        let (mut whole, mut measured) = (0.0, 0.0);
        for level in levels {
            let square = share(&level.point).powi(2);
            whole += square / level.point.weight;
            measured += square * self.noise.per_count.powi(2) / level.repeats;
        }
        (whole, measured)
    }

    fn shared(&self, levels: &[Weighed], share: impl Fn(&Point) -> f64) -> f64 {
        levels
            .iter()
            .map(|level| share(&level.point) * self.systematic(level.point.x))
            .sum()
    }

    fn standard(&self, variance: f64, measured: f64) -> Standard {
        // Welch-Satterthwaite with one measured part: nu * (u / u_measured)^4.
        let degrees = self
            .noise
            .degrees
            .filter(|_| measured > 0.0)
            .map(|degrees| degrees * (variance / measured).powi(2));
        Standard {
            u: variance.max(0.0).sqrt(),
            degrees,
        }
    }

    /// Uncertainty of a later reading at a voltage, in millivolts.
    #[must_use]
    pub fn reading(&self, levels: &[Weighed], design: &Design, mv: f64) -> Standard {
        let position = self.transfer.position(mv);
        let share = |point: &Point| design.share(point, position);
        let (line, line_measured) = self.independent(levels, share);
        let own = self.noise.per_count.powi(2);
        let meter = self.shared(levels, share) * self.slope;
        let shares: f64 = levels.iter().map(|level| share(&level.point)).sum();
        let offset = self.unknown_offset * (1.0 - shares);
        let counts = own + self.noise.per_level.powi(2) + line + meter.powi(2) + offset.powi(2);
        let per_count = (self.slope * self.transfer.counts_per_mv(mv))
            .recip()
            .powi(2);
        let rounding = self.transfer.unit_mv.powi(2) / 12.0;
        self.standard(
            counts * per_count + rounding,
            (own + line_measured) * per_count,
        )
    }

    /// The largest standard uncertainty of a reading in the cell's range, and the voltage where it is.
    #[must_use]
    pub fn worst(&self, levels: &[Weighed], design: &Design) -> (f64, Standard) {
        self.transfer
            .grid(GRID)
            .map(|mv| (mv, self.reading(levels, design, mv)))
            .max_by(|one, other| one.1.u.total_cmp(&other.1.u))
            .unwrap_or((
                f64::NAN,
                Standard {
                    u: f64::NAN,
                    degrees: None,
                },
            ))
    }

    /// Uncertainties of gain and offset.
    #[must_use]
    pub fn parameters(&self, levels: &[Weighed], design: &Design) -> Parameters {
        let of_slope = |point: &Point| design.share_of_slope(point);
        let of_offset = |point: &Point| design.share(point, 0.0);
        let (slope, slope_measured) = self.independent(levels, of_slope);
        let (offset, offset_measured) = self.independent(levels, of_offset);
        let slope_meter = self.shared(levels, of_slope) * self.slope;
        let offset_meter = self.shared(levels, of_offset) * self.slope;
        // An offset that is not fitted: it pulls the slope, and is itself wrong by as much as it is.
        let pulled = self.unknown_offset
            * levels
                .iter()
                .map(|level| of_slope(&level.point))
                .sum::<f64>();
        let fitted_covariance: f64 = levels
            .iter()
            .map(|level| of_slope(&level.point) * of_offset(&level.point) / level.point.weight)
            .sum();
        let slope_variance = slope + slope_meter.powi(2) + pulled.powi(2);
        let offset_variance = offset + offset_meter.powi(2) + self.unknown_offset.powi(2);
        let covariance =
            fitted_covariance + slope_meter * offset_meter - pulled * self.unknown_offset;
        let gain_per_slope = self.transfer.gain_per_slope(self.slope);
        let per_sample = self.transfer.per_sample;
        let both = (slope_variance * offset_variance).sqrt();
        Parameters {
            gain: self.standard(
                slope_variance * gain_per_slope.powi(2),
                slope_measured * gain_per_slope.powi(2),
            ),
            offset: self.standard(
                offset_variance / per_sample.powi(2),
                offset_measured / per_sample.powi(2),
            ),
            correlation: if both > 0.0 {
                covariance / both * gain_per_slope.signum()
            } else {
                0.0
            },
        }
    }

    /// Standard uncertainty of a level's residual, in counts: its own, less what the fit took up, and what the fit could
    /// not take up of the meter's error and of an offset.
    #[must_use]
    pub fn residual(&self, levels: &[Weighed], design: &Design, level: &Weighed) -> f64 {
        let share = |point: &Point| design.share(point, level.point.x);
        let (line, _) = self.independent(levels, share);
        let meter = (self.systematic(level.point.x) - self.shared(levels, share)) * self.slope;
        let shares: f64 = levels.iter().map(|other| share(&other.point)).sum();
        let offset = self.unknown_offset * (1.0 - shares);
        let own = (level.point.weight.recip() - line).max(0.0);
        (own + meter.powi(2) + offset.powi(2)).sqrt()
    }

    /// Where one more row would make the largest uncertainty smallest; none where no row makes it smaller.
    ///
    /// `design_of` fits as the module's mode would with the row added.
    #[must_use]
    pub fn next_point(
        &self,
        levels: &[Weighed],
        now: Standard,
        design_of: impl Fn(&[Weighed]) -> Option<(Design, f64)>,
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
                Some(level) => *level = self.weigh(level.point.x, 0.0, level.repeats + 1.0),
                None => more.push(self.weigh(position, 0.0, 1.0)),
            }
            let (design, unknown_offset) = design_of(&more)?;
            let (_, worst) = Basis {
                unknown_offset,
                ..*self
            }
            .worst(&more, &design);
            Some((at_mv, worst))
        };
        self.transfer
            .grid(CANDIDATES)
            .filter_map(with)
            .min_by(|one, other| one.1.u.total_cmp(&other.1.u))
            .filter(|(_, worst)| worst.u < now.u)
            .map(|(at_mv, worst)| NextPoint {
                at_mv,
                then_mv: worst.expanded(),
            })
    }
}
