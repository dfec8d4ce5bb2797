//! Every reason to suspect a module, and how the mode is chosen.

use super::{DIVIDED, changed, fit_of, fitted, fitted_with, parsed, uncertainty_of};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use tallyvolt_analysis::calibrate::fit::meter::Meter;
use tallyvolt_analysis::calibrate::fit::mode::Mode;
use tallyvolt_analysis::calibrate::fit::noise::NoiseSource;
use tallyvolt_analysis::calibrate::fit::verdict::{Check, Verdict};
use tallyvolt_analysis::calibrate::fit::{Settings, fit};
use tallyvolt_harness::simulated::{self, Truth, count, front_end, hut_readings, normal};

/// Checks that make a module suspect, in a batch of sound ones; the sound ones stay good.
fn suspected(rows: &[(f64, i64)]) -> Vec<Check> {
    let front_end = front_end(DIVIDED);
    let mut text = simulated::batch(&front_end, 40, 3, 11);
    for (mv, count) in rows {
        text.push_str(&format!("odd,{mv},{count}\n"));
    }
    let batch = fitted(&text, &front_end);
    let (odd, sound) = batch.modules.split_last().expect("modules");
    for module in sound {
        assert!(module.is_good(), "{module:?}");
    }
    odd.reasons.iter().map(|reason| reason.check).collect()
}

pub fn nominal(mv: f64) -> i64 {
    (mv / (4275.25 / 4096.0)).floor() as i64
}

fn sound_rows() -> Vec<(f64, i64)> {
    [2000.0, 2600.0, 3200.0, 3600.0]
        .iter()
        .map(|mv| (*mv, nominal(*mv)))
        .collect()
}

#[test]
fn every_reason_is_found_and_named() {
    fn with(change: impl Fn(&mut Vec<(f64, i64)>)) -> Vec<Check> {
        let mut rows = sound_rows();
        change(&mut rows);
        suspected(&rows)
    }
    assert_eq!(with(|_| {}), []);
    assert_eq!(
        with(|rows| rows
            .iter_mut()
            .for_each(|row| row.1 = nominal(row.0 * 1.02))),
        [Check::Gain]
    );
    assert_eq!(
        with(|rows| rows.iter_mut().for_each(|row| row.1 += 25)),
        [Check::Offset]
    );
    assert_eq!(
        with(|rows| rows[1].1 += 30),
        [Check::Outlier, Check::Residual, Check::Offset]
    );
    assert_eq!(with(|rows| rows.push((3650.0, 4095))), [Check::Saturated]);
    assert_eq!(with(|rows| rows.push((2000.0, 0))), [Check::Saturated]);
    let swapped = with(|rows| (rows[1].1, rows[2].1) = (rows[2].1, rows[1].1));
    assert!(swapped.contains(&Check::NonMonotonic), "{swapped:?}");
    assert_eq!(
        suspected(&[(3200.0, nominal(3200.0)), (3300.0, nominal(3300.0))]),
        [Check::TooClose]
    );
    // A second module of 0.5 % less under the same name.
    let doubled = with(|rows| {
        let others: Vec<_> = rows
            .iter()
            .map(|row| (row.0 + 0.5, nominal(row.0 * 1.005)))
            .collect();
        rows.extend(others);
    });
    assert!(doubled.contains(&Check::DuplicatedId), "{doubled:?}");
    let scattered = with(|rows| {
        let others: Vec<_> = rows
            .iter()
            .flat_map(|row| [(row.0, row.1 + 3), (row.0, row.1 - 3)])
            .collect();
        rows.extend(others);
    });
    assert!(scattered.contains(&Check::Scatter), "{scattered:?}");
    assert!(!scattered.contains(&Check::DuplicatedId), "{scattered:?}");
    // 3.49 : 1 misread as 1 : 1.
    let stored = with(|rows| rows.iter_mut().for_each(|row| row.1 /= 3));
    assert!(
        stored.contains(&Check::Stored) && stored.contains(&Check::Gain),
        "{stored:?}"
    );
    let falling = with(|rows| {
        let counts: Vec<i64> = rows.iter().rev().map(|row| row.1).collect();
        rows.iter_mut()
            .zip(counts)
            .for_each(|(row, count)| row.1 = count);
    });
    assert!(
        falling.contains(&Check::NonMonotonic) && falling.contains(&Check::Gain),
        "{falling:?}"
    );
}

#[test]
fn the_mode_follows_the_data_or_the_wish() {
    let front_end = front_end(DIVIDED);
    let one = "module,meter_mv,count\na,3200,3065\n";
    let two = "module,meter_mv,count\na,2200,2107\na,3200,3065\n";
    let with = |text: &str, mode| {
        fitted_with(
            text,
            &front_end,
            &Settings {
                mode,
                ..Settings::default()
            },
        )
    };
    let mode = |text: &str, wish| with(text, wish).modules[0].fit.as_ref().map(|fit| fit.mode);
    assert_eq!(mode(one, None), Some(Mode::GainOnly));
    assert_eq!(mode(two, None), Some(Mode::GainAndOffset));
    assert_eq!(mode(two, Some(Mode::GainOnly)), Some(Mode::GainOnly));
    assert_eq!(mode(one, Some(Mode::GainAndOffset)), None);
    let batch = with(one, None);
    assert_eq!(batch.modules[0].verdict(), Verdict::Unchecked);
    assert_eq!(
        fit_of(&batch.modules[0]).mode_reason,
        "one voltage gives one value"
    );
    // An offset that is not fitted is uncertain by what the file states, 2 counts / sqrt(3), and pulls the gain.
    let uncertainty = uncertainty_of(fit_of(&batch.modules[0]));
    assert!((uncertainty.offset.u - 2.0 / 3_f64.sqrt()).abs() < 1e-9);
    assert!(uncertainty.correlation > 0.5, "{uncertainty:?}");
}

#[test]
fn a_bad_row_spoils_its_own_module_only() {
    let front_end = front_end(DIVIDED);
    let text = "module,meter_mv,count,temp_c\n\
                a,2200,2107,23\na,3200,3065,23\n\
                b,2200,2107,23\nb,3200,many,23\n\
                ../c,3200,3065,23\n\
                d,nan,3065,23\nd,1e9,3065,23\nd,3200,4096,23\nd,3200,3065,999\nd,3200\nd,3200,3065,23,7,8\n\
                e,2200,2107,\ne,3200,3065,\n";
    let readings = parsed(text, &front_end);
    let lines: Vec<u64> = readings
        .problems
        .iter()
        .map(|problem| problem.line)
        .collect();
    assert_eq!(lines, [5, 6, 7, 8, 9, 10, 11, 12]);
    assert!(
        readings
            .problems
            .iter()
            .all(|problem| problem.file == "readings.csv" && !problem.fix.is_empty())
    );
    let batch = fit(&front_end, &readings, &Settings::default(), &|_| {}).expect("legal");
    let verdicts: Vec<(&str, Verdict)> = batch
        .modules
        .iter()
        .map(|module| (module.module.as_str(), module.verdict()))
        .collect();
    assert_eq!(
        verdicts,
        [
            ("a", Verdict::Unchecked),
            ("b", Verdict::Suspect),
            ("d", Verdict::Suspect),
            ("e", Verdict::Unchecked)
        ]
    );
    assert_eq!(
        fit_of(&batch.modules[0]).gain,
        fit_of(&batch.modules[3]).gain
    );
    assert_eq!(batch.modules[1].reasons[0].check, Check::BadRow);
}

/// Good needs something that could have contradicted the fit: a row more than values, and a noise to judge it by.
#[test]
fn what_nothing_could_contradict_is_unchecked() {
    let verdict = |rows: &[(f64, i64)], stated: bool, mode| {
        let front_end = if stated {
            front_end(DIVIDED)
        } else {
            changed(DIVIDED, &[("noise_rms_lsb = 0.6\n", "")])
        };
        let rows: String = rows
            .iter()
            .map(|(mv, count)| format!("a,{mv},{count}\n"))
            .collect();
        let settings = Settings {
            mode,
            ..Settings::default()
        };
        let batch = fitted_with(
            &format!("module,meter_mv,count\n{rows}"),
            &front_end,
            &settings,
        );
        let module = &batch.modules[0];
        assert_eq!(
            module.unchecked.is_some(),
            module.verdict() != Verdict::Good
        );
        assert!(!module.gets_record() || module.is_good());
        module.verdict()
    };
    let row = |mv: f64| (mv, nominal(mv));
    let one = [row(3200.0)];
    let two = [row(2200.0), row(3600.0)];
    let three = [row(2200.0), row(2900.0), row(3600.0)];
    let twice = [row(3200.0), row(3200.0)];
    assert_eq!(verdict(&one, true, None), Verdict::Unchecked);
    assert_eq!(verdict(&two, true, None), Verdict::Unchecked);
    assert_eq!(verdict(&twice, true, None), Verdict::Good);
    assert_eq!(verdict(&two, true, Some(Mode::GainOnly)), Verdict::Good);
    assert_eq!(verdict(&three, true, None), Verdict::Good);
    // One row more, and no noise to judge it by.
    assert_eq!(verdict(&three, false, None), Verdict::Unchecked);
    assert_eq!(verdict(&twice, false, None), Verdict::Unchecked);
    // A gain that no such board has is found all the same.
    assert_eq!(verdict(&[(3200.0, 2000)], true, None), Verdict::Suspect);
    assert_eq!(verdict(&[(3200.0, 2000)], false, None), Verdict::Suspect);
}

/// No noise known is not no noise, and an offset that nobody states is not 0.
#[test]
fn what_is_not_known_gives_no_interval() {
    let no_noise = [("noise_rms_lsb = 0.6\n", "")];
    let no_offset = [("offset_lsb = 2.0\n", "")];
    let why = |changes: &[(&str, &str)], rows: &str| {
        let front_end = changed(DIVIDED, changes);
        let batch = fitted(&format!("module,meter_mv,count\n{rows}"), &front_end);
        let fit = fit_of(&batch.modules[0]).clone();
        let none = fit.no_interval.is_some();
        assert_eq!(
            (fit.uncertainty.is_none(), fit.reading.is_none()),
            (none, none)
        );
        assert!(!none || fit.next_point.is_none());
        fit.no_interval.unwrap_or_default()
    };
    let one = "a,3200,3065\n";
    let two = "a,2200,2107\na,3200,3065\n";
    let six = "a,3200,3065\n".repeat(6);
    assert_eq!(why(&[], one), "");
    assert!(why(&no_noise, one).contains("noise_rms_lsb"));
    assert!(why(&no_noise, two).contains("noise_rms_lsb"));
    assert_eq!(why(&no_noise, &six), "");
    assert!(why(&no_noise, &"a,3200,3065\n".repeat(5)).contains("noise_rms_lsb"));
    assert!(why(&no_offset, one).contains("offset_lsb"));
    assert_eq!(why(&no_offset, two), "");
}

/// A fine sweep turns back by noise and rounding now and then: that is no reason. A real step back is.
#[test]
fn a_sweep_may_turn_back_by_noise_but_not_by_more() {
    for bits in [8, 10] {
        let front_end = changed(DIVIDED, &[("bits = 12", &format!("bits = {bits}"))]);
        let truth = Truth {
            gain: 1.001,
            offset: 0.2,
            noise: 0.6,
        };
        let mut random = ChaCha8Rng::seed_from_u64(8);
        let mut turned = 0;
        let mut text = String::from("module,meter_mv,count\n");
        for module in 0..100 {
            let mut last = 0;
            for step in 0..60 {
                let mv = 2000.0 + 27.0 * f64::from(step);
                let mut count = count(&front_end, &truth, mv, &mut random);
                if module == 99 && step == 30 {
                    count -= if bits == 8 { 14 } else { 20 };
                } else {
                    turned += u32::from(count <= last);
                }
                last = count;
                text.push_str(&format!("m{module},{mv},{count}\n"));
            }
        }
        assert!(
            bits > 8 || turned > 100,
            "the simulation has no sweep that turns back"
        );
        let batch = fitted(&text, &front_end);
        let (odd, sound) = batch.modules.split_last().expect("modules");
        for module in sound {
            assert!(module.is_good(), "{bits} bits: {:?}", module.reasons);
        }
        let found: Vec<Check> = odd.reasons.iter().map(|reason| reason.check).collect();
        assert!(
            found.contains(&Check::NonMonotonic),
            "{bits} bits: {found:?}"
        );
    }
}

/// One row of ten is wrong in a batch of one module: its own rows tell the noise, and the wrong one is judged by the others.
#[test]
fn a_wrong_row_does_not_hide_behind_the_noise_it_makes() {
    let front_end = changed(DIVIDED, &[("noise_rms_lsb = 0.6\n", "")]);
    let mut text = simulated::batch(&front_end, 1, 5, 3);
    assert!(fitted(&text, &front_end).modules[0].is_good());
    let last = text.trim_end().rsplit(',').next().expect("a count").len();
    text.truncate(text.trim_end().len() - last);
    text.push_str("3400\n");
    let batch = fitted(&text, &front_end);
    let found: Vec<Check> = batch.modules[0]
        .reasons
        .iter()
        .map(|reason| reason.check)
        .collect();
    assert!(found.contains(&Check::Outlier), "{found:?}");
}

#[test]
fn the_huts_wrong_module_is_found_and_no_other() {
    let front_end = front_end(DIVIDED);
    let meter = Meter {
        ppm_reading: 50.0,
        ppm_range: 10.0,
        range_mv: 10_000.0,
        resolution_mv: 0.1,
        ..Meter::default()
    };
    let batch = fitted_with(
        &hut_readings(),
        &front_end,
        &Settings {
            meter,
            ..Settings::default()
        },
    );
    for module in &batch.modules {
        let checks: Vec<Check> = module.reasons.iter().map(|reason| reason.check).collect();
        let wanted: &[Check] = if module.module == simulated::WRONG_MODULE {
            &[Check::Gain]
        } else {
            &[]
        };
        assert_eq!(checks, wanted, "{module:?}");
    }
}

#[test]
fn noise_is_estimated_without_the_module_that_is_broken() {
    let front_end = front_end(DIVIDED);
    let mut text = simulated::batch(&front_end, 60, 4, 21);
    let mut random = ChaCha8Rng::seed_from_u64(2);
    for _ in 0..40 {
        let mv = 3200.0;
        text.push_str(&format!(
            "loose,{mv},{}\n",
            nominal(mv) + (60.0 * normal(&mut random)) as i64
        ));
    }
    let noise = fitted(&text, &front_end).noise;
    assert_eq!(noise.source, NoiseSource::Repeats);
    // Noise of 0.6 steps and rounding: sqrt(0.36 + 1/12) = 0.666.
    assert!((noise.per_count - 0.666).abs() < 0.03, "{noise:?}");
}
