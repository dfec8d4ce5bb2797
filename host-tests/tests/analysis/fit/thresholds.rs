//! Each finding begins where the quantile of its own distribution says, shared out among all tests of the module (Bonferroni).
//!
//! One count is one millivolt, and the noise is that of the data sheet: 20 counts, so that a threshold is a whole count to 1 %.

use std::fmt::Write as _;

use statrs::distribution::{ContinuousCDF, Normal};
use tallyvolt_analysis::calibrate::fit::noise::NoiseSource;
use tallyvolt_analysis::calibrate::fit::verdict::Check;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::rational::whole;

use super::{fitted, one_millivolt_a_count};

const NOISE: f64 = 20.0;

fn noisy() -> FrontEnd {
    let mut front_end = one_millivolt_a_count();
    let accuracy = &mut front_end.converter.accuracy;
    accuracy.noise_rms_lsb = Some(whole(20));
    accuracy.inl_lsb = None;
    front_end
}

/// Standard deviation of a count: noise, and rounding.
fn sigma() -> f64 {
    (NOISE * NOISE + 1.0 / 12.0).sqrt()
}

/// What one test of a module may spend: a sound module is accused once in 100,000, by each row, each voltage, each pair of neighbours,
/// scatter, groups, gain and offset.
fn one_test(rows: usize, voltages: usize) -> f64 {
    1e-5 / (rows + 2 * voltages + 4) as f64
}

fn quantile(above: f64) -> f64 {
    Normal::standard().inverse_cdf(1.0 - above)
}

/// Whether a module of these rows, in millivolts and what they read too much, shows a finding.
fn shows(check: Check, rows: &[(f64, f64)]) -> bool {
    let mut text = String::from("module,meter_mv,count\n");
    for (mv, beyond) in rows {
        let _ = writeln!(text, "m,{mv},{}", mv + beyond);
    }
    let batch = fitted(&text, &noisy());
    assert_eq!(batch.noise.source, NoiseSource::DataSheet);
    let mut reasons = batch.modules[0].reasons.iter();
    reasons.any(|reason| reason.check == check)
}

/// The finding is there a count above the threshold, and not there a count below.
fn begins(check: Check, threshold: f64, rows: impl Fn(f64) -> Vec<(f64, f64)>) {
    let (below, above) = (threshold.floor() - 1.0, threshold.ceil() + 1.0);
    assert!(
        !shows(check, &rows(below)),
        "{check:?} at {below}, {threshold}"
    );
    assert!(
        shows(check, &rows(above)),
        "{check:?} not at {above}, {threshold}"
    );
}

/// Of six voltages that are read once, the second is off: of its distance from the line and of its noise a part goes into the line.
#[test]
fn a_reading_off_the_line() {
    let voltages = [2000.0, 2330.0, 2660.0, 2990.0, 3320.0, 3650.0];
    let mean = voltages.iter().sum::<f64>() / 6.0;
    let about: f64 = voltages.iter().map(|mv| (mv - mean) * (mv - mean)).sum();
    let left = 1.0 - 1.0 / 6.0 - (voltages[1] - mean).powi(2) / about;
    let threshold = quantile(one_test(6, 6) / 2.0) * sigma() / left.sqrt();
    for check in [Check::Residual, Check::Outlier] {
        for sign in [1.0, -1.0] {
            begins(check, threshold, |size| {
                let off = |at: usize| if at == 1 { sign * size } else { 0.0 };
                (0..6).map(|at| (voltages[at], off(at))).collect()
            });
        }
    }
}

/// Of two neighbours 20 mV apart the lower reads too much: the counts turn back by that, less 20.
#[test]
fn counts_that_turn_back() {
    let threshold = 20.0 + quantile(one_test(4, 4)) * 2_f64.sqrt() * sigma();
    begins(Check::NonMonotonic, threshold, |size| {
        vec![(2000.0, 0.0), (2800.0, size), (2820.0, 0.0), (3650.0, 0.0)]
    });
}

/// Three rows at one voltage, at -d, 0 and d: chi-squared with two degrees of freedom exceeds 2 d^2 / sigma^2 by exp(-d^2 / sigma^2).
#[test]
fn rows_that_scatter() {
    let threshold = sigma() * (-one_test(5, 3).ln()).sqrt();
    begins(Check::Scatter, threshold, |size| {
        let rows = [-size, 0.0, size].map(|off| (2800.0, off));
        [&rows[..], &[(2000.0, 0.0), (3650.0, 0.0)]].concat()
    });
}

/// Two rows at each of two voltages: a gap has the noise of both rows.
#[test]
fn rows_in_two_groups() {
    let threshold = quantile(one_test(4, 2)) * 2_f64.sqrt() * sigma();
    begins(Check::DuplicatedId, threshold, |size| {
        // One of the gaps is wider, which alone tells nothing.
        vec![
            (2000.0, 0.0),
            (2000.0, size),
            (3650.0, 0.0),
            (3650.0, size + 60.0),
        ]
    });
    let wide = [(2000.0, 0.0), (2000.0, 0.0), (3650.0, 0.0), (3650.0, 400.0)];
    assert!(!shows(Check::DuplicatedId, &wide));
    // A voltage that was read once tells nothing of groups, and does not hide them.
    let groups = [2000.0, 3650.0].map(|mv| [(mv, 0.0), (mv, 400.0)]);
    let once = [groups.as_flattened(), &[(2800.0, 200.0)]].concat();
    assert!(shows(Check::DuplicatedId, &once));
}

/// Two rows at one voltage, at -d and d: chi-squared with one degree of freedom is a normal value squared, both of its sides.
#[test]
fn two_rows_that_scatter() {
    let threshold = quantile(one_test(4, 3) / 2.0) * sigma() / 2_f64.sqrt();
    begins(Check::Scatter, threshold, |size| {
        vec![
            (2000.0, 0.0),
            (2800.0, -size),
            (2800.0, size),
            (3650.0, 0.0),
        ]
    });
}

/// Three rows at one voltage, one of them at 2 d and two at -d: off the others by 3 d, which has the noise of one and of half a row.
#[test]
fn a_row_off_the_others_of_its_voltage() {
    let threshold = quantile(one_test(5, 3) / 2.0) * 1.5_f64.sqrt() * sigma() / 3.0;
    begins(Check::Outlier, threshold, |size| {
        let rows = [-size, -size, 2.0 * size].map(|off| (2800.0, off));
        [&rows[..], &[(2000.0, 0.0), (3650.0, 0.0)]].concat()
    });
}

/// All rows read too much, or too little, by more than the two counts that the data sheet allows and the line's noise at 0.
#[test]
fn an_offset_beyond_the_data_sheet() {
    let voltages = [2000.0, 2330.0, 2660.0, 2990.0, 3320.0, 3650.0];
    let mean = voltages.iter().sum::<f64>() / 6.0;
    let about: f64 = voltages.iter().map(|mv| (mv - mean) * (mv - mean)).sum();
    let u = sigma() * (1.0 / 6.0 + mean * mean / about).sqrt();
    let threshold = 2.0 + quantile(one_test(6, 6)) * u;
    for sign in [1.0, -1.0] {
        begins(Check::Offset, threshold, |size| {
            voltages.map(|mv| (mv, sign * size)).to_vec()
        });
    }
}
