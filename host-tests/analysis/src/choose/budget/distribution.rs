//! What is known about one input quantity, as a distribution around its estimate (GUM 4.3, JCGM 101 clause 6.4).

use std::fmt;

use rand::{Rng, RngExt};
use rand_distr::{Distribution as _, StandardNormal, StudentT};

/// A noise counts up to this many standard deviations in a worst case: 6.6 rms peak to peak, common practice, no source.
pub const NOISE_PEAK: f64 = 3.3;

/// A distribution around zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Distribution {
    /// Known exactly, or not there.
    Constant,
    /// Anywhere between `-half` and `half`, all alike: a data sheet's limits (GUM 4.3.7).
    Rectangular {
        /// Half-width.
        half: f64,
    },
    /// A sine's values between `-half` and `half` (JCGM 101, 6.4.6).
    Arcsine {
        /// Half-width.
        half: f64,
    },
    /// Gaussian.
    Normal {
        /// Standard deviation.
        sd: f64,
    },
    /// A standard deviation that was itself estimated from few readings (JCGM 101, 6.4.9).
    StudentT {
        /// The estimated standard deviation.
        sd: f64,
        /// Degrees of freedom of that estimate, at least 1.
        dof: f64,
    },
}

impl Distribution {
    /// Rectangular, or constant for a half-width of zero.
    pub fn rectangular(half: f64) -> Self {
        if half > 0.0 {
            Self::Rectangular { half }
        } else {
            Self::Constant
        }
    }

    /// Arcsine, or constant for a half-width of zero.
    pub(crate) fn arcsine(half: f64) -> Self {
        if half > 0.0 {
            Self::Arcsine { half }
        } else {
            Self::Constant
        }
    }

    /// Normal with a standard deviation estimated with `dof` degrees of freedom, exactly known for `None`.
    pub fn noise(sd: f64, dof: Option<f64>) -> Self {
        match dof {
            _ if sd <= 0.0 => Self::Constant,
            Some(dof) => Self::StudentT { sd, dof },
            None => Self::Normal { sd },
        }
    }

    /// Whether it can be anything but zero.
    pub(crate) fn is_constant(&self) -> bool {
        *self == Self::Constant
    }

    /// Its half-width, or the standard deviation.
    pub fn size(&self) -> f64 {
        match *self {
            Self::Constant => 0.0,
            Self::Rectangular { half } | Self::Arcsine { half } => half,
            Self::Normal { sd } | Self::StudentT { sd, .. } => sd,
        }
    }

    /// Standard uncertainty as the GUM counts it: half / sqrt(3), half / sqrt(2), or the standard deviation.
    pub(crate) fn standard_uncertainty(&self) -> f64 {
        match self {
            Self::Rectangular { half } => half / 3.0_f64.sqrt(),
            Self::Arcsine { half } => half / 2.0_f64.sqrt(),
            other => other.size(),
        }
    }

    /// The largest value that a worst case counts: the limit, or [`NOISE_PEAK`] standard deviations.
    pub fn worst(&self) -> f64 {
        match self {
            Self::Normal { sd } | Self::StudentT { sd, .. } => NOISE_PEAK * sd,
            other => other.size(),
        }
    }

    /// Degrees of freedom of the standard uncertainty; infinite where it is taken as known (GUM G.4.2).
    pub fn dof(&self) -> f64 {
        match *self {
            Self::StudentT { dof, .. } => dof,
            _ => f64::INFINITY,
        }
    }

    /// One value.
    #[inline]
    pub fn draw(&self, rng: &mut impl Rng) -> f64 {
        match *self {
            Self::Constant => 0.0,
            Self::Rectangular { half } => half * (2.0 * rng.random::<f64>() - 1.0),
            Self::Arcsine { half } => half * (std::f64::consts::TAU * rng.random::<f64>()).sin(),
            Self::Normal { sd } => sd * rng.sample::<f64, _>(StandardNormal),
            // Degrees of freedom that no t distribution has are refused with the file; normal is what they tend to.
            Self::StudentT { sd, dof } => match StudentT::new(dof) {
                Ok(student) => sd * student.sample(rng),
                Err(_) => sd * rng.sample::<f64, _>(StandardNormal),
            },
        }
    }
}

impl fmt::Display for Distribution {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Constant => f.write_str("constant"),
            Self::Rectangular { .. } => f.write_str("rectangular"),
            Self::Arcsine { .. } => f.write_str("arcsine"),
            Self::Normal { .. } => f.write_str("normal"),
            Self::StudentT { dof, .. } => write!(f, "t, {dof:.0} dof"),
        }
    }
}
