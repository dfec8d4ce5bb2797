//! Lines and how a module's rows make one: what can be fitted, what is asked for, and what the words say.

use num_traits::ToPrimitive;
use tallyvolt_analysis::calibrate::fit::constants::exact_units;
use tallyvolt_analysis::calibrate::fit::line::{Design, Line, Point};
use tallyvolt_analysis::calibrate::fit::mode::Mode;
use tallyvolt_analysis::calibrate::fit::verdict::{self, Check, Verdict};
use tallyvolt_analysis::calibrate::fit::{Batch, Settings, fit};
use tallyvolt_harness::simulated::front_end;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::rational::whole;

use super::{SUPPLY, fit_of, fitted, one_millivolt_a_count, parsed, uncertainty_of};

fn points(rows: &[(f64, f64)]) -> Vec<Point> {
    let point = |(x, y): &(f64, f64)| Point {
        x: *x,
        y: *y,
        weight: 1.0,
    };
    rows.iter().map(point).collect()
}

pub fn text(rows: &[(f64, u32)]) -> String {
    let rows = rows.iter().map(|(mv, count)| format!("m,{mv},{count}\n"));
    format!("module,meter_mv,count\n{}", rows.collect::<String>())
}

/// Three points of a line with slope 2, a milliard from the origin and a few units from each other: nothing is lost, and nothing is left.
#[test]
fn a_line_far_from_the_origin_loses_no_digit() {
    const FAR: f64 = 1e9;
    let points = points(&[(FAR, FAR), (FAR + 1.0, FAR + 2.0), (FAR + 3.0, FAR + 6.0)]);
    let line = Line::fit(&points, Design::straight(&points).expect("a line"));
    assert!((line.slope - 2.0).abs() < 1e-15, "{line:?}");
    assert!((line.intercept + FAR).abs() < 1e-6, "{line:?}");
    assert!(line.residual_squares < 1e-12, "{line:?}");
}

/// Voltages that are all alike have no slope, and a line through the origin needs one away from it.
#[test]
fn points_without_a_spread_have_no_line() {
    let alike = points(&[(2000.0, 1.0), (2000.0, 2.0)]);
    assert_eq!(Design::straight(&alike), None);
    assert!(Design::through_origin(&alike).is_some());
    let zero = points(&[(0.0, 1.0), (0.0, 2.0)]);
    assert_eq!(Design::through_origin(&zero), None);
}

/// A hundredth of the cell's 1650 mV is 16.5 mV: two rows as far apart are one voltage, and a little further two.
#[test]
fn rows_within_a_hundredth_of_the_range_are_one_voltage() {
    let voltages = |mv: f64| {
        let rows = [(3000.0, 3000), (mv, 3016)];
        fitted(&text(&rows), &one_millivolt_a_count()).modules[0].voltages
    };
    assert_eq!((voltages(3016.5), voltages(3016.6)), (1, 2));
}

/// A fifth of 1650 mV is 330 mV: two voltages as far apart are far enough for an offset.
#[test]
fn a_fifth_of_the_range_is_enough_for_an_offset() {
    for (mv, mode, close) in [
        (2330.0, Mode::GainAndOffset, false),
        (2329.0, Mode::GainOnly, true),
    ] {
        let rows = [(2000.0, 2000), (mv, mv as u32)];
        let batch = fitted(&text(&rows), &one_millivolt_a_count());
        let module = &batch.modules[0];
        let mut reasons = module.reasons.iter();
        assert_eq!(fit_of(module).mode, mode);
        assert_eq!(
            reasons.any(|reason| reason.check == Check::TooClose),
            close,
            "{mv}"
        );
    }
}

/// Degrees of freedom are rows less what was fitted to them.
#[test]
fn degrees_are_rows_less_values() {
    let degrees = |rows: &[(f64, u32)]| {
        fit_of(&fitted(&text(rows), &one_millivolt_a_count()).modules[0]).degrees
    };
    let (low, high) = ((2000.0, 2000), (3650.0, 3650));
    assert_eq!((degrees(&[low]), degrees(&[low, low, low])), (0, 2));
    assert_eq!(degrees(&[low, high]), 0);
    assert_eq!(degrees(&[low, low, high, high, high]), 3);
    // A row at the converter's end is left out of the fit.
    let railed = (high.0, 4095);
    assert_eq!(degrees(&[low, low, high, high, high, railed]), 3);
}

/// Counts that fall with the voltage have no gain: no fit, and both reasons.
#[test]
fn falling_counts_are_not_fitted() {
    let rows = [(2000.0, 3650), (2825.0, 2825), (3650.0, 2000)];
    let batch = fitted(&text(&rows), &one_millivolt_a_count());
    let module = &batch.modules[0];
    assert!(module.fit.is_none() && module.record().is_none());
    let checks: Vec<Check> = module.reasons.iter().map(|reason| reason.check).collect();
    assert_eq!(checks, [Check::NonMonotonic, Check::Gain]);
    assert_eq!(
        module.reasons[1].found,
        "the counts do not follow the voltage"
    );
}

/// Counts at either end of the converter's range are left out, each a reason of its own; their neighbours are not.
#[test]
fn counts_at_the_converters_ends_are_named() {
    for (count, line) in [(0, Some("line 5 ")), (4095, Some("line 5 ")), (4094, None)] {
        let rows = [
            (2000.0, 2000),
            (2825.0, 2825),
            (3650.0, 3650),
            (4094.0, count),
        ];
        let batch = fitted(&text(&rows), &one_millivolt_a_count());
        let mut reasons = batch.modules[0].reasons.iter();
        let found = reasons.find(|reason| reason.check == Check::Saturated);
        let named = line.map(|line| format!("{line}at the converter's end, left out"));
        assert_eq!(found.map(|reason| reason.found.clone()), named, "{count}");
    }
}

/// Only a good module is good: not one that nothing could contradict, and not one 5 % off.
#[test]
fn good_is_neither_unchecked_nor_suspect() {
    let of = |rows: &[(f64, u32)]| {
        let batch = fitted(&text(rows), &one_millivolt_a_count());
        let module = &batch.modules[0];
        (module.verdict(), module.is_good(), batch.holds())
    };
    let good = [(2000.0, 2000), (2825.0, 2825), (3650.0, 3650)];
    assert_eq!(of(&good), (Verdict::Good, true, true));
    assert_eq!(of(&good[..2]), (Verdict::Unchecked, false, false));
    let off = good.map(|(mv, count)| (mv, count * 105 / 100));
    assert_eq!(of(&off), (Verdict::Suspect, false, false));
}

/// What the parts may do at the rows' mean temperature: 60 degC is 35 K from where 0.5 % and 50 ppm/K belong.
#[test]
fn parts_are_judged_at_the_mean_temperature() {
    let front_end = tolerant();
    let mut text = String::from("module,meter_mv,count,temp_c\n");
    for (mv, count, temp_c) in [
        (2000.0, 2100, 59.0),
        (2825.0, 2966, 60.0),
        (3650.0, 3832, 61.0),
    ] {
        text.push_str(&format!("m,{mv},{count},{temp_c}\n"));
    }
    let batch = fitted(&text, &front_end);
    let mut reasons = batch.modules[0].reasons.iter();
    let gain = reasons
        .find(|reason| reason.check == Check::Gain)
        .expect("5 % off");
    let reference = (5000.0 + 50.0 * 35.0) * 1e-6;
    let allowed = format!("allow {:.5} to {:.5}", 1.0 - reference, 1.0 + reference);
    assert!(gain.found.ends_with(&allowed), "{} {allowed}", gain.found);
}

/// Resistors and converter without a tolerance of their own.
fn tolerant() -> FrontEnd {
    let mut front_end = one_millivolt_a_count();
    front_end.converter.accuracy.gain_lsb = None;
    if let tallyvolt_model::front_end::Topology::DividedInput(divider) = &mut front_end.topology {
        divider.tolerance.ppm = Some(whole(0));
        divider.tolerance.ppm_per_k = None;
    }
    front_end
}

/// An offset that is not fitted is unknown by what the file states, over the root of three, however many samples are summed.
#[test]
fn an_offset_not_fitted_is_what_the_file_states() {
    let front_end = front_end("hut-supply-12bit-x16");
    let batch = fitted("module,meter_mv,count\nm,3200,24576\n", &front_end);
    let fit = fit_of(&batch.modules[0]);
    assert_eq!(fit.mode, Mode::GainOnly);
    let u = uncertainty_of(fit).offset.u;
    assert!((u - 1.5 / 3_f64.sqrt()).abs() < 1e-9, "{u}");
}

/// An offset of exactly 0 is in the fit through the origin: with an ideal meter nothing is unknown of it, and nothing goes with the gain.
#[test]
fn no_offset_at_all_is_correlated_with_nothing() {
    let mut front_end = one_millivolt_a_count();
    front_end.converter.accuracy.offset_lsb = Some(whole(0));
    let batch = fitted("module,meter_mv,count\nm,3200,3200\n", &front_end);
    let found = uncertainty_of(fit_of(&batch.modules[0]));
    assert_eq!((found.offset.u, found.correlation), (0.0, 0.0));
    assert!(found.gain.u > 0.0);
}

/// Constants of an output in tenths of a millivolt lie beside the fit by what they give, less what it gives, at the worst of all counts
/// of the cell.
#[test]
fn the_distance_of_the_constants_is_in_millivolts() {
    let mut front_end = front_end(SUPPLY);
    front_end.unit_uv = 100;
    let rows = [(2000.0, 2450), (2825.0, 1738), (3650.0, 1346)];
    let batch = fitted(&text(&rows), &front_end);
    let (fit, transfer) = (fit_of(&batch.modules[0]), &batch.transfer);
    let stored = fit.stored.expect("storable");
    let beside = (1347..=2450).map(|count| {
        let units = exact_units(&stored.constants, count).to_f64();
        let mv = transfer.voltage_mv((transfer.place(count) - fit.offset) / fit.gain);
        (units.expect("a number") * 0.1 - mv).abs()
    });
    let worst = beside.fold(0.0, f64::max);
    assert!(worst > 1e-7, "{worst}");
    assert!(
        (stored.distance_mv / worst - 1.0).abs() < 0.02,
        "{stored:?} {worst}"
    );
}

/// Each row, each voltage twice, and four more.
#[test]
fn a_module_has_so_many_tests() {
    assert_eq!(verdict::tests(5, 3), 15.0);
}

/// What nothing could contradict, and which lines were bad, is said in plain words.
#[test]
fn findings_are_said_in_words() {
    let batch = |rows: &str| -> Batch {
        let front_end = one_millivolt_a_count();
        let readings = parsed(&format!("module,meter_mv,count\n{rows}"), &front_end);
        fit(&front_end, &readings, &Settings::default(), &|_| {}).expect("legal")
    };
    let (low, high) = ("m,2000,2000\n", "m,3650,3650\n");
    let unchecked = |rows: &str| batch(rows).modules[0].unchecked.clone().expect("unchecked");
    assert_eq!(
        unchecked(low),
        "1 row, and 1 value is fitted: any rows would agree"
    );
    assert_eq!(
        unchecked(&format!("{low}{high}")),
        "2 rows, and 2 values are fitted: any rows would agree"
    );
    let bad = |bad: usize| {
        let rows = format!("{low}{high}{}", "m,2825,many\n".repeat(bad));
        batch(&rows).modules[0].reasons[0].found.clone()
    };
    assert_eq!(bad(1), "line 4 could not be read");
    assert_eq!(bad(2), "lines 4, 5 could not be read");
    assert_eq!(bad(7), "lines 4, 5, 6, 7, 8 and 2 more could not be read");
}
