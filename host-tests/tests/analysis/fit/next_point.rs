//! What one more point would buy, against all points that could be added.

use tallyvolt_analysis::calibrate::fit::meter::Meter;
use tallyvolt_analysis::calibrate::fit::mode::Mode;
use tallyvolt_analysis::calibrate::fit::verdict::Check;
use tallyvolt_analysis::calibrate::fit::{Batch, Settings};
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::rational::{fraction, whole};

use super::lines::text;
use super::{SUPPLY, changed, fit_of, fitted_with, one_millivolt_a_count};

/// The largest expanded uncertainty without what the stored constants add to it.
fn worst(batch: &Batch) -> f64 {
    let fit = fit_of(&batch.modules[0]);
    let distance = fit.stored.expect("storable").distance_mv;
    let worst = fit.reading.expect("an interval").worst;
    (worst.powi(2) - distance.powi(2)).sqrt()
}

fn is_too_close(batch: &Batch) -> bool {
    let mut reasons = batch.modules[0].reasons.iter();
    reasons.any(|reason| reason.check == Check::TooClose)
}

/// The next point is the best of seventeen, each of them really added and the module fitted again: in every mode, for rows in the middle,
/// at the ends and close to each other, where noise, an offset that is not known, or the rounding of counts is most of it.
#[test]
fn the_next_point_is_the_best_of_all_that_could_be_added() {
    let row = |mv: f64| (mv, mv.floor() as u32);
    let both = Some(Mode::GainAndOffset);
    let one = Some(Mode::GainOnly);
    for (name, mode, voltages, noise, offset) in [
        ("middle", None, &[2825.0][..], 20, 100),
        ("low end", None, &[2000.0], 20, 100),
        ("a repeat", None, &[3340.625], 20, 0),
        ("asked for", one, &[3300.0], 20, 2),
        ("a gain of two", one, &[2100.0, 3300.0], 20, 100),
        ("an offset of two", both, &[2600.0, 3200.0], 20, 2),
        ("too close", None, &[3000.0, 3100.0], 20, 1000),
        ("far from both ends", None, &[2825.0], 20, 5000),
        ("beside a candidate", one, &[2865.0], 0, 500),
        ("repeats that share", one, &[2830.0, 2830.0], 0, 500),
    ] {
        let mut front_end = one_millivolt_a_count();
        let accuracy = &mut front_end.converter.accuracy;
        accuracy.noise_rms_lsb = Some(whole(noise));
        accuracy.offset_lsb = Some(fraction(offset, 10));
        accuracy.inl_lsb = None;
        let settings = Settings {
            mode,
            meter: Meter {
                ppm_reading: 50.0,
                ..Meter::default()
            },
            ..Settings::default()
        };
        next_is_best(name, &front_end, &settings, voltages, row);
    }
}

/// With a supply reference the counts of full cells lie close together: a voltage nearer than a fifth of them would be best, and is not
/// named, because it would make the module suspect.
#[test]
fn a_voltage_that_is_too_close_is_never_the_next_point() {
    let mut front_end = changed(
        SUPPLY,
        &[
            ("max_mv = 3650", "max_mv = 4200"),
            ("min_mv = 2000", "min_mv = 1850"),
        ],
    );
    let accuracy = &mut front_end.converter.accuracy;
    accuracy.noise_rms_lsb = Some(whole(20));
    accuracy.offset_lsb = Some(whole(500));
    accuracy.inl_lsb = None;
    let row = |mv: f64| (mv, (1200.0 * 4096.0 / mv) as u32);
    let span = |mv: f64| (1.0 / mv - 1.0 / 4200.0) / (1.0 / 1850.0 - 1.0 / 4200.0);
    assert!(span(3360.0) < 0.2 && span(3340.0) > 0.2);
    for mv in [3360.0, 3340.0] {
        next_is_best("close", &front_end, &Settings::default(), &[mv], row);
    }
}

/// The next point of a module with these voltages is that of all seventeen with which its fit is best.
fn next_is_best(
    name: &str,
    front_end: &FrontEnd,
    settings: &Settings,
    voltages: &[f64],
    row: impl Fn(f64) -> (f64, u32),
) {
    let [low, _, high] = front_end.cell.millivolts();
    let rows: Vec<(f64, u32)> = voltages.iter().map(|mv| row(*mv)).collect();
    let fitted = |rows: &[(f64, u32)]| fitted_with(&text(rows), front_end, settings);
    let now = fitted(&rows);
    let next = fit_of(&now.modules[0]).next_point;
    let tried = (0..17).filter_map(|at| {
        let mv = low + (high - low) * f64::from(at) / 16.0;
        // Within a hundredth of the range it is a repeat of that voltage.
        let same = voltages.iter().find(|read| (*read - mv).abs() <= 16.5);
        let more = fitted(&[&rows[..], &[row(*same.unwrap_or(&mv))]].concat());
        (!is_too_close(&more)).then(|| (mv, worst(&more)))
    });
    let (at_mv, best) = tried
        .min_by(|one, other| one.1.total_cmp(&other.1))
        .expect("one can be added");
    if best < worst(&now) * (1.0 - 1e-9) {
        let next = next.unwrap_or_else(|| panic!("{name}: {best} at {at_mv}"));
        assert_eq!(next.at_mv, at_mv, "{name}");
        assert!(
            (next.then_mv / best - 1.0).abs() < 2e-3,
            "{name}: {best} {next:?}"
        );
    } else {
        assert_eq!(next, None, "{name}");
    }
}

/// From 3000 to 3650 mV, a second voltage at an end is far enough from one in the middle: distances count in parts of the range, not of the
/// voltage.
#[test]
fn a_narrow_range_has_a_next_point() {
    let mut front_end = one_millivolt_a_count();
    front_end.cell.min_uv = 3_000_000;
    front_end.converter.accuracy.offset_lsb = Some(whole(100));
    let batch = fitted_with(&text(&[(3300.0, 3300)]), &front_end, &Settings::default());
    let fit = fit_of(&batch.modules[0]);
    let next = fit.next_point.expect("one helps");
    assert!([3000.0, 3650.0].contains(&next.at_mv), "{next:?}");
    assert!(next.then_mv < fit.reading.expect("an interval").worst);
}
