//! The weighted straight line, and the line through the origin, in sums that lose no digits.
//!
//! Both are one formula: with the weights' sum W, the weighted mean m of x and Sxx the weighted sum of (x - m)^2,
//!
//! ```text
//! y(x) = sum of c_l(x) * y_l     with     c_l(x) = weight_l * (1/W + (x_l - m)(x - m)/Sxx)
//! ```
//!
//! through the origin with m = 0 and 1/W = 0. Whatever is known of the points' errors is propagated through the c_l:
//! independent ones by their squares, a shared one by its plain sum.

/// A point with its weight, one over the variance of y.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Abscissa, taken as exact.
    pub x: f64,
    /// Ordinate.
    pub y: f64,
    /// Weight, above 0.
    pub weight: f64,
}

fn sum(points: &[Point], of: impl Fn(&Point) -> f64) -> f64 {
    points.iter().map(of).sum()
}

/// What follows from abscissas and weights alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Design {
    inverse_weight: f64,
    mean_x: f64,
    sxx: f64,
}

impl Design {
    /// For a line with slope and intercept; none when all x are alike.
    pub fn straight(points: &[Point]) -> Option<Self> {
        let weight = sum(points, |point| point.weight);
        let mean_x = sum(points, |point| point.weight * point.x) / weight;
        let sxx = sum(points, |point| point.weight * (point.x - mean_x).powi(2));
        (sxx > 0.0).then_some(Self {
            inverse_weight: weight.recip(),
            mean_x,
            sxx,
        })
    }

    /// For a line through the origin; none when all x are 0.
    pub fn through_origin(points: &[Point]) -> Option<Self> {
        let sxx = sum(points, |point| point.weight * point.x.powi(2));
        (sxx > 0.0).then_some(Self {
            inverse_weight: 0.0,
            mean_x: 0.0,
            sxx,
        })
    }

    /// c_l(x): how much of a point's y is in the line's value at x.
    pub fn share(&self, point: &Point, x: f64) -> f64 {
        point.weight
            * (self.inverse_weight + (point.x - self.mean_x) * (x - self.mean_x) / self.sxx)
    }

    /// How much of a point's y is in the slope.
    pub fn share_of_slope(&self, point: &Point) -> f64 {
        point.weight * (point.x - self.mean_x) / self.sxx
    }

    /// Variance of the line's value at x, for weights that are inverse variances.
    pub fn variance(&self, x: f64) -> f64 {
        self.inverse_weight + (x - self.mean_x).powi(2) / self.sxx
    }

    /// Variance of the slope.
    pub fn slope_variance(&self) -> f64 {
        self.sxx.recip()
    }

    /// Covariance of intercept and slope.
    pub fn covariance(&self) -> f64 {
        -self.mean_x / self.sxx
    }
}

/// A fitted line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Value at 0; 0 through the origin.
    pub intercept: f64,
    /// Slope.
    pub slope: f64,
    /// Weighted sum of squared residuals.
    pub residual_squares: f64,
    /// Abscissas and weights.
    pub design: Design,
}

impl Line {
    /// The least-squares line of a design.
    ///
    /// One refinement: the residuals of the first line, each with a single rounding (`mul_add`), are fitted again and
    /// what they add is below the slope's last digit but not below the intercept's.
    pub fn fit(points: &[Point], design: Design) -> Self {
        let Design {
            inverse_weight,
            mean_x,
            sxx,
        } = design;
        let slope_of = |y: &dyn Fn(&Point) -> f64| {
            let weighted = |point: &Point| point.weight * (point.x - mean_x) * y(point);
            sum(points, weighted) / sxx
        };
        let mean_of = |y: &dyn Fn(&Point) -> f64| {
            sum(points, |point| point.weight * y(point)) * inverse_weight
        };
        let mean_y = mean_of(&|point| point.y);
        let slope = slope_of(&|point| point.y - mean_y);
        let left = |point: &Point| slope.mul_add(-point.x, point.y);
        let mean_left = mean_of(&left);
        let more = slope_of(&|point| left(point) - mean_left);
        let intercept = more.mul_add(-mean_x, mean_left);
        let residual = |point: &Point| left(point) - intercept - more * point.x;
        Self {
            intercept,
            slope: slope + more,
            residual_squares: sum(points, |point| point.weight * residual(point).powi(2)),
            design,
        }
    }

    /// The line's value.
    pub fn at(&self, x: f64) -> f64 {
        self.slope.mul_add(x, self.intercept)
    }
}
