//! The GUM's way: sensitivities, combined standard uncertainty, effective degrees of freedom, coverage factor; and the
//! worst case beside it.
//!
//! ```text
//! u_c^2 = sum c_i^2 u_i^2 + 2 sum c_i c_j u_i u_j r_ij        (GUM 5.1.2, 5.2.2)
//! nu_eff = u_c^4 / sum (c_i u_i)^4 / nu_i                     (Welch-Satterthwaite, GUM G.4.1)
//! U = k u_c,  k = t_p(nu_eff)                                 (GUM 6.2.1, G.3.2)
//! ```

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

use super::corners;
use super::input::{Correlation, Input, Model};
use crate::describe::limit_name::Direction;

/// One output quantity, to first order, and its worst case.
#[derive(Debug, Clone)]
pub struct FirstOrder {
    /// Value at the estimates.
    pub estimate: f64,
    /// Partial derivative by each input.
    pub sensitivities: Vec<f64>,
    /// Standard uncertainty from each input alone, never negative.
    pub contributions: Vec<f64>,
    /// Combined standard uncertainty.
    pub combined: f64,
    /// Effective degrees of freedom.
    pub dof: f64,
    /// Lowest and highest value with every input at its worst.
    pub worst: (f64, f64),
}

impl FirstOrder {
    /// How far the output errs inwards from a limit, which lets it be missed: at worst, and at the estimates.
    pub fn inwards(&self, limit: Direction) -> (f64, f64) {
        match limit {
            Direction::Over => (-self.worst.0, -self.estimate),
            Direction::Under => (self.worst.1, self.estimate),
        }
    }
}

/// Steps of the difference quotients are this part of a standard uncertainty: small enough that the third order stays
/// below 1e-6 of a sensitivity for anything a converter does, and large enough for double precision.
const STEP: f64 = 1.0 / 64.0;

/// Combines the inputs for each of `outputs` outputs.
///
/// Sensitivities are central difference quotients (GUM 5.1.3, note 2). Effective degrees of freedom hold for inputs that
/// are independent; correlated ones here have infinitely many.
pub fn combine(
    inputs: &[Input],
    correlations: &[Correlation],
    outputs: usize,
    model: &Model,
) -> Vec<FirstOrder> {
    let at: Vec<f64> = inputs.iter().map(|input| input.estimate).collect();
    let evaluate = |values: &[f64]| {
        let mut out = vec![0.0; outputs];
        model(values, &mut out);
        out
    };
    let estimates = evaluate(&at);
    let slopes: Vec<Vec<f64>> = inputs
        .iter()
        .enumerate()
        .map(|(index, input)| {
            let step = STEP * input.distribution.standard_uncertainty();
            if step == 0.0 {
                return vec![0.0; outputs];
            }
            let moved = |by: f64| {
                let mut values = at.clone();
                values[index] += by;
                evaluate(&values)
            };
            let (up, down) = (moved(step), moved(-step));
            up.iter()
                .zip(&down)
                .map(|(up, down)| (up - down) / (2.0 * step))
                .collect()
        })
        .collect();
    let by_output = |output: usize| slopes.iter().map(|slopes| slopes[output]).collect();
    let sensitivities: Vec<Vec<f64>> = (0..outputs).map(by_output).collect();
    let signed = sensitivities
        .iter()
        .map(|slopes| signed_contributions(inputs, slopes));
    let signed: Vec<Vec<f64>> = signed.collect();
    let worst = corners::worst(inputs, correlations, &signed, model);
    estimates
        .into_iter()
        .zip(sensitivities)
        .zip(signed)
        .zip(worst)
        .map(|(((estimate, sensitivities), signed), worst)| {
            let combined = combined(&signed, correlations);
            let parts = signed.iter().zip(inputs);
            let parts = parts.map(|(part, input)| (*part, input.distribution.dof()));
            let dof = effective_dof(combined, parts);
            FirstOrder {
                estimate,
                combined,
                dof,
                contributions: signed.iter().map(|part| part.abs()).collect(),
                sensitivities,
                worst,
            }
        })
        .collect()
}

fn signed_contributions(inputs: &[Input], sensitivities: &[f64]) -> Vec<f64> {
    let parts = inputs.iter().zip(sensitivities);
    parts
        .map(|(input, slope)| slope * input.distribution.standard_uncertainty())
        .collect()
}

/// Combined standard uncertainty of contributions `c_i u_i` with their signs.
pub fn combined(signed: &[f64], correlations: &[Correlation]) -> f64 {
    let own: f64 = signed.iter().map(|part| part * part).sum();
    let mutual: f64 = correlations
        .iter()
        .filter_map(|pair| {
            Some(2.0 * pair.coefficient * signed.get(pair.one)? * signed.get(pair.other)?)
        })
        .sum();
    // Rounding can take a sum that cancels (coefficient 1) below zero by an ulp.
    (own + mutual).max(0.0).sqrt()
}

/// Effective degrees of freedom (Welch-Satterthwaite) of contributions and their own degrees of freedom.
pub fn effective_dof(combined: f64, parts: impl IntoIterator<Item = (f64, f64)>) -> f64 {
    let weighted: f64 = parts
        .into_iter()
        .filter(|(part, _)| *part != 0.0)
        .map(|(part, dof)| part.powi(4) / dof)
        .sum();
    if weighted > 0.0 {
        combined.powi(4) / weighted
    } else {
        f64::INFINITY
    }
}

/// The factor `k` for which `-k .. k` standard uncertainties hold the share `coverage` of the values: Student's t for
/// `dof` degrees of freedom cut to whole ones (GUM G.4.1, note 1), normal for infinitely many.
///
/// # Range
/// `coverage` above 0 and below 1; `dof` at least 1.
pub fn coverage_factor(coverage: f64, dof: f64) -> f64 {
    one_sided_factor(0.5 + coverage / 2.0, dof)
}

/// From this many degrees of freedom on t is taken as normal: they differ by (z^2 + 1) / 4 nu, less than 6e-4 of the factor
/// for any probability from 1e-6 on, and the inversion of t in the library no longer ends for very many.
const NORMAL_FROM: f64 = 1e4;

/// The factor below which the share `probability` of the values lies, one-sided (JCGM 106 table 1 for the normal case).
pub fn one_sided_factor(probability: f64, dof: f64) -> f64 {
    let normal = || Normal::standard().inverse_cdf(probability);
    if dof < NORMAL_FROM {
        StudentsT::new(0.0, 1.0, dof.floor().max(1.0))
            .map_or_else(|_| normal(), |student| student.inverse_cdf(probability))
    } else {
        normal()
    }
}
