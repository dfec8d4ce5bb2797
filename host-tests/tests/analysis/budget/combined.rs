//! The GUM's formulas alone: sensitivities with their signs, degrees of freedom, factors.

use super::near;
use tallyvolt_analysis::choose::budget::combine::{combine, effective_dof, one_sided_factor};
use tallyvolt_analysis::choose::budget::distribution::Distribution;
use tallyvolt_analysis::choose::budget::input::Input;

/// The slope at the estimate, with its sign, and not that of a chord over the whole uncertainty.
#[test]
fn a_sensitivity_is_a_derivative() {
    let input = Input::around_zero(Distribution::Normal { sd: 0.5 });
    let model = |values: &[f64], out: &mut [f64]| {
        out[0] = (1.0 + values[0]).powi(3) - 2.0 * values[1];
    };
    let found = combine(&[input, input], &[], 1, &model);
    near(found[0].sensitivities[0], 3.0, 1e-4);
    near(found[0].sensitivities[1], -2.0, 1e-9);
    near(found[0].contributions[1], 1.0, 1e-9);
    near(found[0].combined, (1.5_f64 * 1.5 + 1.0).sqrt(), 1e-4);
}

/// Nothing uncertain has as many degrees of freedom as anything known exactly; from 10 000 on, t is taken as normal.
#[test]
fn the_ends_of_the_degrees_of_freedom() {
    assert_eq!(effective_dof(0.0, [(0.0, 5.0)]), f64::INFINITY);
    // Quantiles of the normal and of t distributions: NIST/SEMATECH e-Handbook, 1.3.6.7.
    near(one_sided_factor(0.975, 1e4), 1.959_964, 1e-6);
    near(one_sided_factor(0.975, 9999.0), 1.960_2, 5e-5);
    near(one_sided_factor(0.975, 10.0), 2.228, 5e-4);
}
