//! What goes into a measurement model: quantities with what is known around them, and how they go together.

use super::distribution::Distribution;

/// One input quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Input {
    /// Best estimate.
    pub estimate: f64,
    /// What is known around it.
    pub distribution: Distribution,
}

impl Input {
    /// A quantity whose best estimate is zero.
    pub fn around_zero(distribution: Distribution) -> Self {
        Self {
            estimate: 0.0,
            distribution,
        }
    }
}

/// Two inputs that go together, with their correlation coefficient, -1 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Correlation {
    /// One input.
    pub one: usize,
    /// The other.
    pub other: usize,
    /// The coefficient.
    pub coefficient: f64,
}

/// The output quantities of a measurement model: `model(inputs, outputs)`.
pub type Model<'m> = dyn Fn(&[f64], &mut [f64]) + Sync + 'm;
