//! Replaying logs: published model series in both topologies, stretches, gaps, and files that are damaged.

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use tallyvolt_harness::simulated;

use flate2::Compression;
use flate2::write::GzEncoder;
use proptest::prelude::*;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use tallyvolt_analysis::calibrate::fit::transfer::Transfer;
use tallyvolt_analysis::calibrate::fit::{Settings as FitSettings, batch_csv, fit, readings};
use tallyvolt_analysis::calibrate::replay::module::{ModuleLog, Watch};
use tallyvolt_analysis::calibrate::replay::sensing::Beside;
use tallyvolt_analysis::calibrate::replay::{Calibrated, Replay, Settings, replay};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::describe::thermistor_table::BuiltTable;
use tallyvolt_analysis::files::rows::problem::RowsError;
use tallyvolt_harness::simulated::{Truth, count, front_end};
use tallyvolt_model::front_end::{FrontEnd, LimitMeaning};
use tallyvolt_model::thermistor::ThermistorModel;

const WATCH: Watch = Watch {
    stuck_rows: 120,
    gap_s: None,
};

pub(super) fn temporary(name: &str, bytes: &[u8]) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, bytes).expect("temporary");
    path
}

pub(super) fn beside(front_end: &FrontEnd) -> Beside<'_> {
    Beside::of(front_end, None).expect("no table to refuse")
}

pub(super) fn plain(limit_mv: Option<f64>) -> Settings {
    Settings {
        calibrations: None,
        limit_mv,
        watch: WATCH,
    }
}

pub(super) fn replayed(
    front_end: &FrontEnd,
    name: &str,
    text: &str,
    settings: &Settings,
) -> Replay {
    let transfer = Transfer::new(front_end).expect("legal");
    replay(
        &transfer,
        &beside(front_end),
        &temporary(name, text.as_bytes()),
        settings,
        &|_| {},
    )
    .expect("a legal header")
}

/// A shipped front end for the NMC cell of the published series: the cell's range is that cell's.
fn for_nmc(name: &str) -> FrontEnd {
    let path = simulated::front_end_path(name);
    let text = std::fs::read_to_string(&path).expect("shipped");
    let text = text
        .replace("min_mv = 2000", "min_mv = 3000")
        .replace("nominal_mv = 3200", "nominal_mv = 3700")
        .replace("max_mv = 3650", "max_mv = 4200");
    front_end_file::parse(&path, &text).expect("still legal")
}

/// Model output of Chen et al. (2020) by PyBaMM; see `published/README.md`.
fn series() -> Vec<(u32, f64)> {
    let path = simulated::host_tests().join("tests/published/series_Chen2020.csv");
    let mut reader = csv::Reader::from_path(path).expect("published");
    reader
        .records()
        .map(|row| {
            let row = row.expect("a row");
            (
                row[0].parse().expect("seconds"),
                row[1].parse().expect("millivolts"),
            )
        })
        .collect()
}

/// Bench readings, fit, and a log of the published series, all of the same simulated module: after the fit its errors are
/// within the stated uncertainty; as drawn, and with another module's calibration, they are not.
#[test]
fn a_published_series_reads_within_the_fits_uncertainty() {
    let series = series();
    assert_eq!(series.len(), 1204);
    for name in [
        "hut-divided-12bit",
        "hut-supply-12bit",
        "hut-supply-12bit-x16",
    ] {
        let front_end = for_nmc(name);
        let transfer = Transfer::new(&front_end).expect("legal");
        let mut random = ChaCha8Rng::seed_from_u64(20);
        let truths = [
            (
                "one",
                Truth {
                    gain: 1.004,
                    offset: -1.2,
                    noise: 0.6,
                },
            ),
            (
                "two",
                Truth {
                    gain: 0.9965,
                    offset: 1.1,
                    noise: 0.6,
                },
            ),
        ];
        let mut bench = String::from("module,meter_mv,count\n");
        let mut log = String::from("time,module,count,meter_mv\n");
        for (module, truth) in &truths {
            for set in [3000.0, 3400.0, 3800.0, 4150.0] {
                for _ in 0..5 {
                    let _ = writeln!(
                        bench,
                        "{module},{set},{}",
                        count(&front_end, truth, set, &mut random)
                    );
                }
            }
        }
        for (seconds, mv) in &series {
            for (module, truth) in &truths {
                let _ = writeln!(
                    log,
                    "{seconds},{module},{},{mv:.3}",
                    count(&front_end, truth, *mv, &mut random)
                );
            }
        }
        let readings =
            readings::parse("bench.csv", bench.as_bytes(), transfer.largest).expect("legal");
        let batch = fit(&front_end, &readings, &FitSettings::default(), &|_| {}).expect("legal");
        let text = batch_csv::text(&batch).expect("text");
        let swapped = String::from_utf8(text.clone())
            .expect("text")
            .replace("one,", "tmp,")
            .replace("two,", "one,")
            .replace("tmp,", "two,");
        let with = |file: &str, text: &[u8]| {
            let path = temporary(&format!("{name}-{file}"), text);
            let calibrations = Some(batch_csv::read(&path, transfer.firmware()).expect("legal"));
            let settings = Settings {
                calibrations,
                ..plain(None)
            };
            replayed(&front_end, &format!("{name}-log.csv"), &log, &settings)
        };
        let fitted = with("batch.csv", &text);
        assert_eq!(fitted.end.rows, 2408);
        for module in &fitted.modules {
            let errors = &module.log.errors;
            assert_eq!(errors.rows, 1204);
            assert_eq!(module.within(), Some(true), "{name}: {errors:?}");
            assert_eq!(
                module.findings(),
                [] as [&str; 0],
                "{name}: {:?}",
                module.log
            );
            assert!(errors.bias_mv.abs() < 0.7, "{name}: {errors:?}");
        }
        // Negative controls.
        for wrong in [
            with("swapped.csv", swapped.as_bytes()),
            replayed(
                &front_end,
                &format!("{name}-drawn.csv"),
                &log,
                &plain(Some(8.0)),
            ),
        ] {
            for module in &wrong.modules {
                assert_eq!(
                    module.within(),
                    Some(false),
                    "{name}: {:?}",
                    module.log.errors
                );
                assert!(module.log.errors.bias_mv.abs() > 5.0);
            }
        }
    }
}

/// A log of one module, a row a second, voltages and counts given.
fn log_of(rows: impl Iterator<Item = (f64, u32, Option<f64>)>) -> ModuleLog {
    let mut text = String::from("time,module,count,meter_mv\n");
    for (time, count, mv) in rows {
        let _ = writeln!(
            text,
            "{time},a,{count},{}",
            mv.map(|mv| mv.to_string()).unwrap_or_default()
        );
    }
    let front_end = front_end("hut-divided-12bit");
    let name = format!("log-of-{}.csv", text.len());
    replayed(&front_end, &name, &text, &plain(None))
        .modules
        .remove(0)
        .log
}

fn mv_of(count: u32) -> f64 {
    (f64::from(count) + 0.5) * 4275.25 / 4096.0
}

#[test]
fn stuck_counts_are_found_unless_the_meter_stands_still_too() {
    let walk = |from: u32| (0..100).map(move |i| from + i % 7);
    let held = |rows: usize| {
        walk(3000)
            .chain(std::iter::repeat_n(3003, rows))
            .chain(walk(3000))
    };
    let timed = |counts: Vec<u32>, mv: fn(usize) -> Option<f64>| {
        log_of(
            counts
                .into_iter()
                .enumerate()
                .map(move |(at, count)| (at as f64, count, mv(at))),
        )
    };
    let stuck = timed(held(200).collect(), |_| None).stuck;
    assert_eq!(
        (stuck.number, stuck.longest_rows, stuck.longest_line),
        (1, 200, 102)
    );
    assert_eq!(timed(held(100).collect(), |_| None).stuck.number, 0);
    let still = timed(held(200).collect(), |_| Some(3135.0));
    assert_eq!(still.stuck.number, 0);
    let moving = timed(held(200).collect(), |at| Some(3135.0 + at as f64 * 0.05));
    assert_eq!(moving.stuck.number, 1);
}

#[test]
fn railed_stretches_gaps_and_time_running_back_are_found() {
    let log = log_of((0..100).map(|at| {
        let count = match at {
            20..=24 => 4095,
            50..=59 => 0,
            70 => 4095,
            _ => 3000 + at % 5,
        };
        let time = match at {
            0..40 => at,
            40..80 => at + 30,
            80 => 5,
            _ => at + 30,
        };
        (f64::from(time), count, None)
    }));
    assert_eq!(log.rows, 100);
    assert_eq!(log.faults, 16);
    assert_eq!(
        (
            log.railed.number,
            log.railed.longest_rows,
            log.railed.longest_line
        ),
        (3, 10, 52)
    );
    assert_eq!(log.time_back, 1);
    // The restart, and the way back from second 5.
    assert_eq!(log.gaps.number, 2);
    assert_eq!(log.gap_s(), Some(3.0));
    // A gap among the first intervals, from which the usual one is learnt.
    let early = log_of(
        [0.0, 10.0, 20.0, 500.0, 510.0, 520.0]
            .map(|time| (time, 3000, None))
            .into_iter(),
    );
    assert_eq!((early.gaps.number, early.gaps.longest_s), (1, 480.0));
}

#[test]
fn bias_spread_and_worst_are_those_of_the_rows() {
    let counts: Vec<u32> = (0..500).map(|at| 2500 + at * 2).collect();
    let log = log_of(counts.iter().enumerate().map(|(at, count)| {
        let off = if at == 321 { 9.0 } else { 1.25 };
        (at as f64, *count, Some(mv_of(*count).floor() - off))
    }));
    let front_end = front_end("hut-divided-12bit");
    let conversion = tallyvolt_analysis::prove::check::conversion(&front_end).expect("legal");
    let errors: Vec<f64> = counts
        .iter()
        .enumerate()
        .map(|(at, count)| {
            let tallyvolt_model::outcome::Outcome::Units(units) = conversion.outcome(*count) else {
                panic!("a voltage")
            };
            f64::from(units) - mv_of(*count).floor() + if at == 321 { 9.0 } else { 1.25 }
        })
        .collect();
    let mean = errors.iter().sum::<f64>() / 500.0;
    let spread = (errors
        .iter()
        .map(|error| (error - mean).powi(2))
        .sum::<f64>()
        / 499.0)
        .sqrt();
    let rms = (errors.iter().map(|error| error * error).sum::<f64>() / 500.0).sqrt();
    assert_eq!(log.errors.rows, 500);
    assert!((log.errors.bias_mv - mean).abs() < 1e-12);
    assert!((log.errors.spread_mv() - spread).abs() < 1e-12);
    assert!((log.errors.rms_mv() - rms).abs() < 1e-12);
    assert_eq!(log.errors.worst_line, 323);
    assert!(log.errors.worst_mv >= 9.0);
}

fn hut_log_bytes() -> Vec<u8> {
    simulated::hut_log().into_bytes()
}

fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::fast());
    encoder.write_all(bytes).expect("memory");
    encoder.finish().expect("memory")
}

#[test]
fn a_gzipped_log_reads_as_the_plain_one() {
    let front_end = front_end("hut-divided-12bit");
    let transfer = Transfer::new(&front_end).expect("legal");
    let read = |name: &str, bytes: &[u8]| {
        let result = replay(
            &transfer,
            &beside(&front_end),
            &temporary(name, bytes),
            &plain(Some(5.0)),
            &|_| {},
        )
        .expect("legal");
        (result.end.rows, format!("{:?}", result.modules))
    };
    let plain = read("same.csv", &hut_log_bytes());
    assert_eq!(plain.0, 170 * 16);
    assert_eq!(read("same.csv.gz", &packed(&hut_log_bytes())), plain);
    // Two members, as `cat a.gz b.gz` makes them.
    let bytes = hut_log_bytes();
    let (front, back) = bytes.split_at(bytes.len() / 2);
    assert_eq!(
        read("joined.csv.gz", &[packed(front), packed(back)].concat()),
        plain
    );
}

#[test]
fn a_log_that_breaks_off_is_reported_and_what_was_read_is_kept() {
    let front_end = front_end("hut-divided-12bit");
    let transfer = Transfer::new(&front_end).expect("legal");
    let mut cut = packed(&hut_log_bytes());
    cut.truncate(cut.len() / 2);
    let result = replay(
        &transfer,
        &beside(&front_end),
        &temporary("cut.csv.gz", &cut),
        &plain(None),
        &|_| {},
    )
    .expect("begins well");
    assert!(result.end.broken.is_some());
    assert!(result.end.rows > 100);
    let missing = replay(
        &transfer,
        &beside(&front_end),
        Path::new("no/such/log.csv"),
        &plain(None),
        &|_| {},
    );
    assert!(missing.is_err());
}

#[test]
fn bad_rows_are_counted_shown_and_spoil_nothing() {
    let front_end = front_end("hut-divided-12bit");
    let mut text = String::from("time,module,count,meter_mv\n");
    for at in 0..100 {
        let _ = writeln!(text, "{at},a,{},3200", 3060 + at % 5);
        let _ = writeln!(
            text,
            "{at},b,{},",
            if at % 2 == 0 { "4096" } else { "3065" }
        );
    }
    text.push_str("x,a,3000,\n1,?,3000,\n,,,\n5\n");
    let result = replayed(&front_end, "bad-rows.csv", &text, &plain(None));
    assert_eq!(
        (
            result.end.rows,
            result.end.bad_rows,
            result.end.problems.len()
        ),
        (204, 54, 20)
    );
    assert_eq!(result.end.problems[0].line, 3);
    assert_eq!(result.modules[0].log.rows, 100);
    assert_eq!(result.modules[1].log.rows, 50);
    let transfer = Transfer::new(&front_end).expect("legal");
    let header = replay(
        &transfer,
        &beside(&front_end),
        &temporary("header.csv", b"when,module,count\n"),
        &plain(None),
        &|_| {},
    );
    assert!(matches!(
        header,
        Err(tallyvolt_analysis::calibrate::replay::ReplayError::Rows(
            RowsError::Header(_)
        ))
    ));
}

/// A log of a front end with a sensor.
pub(super) fn sensed(front_end: &FrontEnd, name: &str, text: &str) -> Replay {
    let thermistor = front_end.thermistor.as_ref().expect("it has one");
    let table = BuiltTable::build(front_end, thermistor).expect("shipped");
    replay(
        &Transfer::new(front_end).expect("legal"),
        &Beside::of(front_end, Some(&table)).expect("shipped"),
        &temporary(name, text.as_bytes()),
        &plain(None),
        &|_| {},
    )
    .expect("a legal header")
}

/// Every count of the sensor, beside the temperature that the part's law gives: within the error that the file allows. A
/// thermometer that is 1 K off is seen.
#[test]
fn temperatures_are_those_of_the_sensors_law() {
    let front_end = front_end("hut-divided-thermistor");
    let law = ThermistorModel::new(
        &front_end,
        front_end.thermistor.as_ref().expect("it has one"),
    );
    let log = |off: f64| {
        let mut text = String::from("time,module,count,sensor_count,meter_c\n");
        for count in 0..=law.largest_count() {
            let celsius = law.celsius(count).filter(|c| (-273.0..1000.0).contains(c));
            let celsius = celsius.map_or_else(String::new, |c| (c + off).to_string());
            let _ = writeln!(text, "{count},a,{},{count},{celsius}", 49_000 + count % 2);
        }
        text
    };
    let right = sensed(&front_end, "sensor.csv", &log(0.0));
    let seen = right.modules[0].sensing.temperatures;
    assert_eq!(seen.rows, 16_381);
    // Counts 2342 to 15053 are -30 to 80 degC; a broken or shorted wire from 15717 on and up to 1171 (`tallyvolt check`).
    assert_eq!(seen.compared, 15_053 - 2342 + 1);
    assert_eq!(seen.short, 1172);
    assert_eq!(seen.open, 16_381 - 15_717);
    assert_eq!(seen.faults() + seen.compared, seen.rows);
    assert_eq!((seen.coldest_c, seen.hottest_c), (Some(-30.0), Some(80.0)));
    assert!(seen.worst_k.abs() <= 0.120, "{seen:?}");
    let off = sensed(&front_end, "sensor-off.csv", &log(1.0));
    let seen = off.modules[0].sensing.temperatures;
    assert!((seen.bias_k + 1.0).abs() < 0.05, "{seen:?}");
    assert!(seen.worst_k < -0.120, "{seen:?}");
}

/// By hand: three readings in a row raise an alarm and three end it, a row without the sensor's count leaves it.
#[test]
fn alarms_are_those_of_the_firmware() {
    let front_end = front_end("hut-divided-thermistor");
    let (warm, hot) = (8000, 4000);
    let cells = [49_000; 12];
    let sensors = [
        warm, hot, hot, warm, hot, hot, hot, 0, warm, warm, warm, warm,
    ];
    let mut text = String::from("time,module,count,sensor_count\n");
    for (at, (cell, sensor)) in cells.iter().zip(sensors).enumerate() {
        let sensor = if sensor == 0 {
            String::new()
        } else {
            sensor.to_string()
        };
        let _ = writeln!(text, "{at},a,{cell},{sensor}");
    }
    // Then the cell falls below 2.8 V and stays there.
    for at in 12..20 {
        let _ = writeln!(text, "{at},a,42000,8000");
    }
    let replayed = sensed(&front_end, "alarms.csv", &text);
    let alarms: Vec<(&str, u64, u64, u64)> = replayed.modules[0]
        .sensing
        .alarms
        .iter()
        .map(|alarm| (alarm.limit, alarm.raised, alarm.rows, alarm.first_line))
        .collect();
    assert_eq!(
        alarms,
        [
            ("over_voltage_mv", 0, 0, 0),
            // Raised at the third low row, the fifteenth, which is line 16; active to the end.
            ("under_voltage_mv", 1, 6, 16),
            // Raised at the seventh row, line 8; the third warm one ends it.
            ("over_temperature_c", 1, 3, 8),
            ("under_temperature_c", 0, 0, 0),
        ]
    );
}

/// The shipped night: one module freezes, the other one's wire breaks, and only the broken wire is a finding.
#[test]
fn a_broken_sensor_wire_is_a_finding_and_frost_an_alarm() {
    let path = simulated::host_tests().join("readings/hut-night-sensors.csv");
    let text = std::fs::read_to_string(path).expect("shipped");
    let replayed = sensed(&front_end("hut-divided-thermistor"), "night.csv", &text);
    let findings: Vec<_> = replayed.modules.iter().map(|m| m.findings()).collect();
    assert_eq!(findings, [vec![], vec!["sensor open or short"]]);
    let frost = &replayed.modules[0].sensing.alarms[3];
    assert_eq!((frost.limit, frost.raised), ("under_temperature_c", 1));
    // An open wire reads as the coldest there is: the alarm trips on the safe side.
    let open = &replayed.modules[1].sensing;
    assert_eq!((open.temperatures.open, open.alarms[3].raised), (3, 1));
}

/// A log with a header and nothing else is refused, whatever its dress.
/// Each finding from the first row on that makes it one: half of all rows may be faults, and one more may not.
#[test]
fn a_finding_begins_where_its_rule_says() {
    let front_end = front_end("hut-divided-thermistor");
    // Count 0 is a fault; the sensor is shorted at 0 and open at 16 000.
    let rows = |cells: &[u32], sensors: &[&str], times: &[u32]| {
        let mut text = String::from("time,module,count,sensor_count\n");
        for (at, time) in times.iter().enumerate() {
            let _ = writeln!(text, "{time},a,{},{}", cells[at], sensors[at]);
        }
        let replayed = sensed(&front_end, "begins.csv", &text);
        replayed.modules[0].findings()
    };
    let none = [""; 5];
    let onward = [0, 1, 2, 3, 4];
    let good = [49_000, 49_001, 49_000, 49_001, 49_000];
    assert!(rows(&good, &none, &onward).is_empty());
    let half = [0, 49_001, 0, 49_001, 49_000];
    assert_eq!(rows(&half, &none, &onward), ["railed"]);
    let most = [0, 49_001, 0, 49_001, 0];
    assert_eq!(rows(&most, &none, &onward), ["railed", "mostly faults"]);
    assert_eq!(rows(&good, &none, &[0, 1, 2, 1, 2]), ["time runs back"]);
    let (shorted, open) = (["0", "", "", "", ""], ["16000", "", "", "", ""]);
    assert_eq!(rows(&good, &shorted, &onward), ["sensor open or short"]);
    assert_eq!(rows(&good, &open, &onward), ["sensor open or short"]);
}

/// A log in steps of 100 uV: errors in millivolts all the same.
#[test]
fn fine_steps_are_read_in_millivolts() {
    let path = simulated::front_end_path("hut-divided-12bit");
    let text = std::fs::read_to_string(&path).expect("shipped");
    let fine = format!("{text}\n[output]\nunit_uv = 100\n");
    let [coarse, fine] = [text, fine].map(|text| {
        let front_end = front_end_file::parse(&path, &text).expect("legal");
        let transfer = Transfer::new(&front_end).expect("legal");
        let mut log = String::from("time,module,count,meter_mv\n");
        for count in 3000..3010 {
            let truth = mv_of(count);
            let _ = writeln!(log, "{count},a,{count},{truth}");
        }
        let replayed = replayed(&front_end, "fine.csv", &log, &plain(Some(0.6)));
        let module = &replayed.modules[0];
        let read = module.log.reading_mv(3000, &transfer);
        (
            module.log.errors.worst_mv.abs(),
            read.expect("a voltage"),
            module.findings(),
        )
    });
    // Half a step of rounding.
    assert!(coarse.0 <= 0.5 && fine.0 <= 0.05, "{coarse:?} {fine:?}");
    assert!((coarse.1 - mv_of(3000)).abs() <= 0.5 && (fine.1 - mv_of(3000)).abs() <= 0.05);
    assert!(coarse.2.is_empty() && fine.2.is_empty());
}

#[test]
fn a_log_without_rows_is_refused() {
    let front_end = front_end("hut-divided-12bit");
    for text in ["time,module,count\n", "time;module;count\r\n\r\n", ""] {
        let refused = replay(
            &Transfer::new(&front_end).expect("legal"),
            &beside(&front_end),
            &temporary("no-rows.csv", text.as_bytes()),
            &plain(None),
            &|_| {},
        );
        assert!(
            matches!(
                refused,
                Err(tallyvolt_analysis::calibrate::replay::ReplayError::Rows(
                    RowsError::Header(_)
                ))
            ),
            "{text:?}"
        );
    }
}

#[test]
fn temperatures_without_a_sensor_are_refused() {
    let front_end = front_end("hut-divided-12bit");
    let refused = replay(
        &Transfer::new(&front_end).expect("legal"),
        &beside(&front_end),
        &temporary("no-sensor.csv", b"time,module,count,sensor_count\n"),
        &plain(None),
        &|_| {},
    );
    let Err(tallyvolt_analysis::calibrate::replay::ReplayError::Rows(RowsError::Header(problem))) =
        refused
    else {
        panic!("{refused:?}");
    };
    assert!(
        problem.line_text().contains("[thermistor]"),
        "{}",
        problem.line_text()
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Any bytes are a log, bad rows, a refused header or a broken file; nothing panics, and every row is counted once.
    #[test]
    fn any_bytes_are_taken_or_refused(rows in prop::collection::vec("[ab]?,?(-?[0-9]{1,3}|x|1e308)?,?[0-9]{0,5},?(32..|nan)?", 0..40), tail: Vec<u8>) {
        let front_end = front_end("hut-supply-12bit");
        let transfer = Transfer::new(&front_end).expect("legal");
        let mut bytes = format!("module,time,count,meter_mv\na,0,1,3200\n{}\n", rows.join("\n")).into_bytes();
        bytes.extend(tail);
        let result = replay(&transfer, &beside(&front_end), &temporary("any.csv", &bytes), &plain(Some(1.0)), &|_| {}).expect("a legal header");
        let good: u64 = result.modules.iter().map(|module| module.log.rows).sum();
        prop_assert_eq!(good + result.end.bad_rows, result.end.rows);
    }
}

/// A limit on the true value trips earlier by its guard band: at the very counts that `budget` prints for the planned calibration.
#[test]
fn limits_on_the_true_value_trip_at_the_guarded_counts() {
    let path = simulated::host_tests().join("front-ends/candidates/hut-b-supply-12bit.toml");
    let front_end = front_end_file::read(&path).expect("shipped");
    let raised = |count: u32| {
        let mut text = String::from("time,module,count\n");
        for at in 0..40 {
            let _ = writeln!(text, "{at},a,{count}");
        }
        let replayed = replayed(
            &front_end,
            &format!("guarded-{count}.csv"),
            &text,
            &plain(None),
        );
        let alarms = &replayed.modules[0].sensing.alarms;
        alarms
            .iter()
            .map(|alarm| alarm.raised)
            .collect::<Vec<u64>>()
    };
    // tests/program/cmd_budget/budget.trycmd: above 3750 mV at counts <= 1318, below 2300 mV at counts >= 2125.
    assert_eq!(raised(1319), [0, 0]);
    assert_eq!(raised(1318), [1, 0]);
    assert_eq!(raised(2124), [0, 0]);
    assert_eq!(raised(2125), [0, 1]);
    // The control: the bare limits lie far beyond.
    let mut bare = front_end.clone();
    bare.limits.as_mut().expect("it has limits").meaning = LimitMeaning::Reading;
    let log = "time,module,count\n0,a,1318\n1,a,1318\n2,a,1318\n3,a,1318\n";
    let alarms = replayed(&bare, "bare.csv", log, &plain(None));
    assert_eq!(alarms.modules[0].sensing.alarms[0].raised, 0);
}

/// A module that was accepted unchecked has a record and may have no interval: it is converted with, and not judged by one.
#[test]
fn a_module_accepted_unchecked_is_converted_without_a_limit() {
    let mut front_end = front_end("hut-divided-12bit");
    front_end.converter.accuracy.noise_rms_lsb = None;
    let transfer = Transfer::new(&front_end).expect("legal");
    let rows = "module,meter_mv,count\na,2000,1917\na,3600,3448\n";
    let readings = readings::parse("rows.csv", rows.as_bytes(), transfer.largest).expect("rows");
    let settings = FitSettings {
        accept_unchecked: true,
        ..FitSettings::default()
    };
    let batch = fit(&front_end, &readings, &settings, &|_| {}).expect("legal");
    let module = &batch.modules[0];
    assert!(module.gets_record() && module.fit.as_ref().expect("a fit").reading.is_none());
    let text = batch_csv::text(&batch).expect("text");
    let path = temporary("unchecked.csv", &text);
    let known = batch_csv::read(&path, transfer.firmware()).expect("its own file");
    let text = String::from_utf8(text).expect("text");
    let record = text.split(',').find(|cell| cell.trim().len() == 64);
    let record = record.expect("32 bytes").trim();
    // A digit too many or too few is no byte, so nothing there is a record.
    for other in [format!("{record}0"), record[1..].to_owned()] {
        let path = temporary("digits.csv", text.replace(record, &other).as_bytes());
        let refused = batch_csv::read(&path, transfer.firmware()).expect_err("not hexadecimal");
        assert!(refused.to_string().contains("record: "), "{refused}");
    }
    let settings = Settings {
        calibrations: Some(known),
        ..plain(None)
    };
    let log = "time,module,count,meter_mv\n0,a,3448,3600\n";
    let replayed = replayed(&front_end, "unchecked-log.csv", log, &settings);
    let module = &replayed.modules[0];
    assert_eq!(module.calibrated, Calibrated::Recorded);
    assert!(module.limit.is_none() && module.findings().is_empty());
}
