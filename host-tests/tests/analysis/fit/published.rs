//! Published values: NIST StRD, GUM, and worked examples.

use super::{changed, fit_of, fitted, one_millivolt_a_count};
use tallyvolt_analysis::calibrate::fit::line::{Design, Line, Point};
use tallyvolt_analysis::calibrate::fit::meter::Meter;
use tallyvolt_analysis::calibrate::fit::mode::Mode;
use tallyvolt_harness::simulated::{self};
use tallyvolt_model::outcome::Outcome;

fn published(name: &str) -> Vec<Vec<f64>> {
    let path = simulated::host_tests().join("tests/published").join(name);
    let mut reader = csv::Reader::from_path(path).expect("published data");
    reader
        .records()
        .map(|row| {
            row.expect("a row")
                .iter()
                .map(|field| field.parse().expect("a number"))
                .collect()
        })
        .collect()
}

fn points(rows: &[(f64, f64)]) -> Vec<Point> {
    rows.iter()
        .map(|(x, y)| Point {
            x: *x,
            y: *y,
            weight: 1.0,
        })
        .collect()
}

/// Digits in which a value agrees: the log relative error of StRD.
fn digits(value: f64, certified: f64) -> f64 {
    -(((value - certified) / certified).abs().max(1e-16)).log10()
}

fn assert_digits(name: &str, value: f64, certified: f64, least: f64) {
    let agree = digits(value, certified);
    assert!(
        agree >= least,
        "{name}: {value} is {certified} to {agree:.1} digits"
    );
}

/// NIST StRD, Norris: certified values. All data scaled by 10 are whole numbers, so reading them costs no digit.
#[test]
fn nist_norris_to_13_digits() {
    let rows: Vec<(f64, f64)> = published("nist_norris.csv")
        .iter()
        .map(|row| ((row[1] * 10.0).round(), (row[0] * 10.0).round()))
        .collect();
    assert_eq!(rows.len(), 36);
    let points = points(&rows);
    let line = Line::fit(&points, Design::straight(&points).expect("a line"));
    let variance = line.residual_squares / 34.0;
    let sd = |of: f64| (of * variance).sqrt();
    assert_digits("B0", line.intercept / 10.0, -0.262323073774029, 13.0);
    assert_digits("B1", line.slope, 1.00211681802045, 13.0);
    assert_digits(
        "SD B0",
        sd(line.design.variance(0.0)) / 10.0,
        0.232818234301152,
        13.0,
    );
    assert_digits(
        "SD B1",
        sd(line.design.slope_variance()),
        0.429796848199937e-3,
        13.0,
    );
    assert_digits("SSE", line.residual_squares / 100.0, 26.6173985294224, 13.0);
    assert_digits(
        "residual SD",
        variance.sqrt() / 10.0,
        0.884796396144373,
        13.0,
    );
    // Recalculated in exact fractions; GSL's test of the same data prints -7.74327536339570e-05.
    assert_digits(
        "cov",
        line.design.covariance() * variance / 10.0,
        -7.743275363156437e-5,
        13.0,
    );
}

/// NIST StRD, NoInt1: y = B1 x, B1 = 251/121.
#[test]
fn nist_noint1_to_13_digits() {
    let rows: Vec<(f64, f64)> = published("nist_noint1.csv")
        .iter()
        .map(|row| (row[1], row[0]))
        .collect();
    assert_eq!(rows.len(), 11);
    let points = points(&rows);
    let line = Line::fit(&points, Design::through_origin(&points).expect("a line"));
    let variance = line.residual_squares / 10.0;
    assert_digits("B1", line.slope, 251.0 / 121.0, 15.0);
    assert_digits(
        "SD B1",
        (line.design.slope_variance() * variance).sqrt(),
        0.165289256198347e-1,
        13.0,
    );
    assert_digits("SSE", line.residual_squares, 127.272727272727, 13.0);
    assert_digits("residual SD", variance.sqrt(), 3.56753034006338, 13.0);
    assert_eq!(line.intercept, 0.0);
}

/// GUM H.3: y1, y2, their uncertainties and correlation, and b(30 degC); more digits recalculated from the same data.
#[test]
fn gum_h3_thermometer_line() {
    let rows: Vec<(f64, f64)> = published("gum_h3.csv")
        .iter()
        .map(|row| (row[1] - 20.0, row[2]))
        .collect();
    let points = points(&rows);
    let line = Line::fit(&points, Design::straight(&points).expect("a line"));
    let design = line.design;
    let variance = line.residual_squares / 9.0;
    let u = |of: f64| (of * variance).sqrt();
    let near = |value: f64, stated: f64, half_digit: f64| {
        assert!(
            (value - stated).abs() <= half_digit,
            "{value} is not {stated}"
        );
    };
    // As printed.
    near(line.intercept, -0.1712, 0.5e-4);
    near(line.slope, 0.00218, 0.5e-5);
    near(u(design.variance(0.0)), 0.0029, 0.5e-4);
    near(u(design.slope_variance()), 0.00067, 0.5e-5);
    let correlation = design.covariance() / (design.variance(0.0) * design.slope_variance()).sqrt();
    near(correlation, -0.930, 0.5e-3);
    near(variance.sqrt(), 0.0035, 0.5e-4);
    near(line.at(10.0), -0.1494, 0.5e-4);
    near(u(design.variance(10.0)), 0.0041, 0.5e-4);
    // Recalculated.
    assert_digits("y1", line.intercept, -0.171203790131350, 12.0);
    assert_digits("y2", line.slope, 0.002182697739887, 11.0);
    assert_digits("b(30)", line.at(10.0), -0.149376812732, 11.0);
    assert_digits("u(b(30))", u(design.variance(10.0)), 0.004138595753, 9.0);
    assert_digits(
        "single reading",
        (variance + variance * design.variance(10.0)).sqrt(),
        0.005418572550,
        9.0,
    );

    // H.3.6, with a systematic 0.005 degC on all: u(y1) 0.005769 with 145.38 degrees of freedom, u(y2) as before.
    let shared = |share: &dyn Fn(&Point) -> f64| {
        points.iter().map(|point| share(point) * 0.005).sum::<f64>()
    };
    let of_offset = shared(&|point| design.share(point, 0.0));
    let of_slope = shared(&|point| design.share_of_slope(point));
    let y1 = u(design.variance(0.0)).hypot(of_offset);
    near(y1, 0.005769, 0.5e-6);
    assert!(of_slope.abs() < 1e-15);
    near(9.0 * (y1 / u(design.variance(0.0))).powi(4), 145.38, 0.005);
}

/// GUM 4.3.7 example 2 and 5.1.5: a digital voltmeter, 14 ppm of reading and 2 ppm of its 1 V range, at 0.928571 V.
#[test]
fn gum_digital_voltmeter() {
    let meter = Meter {
        ppm_reading: 14.0,
        ppm_range: 2.0,
        range_mv: 1000.0,
        ..Meter::default()
    };
    let limit_uv = meter.limit_mv(928.571) * 1000.0;
    assert!((limit_uv - 15.0).abs() < 0.05, "{limit_uv}");
    let u_uv = meter.systematic_mv(928.571) * 1000.0;
    assert!((u_uv - 8.7).abs() < 0.05, "{u_uv}");
    let combined = 12_f64.hypot(u_uv);
    assert!((combined * combined - 219.0).abs() < 0.5, "{combined}");
    assert!((combined - 14.80).abs() < 0.005, "{combined}");
    // A display of 0.1 mV: 0.29 of its digit (GUM F.2.2.1).
    let display = Meter {
        resolution_mv: 0.1,
        ..Meter::default()
    }
    .display_mv();
    assert!((display - 0.029).abs() < 0.0005);
}

/// Microchip, "Application of Compensation Coefficient": 15/16 of full scale is code 3840, read as 3825. Its coefficient
/// in 2^18, applied with a truncating shift, gives 3839; the constants that the fit stores give 3840.
#[test]
fn the_truncation_trap_of_a_fixed_point_gain() {
    let coefficient = (f64::from(1 << 18) * 3840.0 / 3825.0).round() as u64;
    assert_eq!(coefficient, 263_172);
    assert_eq!((coefficient * 3825) >> 18, 3839, "the trap");
    assert_eq!((coefficient * 3825 + (1 << 17)) >> 18, 3840, "rounded");

    let front_end = one_millivolt_a_count();
    let batch = fitted("module,meter_mv,count\na,3840,3825\n", &front_end);
    let fit = fit_of(&batch.modules[0]);
    assert_eq!(fit.mode, Mode::GainOnly);
    let stored = fit.stored.expect("storable");
    assert!((fit.gain - 3840.0 / 3825.0).abs() < 1e-12);
    let conversion = batch
        .transfer
        .firmware()
        .recorded(&stored.record)
        .expect("sound");
    assert_eq!(conversion.outcome(3825), Outcome::Units(3840));
}

/// A worked example of an ADI engineer (EngineerZone, 30 April 2013): 16 bits, 5 V, 10 codes of offset and 10 of gain error:
/// 13109.2 codes a volt, factor 0.99985 after 10 codes are taken off.
#[test]
fn gain_and_offset_worked_example() {
    let front_end = changed(
        "hut-divided-16bit",
        &[
            ("microvolts = 1_250_000", "microvolts = 2_500_000"),
            ("\"2^n-1\"", "\"2^n\""),
            ("top_ohms = 30000", "top_ohms = 10000"),
        ],
    );
    let mut text = String::from("module,meter_mv,count\n");
    for code in [26_228, 45_000] {
        text.push_str(&format!("a,{:.9},{code}\n", f64::from(code - 10) / 13.1092));
    }
    let batch = fitted(&text, &front_end);
    let fit = fit_of(&batch.modules[0]);
    assert!((fit.offset - 10.0).abs() < 1e-6, "{fit:?}");
    assert!((fit.gain - 0.999847435).abs() < 1e-9, "{fit:?}");
}
