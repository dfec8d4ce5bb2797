//! Guard bands: thresholds at every count, and none where no zone is left.

use tallyvolt::CountLimit;

use tallyvolt_analysis::choose::budget::monte_carlo::Run;
use tallyvolt_analysis::choose::budget::terms::Terms;
use tallyvolt_analysis::choose::budget::{TRIALS, budget};
use tallyvolt_analysis::choose::described_limits;
use tallyvolt_analysis::describe::limit_name::Direction;
use tallyvolt_analysis::prove::check;
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::LimitMeaning;
use tallyvolt_model::outcome::{FaultName, Outcome};

use super::{CELL, RUN, described, divided, near, shipped};

/// Counts compared with a threshold give the verdict of converted voltages, at every count; and alarms miss no more than
/// stated, while an alarm at the limit itself would miss half.
#[test]
fn alarms_at_every_count() {
    for front_end in shipped() {
        let made = budget(
            &front_end,
            Run {
                trials: TRIALS,
                seed: 3,
            },
            &|_| (),
        );
        // Equal to the exact model at every count, by `check`.
        let conversion = check::conversion(&front_end).unwrap();
        let largest = Model::new(&front_end, CalibrationModel::identity()).largest_count();
        assert_eq!(made.guard_bands.len(), 3);
        for bands in &made.guard_bands {
            assert_eq!(bands.planned, bands.calibration == "two-point");
            assert!(bands.problem.is_none());
            for alarm in &bands.alarms {
                assert!(
                    alarm.missed <= 0.001,
                    "{} missed {}",
                    made.name,
                    alarm.missed
                );
                assert!(alarm.given_up_mv >= alarm.guard_mv);
                let smaller = alarm.guard_normal_mv.min(alarm.worst_mv);
                assert_eq!(alarm.guard_mv, smaller);
                let threshold = (alarm.threshold_mv.unwrap() * 1000.0
                    / f64::from(front_end.unit_uv))
                .round() as u32;
                let counts = alarm.counts.unwrap();
                for count in 1..largest {
                    let value = match conversion.outcome(count) {
                        Outcome::Units(units) => units,
                        Outcome::Fault(FaultName::AboveRange) => u32::MAX,
                        Outcome::Fault(_) => 0,
                    };
                    let by_voltage = match alarm.direction {
                        Direction::Over => value >= threshold,
                        Direction::Under => value <= threshold,
                    };
                    let by_count = match counts.comparison {
                        ">=" => count >= counts.count,
                        _ => count <= counts.count,
                    };
                    assert_eq!(by_voltage, by_count, "{} count {count}", made.name);
                }
            }
        }
    }
    let front_end = divided(
        12,
        "noise_rms_lsb = 2",
        "microvolts = 1_200_000",
        "top_ohms = 30000; bottom_ohms = 10000",
    );
    let terms = Terms::of(&front_end, vec![3500.0]);
    let model = |values: &[f64], errors: &mut [f64]| terms.circuit.errors_mv(values, errors);
    let trials = RUN.go(&terms.inputs, &[], terms.circuit.outputs(), &model, &|_| ());
    near(trials.share_below(0, 0.0), 0.5, 0.01);
}

/// Guard bands that meet leave no zone: an error, and no thresholds.
#[test]
fn no_acceptance_zone_left() {
    let limits = |over: u32, under: u32| {
        let keys = format!(
            "meaning = \"true-value\"; over_voltage_mv = {over}; under_voltage_mv = {under}"
        );
        let front_end = described(
            "supply-reference",
            &[
                CELL,
                ("converter", "bits = 12; offset_lsb = 2; inl_lsb = 2"),
                ("reference", "microvolts = 1_200_000; tolerance_ppm = 20000"),
                ("limits", &keys),
            ],
        );
        budget(&front_end, RUN, &|_| ())
    };
    let apart = limits(4200, 2700);
    assert!(apart.meets && apart.guard_bands[0].alarms[0].threshold_mv.is_some());
    let close = limits(3600, 3500);
    let uncalibrated = &close.guard_bands[0];
    assert!(uncalibrated.planned && !close.meets);
    assert!(
        uncalibrated
            .problem
            .as_ref()
            .unwrap()
            .starts_with("no acceptance zone left")
    );
    assert!(
        uncalibrated
            .alarms
            .iter()
            .all(|alarm| alarm.threshold_mv.is_none() && alarm.counts.is_none())
    );
    // A calibration makes room again.
    assert!(close.guard_bands[2].problem.is_none());
}

/// A front end that reads up to exactly 65 535 units, the last of the output type: a limit beyond it is no limit, and no
/// wrong one.
#[test]
fn limits_up_to_the_last_output_value() {
    let front_end = described(
        "divided-input",
        &[
            CELL,
            ("converter", "bits = 16"),
            ("reference", "microvolts = 3_276_800"),
            ("divider", "top_ohms = 10000; bottom_ohms = 10000"),
            ("output", "unit_uv = 100"),
            ("limits", "over_voltage_mv = 4100; under_voltage_mv = 2600"),
        ],
    );
    let checked = check::check(&front_end, &|_| ()).unwrap();
    assert_eq!(checked.range_mv.unwrap().1, 6553.45);
    let limits = checked.limits.as_ref().unwrap();
    assert_eq!(limits.wrong_voltage_limits, 0, "{limits:?}");
    assert!(limits.voltage_limits > 131_000 && checked.exact);
}

/// A limit on the true value is one thing: what `emit`, `check`, `replay` and the report compare with is the threshold of the
/// budget. A limit on the reading is compared as it stands, and half of the cells at it are missed.
#[test]
fn a_limit_means_one_thing() {
    for front_end in shipped() {
        let made = budget(&front_end, RUN, &|_| ());
        let planned = made.guard_bands.iter().find(|bands| bands.planned).unwrap();
        let conversion = check::conversion(&front_end).unwrap();
        let described = described_limits::described(&front_end, &conversion, None);
        assert_eq!(described.len(), planned.alarms.len());
        for (limit, alarm) in described.iter().zip(&planned.alarms) {
            let counts = alarm.counts.unwrap();
            let (comparison, count) = match limit.limit.unwrap().trip() {
                CountLimit::Above(count) => (">=", count.0 + 1),
                CountLimit::Below(count) => ("<=", count.0 - 1),
            };
            assert_eq!(
                (counts.comparison, counts.count),
                (comparison, count),
                "{}",
                made.name
            );
            assert!(limit.guard > 1.0 && limit.written == alarm.limit_mv);
        }
        let mut read = front_end.clone();
        read.limits.as_mut().unwrap().meaning = LimitMeaning::Reading;
        let as_read = described_limits::described(&read, &conversion, None);
        assert!(
            as_read
                .iter()
                .all(|limit| limit.value == limit.written && limit.guard == 0.0)
        );
        let made = budget(&read, RUN, &|_| ());
        let planned = made.guard_bands.iter().find(|bands| bands.planned).unwrap();
        for alarm in &planned.alarms {
            near(alarm.missed, 0.5, 0.12);
        }
    }
}

/// What a guard band costs, on either side.
#[test]
fn what_an_alarm_gives_up() {
    let made = |limits: &str| {
        let limits = format!("meaning = \"true-value\"; {limits}");
        let front_end = described(
            "divided-input",
            &[
                CELL,
                ("converter", "bits = 12"),
                ("reference", "microvolts = 2_200_000; tolerance_ppm = 10000"),
                ("divider", "top_ohms = 10000; bottom_ohms = 10000"),
                ("limits", &limits),
            ],
        );
        budget(&front_end, RUN, &|_| ())
    };
    let both = made("over_voltage_mv = 4250; under_voltage_mv = 2450");
    for (alarm, sign) in both.guard_bands[0].alarms.iter().zip([1.0, -1.0]) {
        let threshold_mv = alarm.threshold_mv.unwrap();
        near(
            alarm.given_up_mv,
            sign * (alarm.limit_mv - threshold_mv),
            1e-9,
        );
        // 1 % of the limit, and half a step of count and output.
        assert!(
            (0.9..1.1).contains(&(alarm.given_up_mv / (0.01 * alarm.limit_mv))),
            "{alarm:?}"
        );
        // A healthy cell 50 mV inside, read off by 1 % either way and alike.
        let inside_mv = 50.0 - alarm.given_up_mv;
        let off_mv = 0.01 * alarm.healthy_mv;
        near(
            alarm.false_alarms,
            (0.5 * (1.0 - inside_mv / off_mv)).max(0.0),
            0.02,
        );
    }
}
