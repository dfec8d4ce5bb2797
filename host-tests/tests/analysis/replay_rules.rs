//! Where each rule of a replay begins: the row before it is not yet one, and of two equal ones the first counts. Front ends are made so
//! that a count is a millivolt and all figures are exact.

use std::cell::RefCell;
use std::fmt::Write as _;

use tallyvolt_analysis::calibrate::fit::transfer::Transfer;
use tallyvolt_analysis::calibrate::replay::log::Largest;
use tallyvolt_analysis::calibrate::replay::module::ModuleLog;
use tallyvolt_analysis::calibrate::replay::trace::{Trace, traces};
use tallyvolt_analysis::calibrate::replay::{Limit, Module, replay};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_harness::simulated;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::thermistor::ThermistorModel;

use super::replay::{beside, plain, replayed, sensed, temporary};

/// 1.024 V behind 30 kOhm over 10 kOhm: 4096 counts of 1 mV; or sums of samples, so much finer.
fn of_one_millivolt(samples: u32) -> FrontEnd {
    let path = simulated::front_end_path("hut-divided-12bit");
    let text = std::fs::read_to_string(&path).expect("shipped");
    let text = text
        .replace("microvolts = 1_225_000", "microvolts = 1_024_000")
        .replace("top_ohms = 24900", "top_ohms = 30000")
        .replace("code_centre = \"half\"", "code_centre = \"edge\"")
        .replace("bits = 12", &format!("bits = 12\nsamples = {samples}"));
    front_end_file::parse(&path, &text).expect("still legal")
}

/// The one module of a log: time, count and meter.
fn module(front_end: &FrontEnd, rows: &[(f64, u32, Option<f64>)], limit: Option<f64>) -> Module {
    let mut text = String::from("time,module,count,meter_mv\n");
    for (time, count, mv) in rows {
        let mv = mv.map_or_else(String::new, |mv| mv.to_string());
        let _ = writeln!(text, "{time},a,{count},{mv}");
    }
    let name = format!("rule-{}-{}.csv", text.len(), rows.len());
    let mut found = replayed(front_end, &name, &text, &plain(limit));
    found.modules.remove(0)
}

/// Counts that move, at these times.
fn at(times: &[f64]) -> ModuleLog {
    let rows: Vec<_> = times
        .iter()
        .zip(3000..)
        .map(|(time, count)| (*time, count, None))
        .collect();
    module(&of_one_millivolt(1), &rows, None).log
}

#[test]
fn of_equal_errors_the_first_is_the_worst_and_one_at_the_limit_is_within() {
    let errors = [0.5, -2.0, 2.0, 1.5];
    let rows: Vec<_> = errors
        .iter()
        .zip(3000..)
        .map(|(error, count)| (f64::from(count), count, Some(f64::from(count) - error)))
        .collect();
    let found = module(&of_one_millivolt(1), &rows, Some(2.0));
    let seen = found.log.errors;
    assert_eq!((seen.worst_mv, seen.worst_line), (-2.0, 3));
    assert_eq!((seen.bias_mv, seen.beyond_limit), (0.5, 0));
    assert_eq!(
        (found.limit, found.within()),
        (Some(Limit::EveryRow(2.0)), Some(true))
    );
    assert_eq!(found.limit.map(Limit::mv), Some(2.0));
    let tighter = module(&of_one_millivolt(1), &rows, Some(1.75));
    assert_eq!(
        (tighter.log.errors.beyond_limit, tighter.within()),
        (2, Some(false))
    );
    assert_eq!(tighter.findings(), ["beyond limit"]);
    // One row has no spread.
    let alone = module(&of_one_millivolt(1), &rows[1..2], None).log.errors;
    assert_eq!(
        (alone.rows, alone.spread_mv(), alone.rms_mv()),
        (1, 0.0, 2.0)
    );
}

#[test]
fn of_equal_stretches_the_first_is_the_longest() {
    let counts = [3000, 0, 0, 0, 3000, 0, 0, 0, 3000];
    let rows: Vec<_> = counts
        .iter()
        .enumerate()
        .map(|(at, count)| (at as f64 * 7.0, *count, None))
        .collect();
    let railed = module(&of_one_millivolt(1), &rows, None).log.railed;
    assert_eq!((railed.number, railed.longest_rows), (2, 3));
    assert_eq!((railed.longest_s, railed.longest_line), (14.0, 3));
}

/// The usual interval is the median of the first nine, known only when there are nine, and three of it are no gap yet.
#[test]
fn a_gap_is_longer_than_three_usual_intervals() {
    let times = |intervals: &[f64]| -> Vec<f64> {
        let mut time = 0.0;
        let mut times = vec![time];
        times.extend(intervals.iter().map(|interval| {
            time += interval;
            time
        }));
        times
    };
    let of = |first: [f64; 9], later: f64| {
        let log = at(&times(&[&first[..], &[later]].concat()));
        (log.gap_s(), log.gaps.number)
    };
    let even = [10.0; 9];
    assert_eq!(of(even, 30.0), (Some(30.0), 0));
    assert_eq!(of(even, 30.5), (Some(30.0), 1));
    let slow_first = [100.0, 10.0, 10.0, 10.0, 10.0, 10.0, 10.0, 10.0, 10.0];
    assert_eq!(of(slow_first, 10.0), (Some(30.0), 1));
    let some_fast = [1.0, 10.0, 1.0, 10.0, 1.0, 10.0, 1.0, 10.0, 10.0];
    assert_eq!(of(some_fast, 30.0), (Some(30.0), 0));
}

/// A count stands still for 120 rows while the meter moves: by three steps of one sample it may.
#[test]
fn a_count_is_stuck_from_the_rows_asked_for_and_beyond_three_steps_of_the_meter() {
    let held = |samples: u32, rows: u32, moved_mv: Option<f64>| {
        let rows: Vec<_> = (0..rows)
            .map(|at| {
                let mv = moved_mv.map(|mv| if at == 50 { 3000.0 + mv } else { 3000.0 });
                (f64::from(at), 3000 * samples, mv)
            })
            .collect();
        module(&of_one_millivolt(samples), &rows, None)
    };
    assert_eq!(held(1, 119, None).log.stuck.number, 0);
    let stuck = held(1, 120, None);
    assert_eq!(
        (stuck.log.stuck.number, stuck.log.stuck.longest_s),
        (1, 119.0)
    );
    assert_eq!(stuck.findings(), ["stuck"]);
    for samples in [1, 16] {
        let transfer = Transfer::new(&of_one_millivolt(samples)).expect("legal");
        assert_eq!(transfer.counts_per_mv(3000.0), f64::from(samples));
        let number = |moved_mv| held(samples, 120, Some(moved_mv)).log.stuck.number;
        assert_eq!([2.0, 3.0, 3.5, 4.0].map(number), [0, 0, 1, 1], "{samples}");
    }
}

/// Errors of a thermometer at the sensor's entries, where firmware's temperature is known.
#[test]
fn of_equal_errors_in_temperature_the_first_is_the_worst() {
    let front_end = simulated::front_end("hut-divided-thermistor");
    let law = ThermistorModel::new(
        &front_end,
        front_end.thermistor.as_ref().expect("it has one"),
    );
    let counts = [4000, 6000, 6000, 10_000];
    let logged = |errors: [f64; 4], reads: [f64; 4]| {
        let mut text = String::from("time,module,count,sensor_count,meter_c\n");
        for (at, (count, (error, read))) in counts.iter().zip(errors.iter().zip(reads)).enumerate()
        {
            let _ = writeln!(text, "{at},a,{},{count},{}", 49_000 + at, read - error);
        }
        let name = format!("rule-sensor-{}.csv", errors[1]);
        sensed(&front_end, &name, &text).modules[0]
            .sensing
            .temperatures
    };
    // What firmware reads, one count at a time: the bias of a log of one row.
    let reads = counts.map(|count| {
        let meter = law.celsius(count).expect("in the table").round();
        let text = format!("time,module,count,sensor_count,meter_c\n0,a,49000,{count},{meter}\n");
        let seen = sensed(&front_end, &format!("rule-at-{count}.csv"), &text).modules[0]
            .sensing
            .temperatures;
        assert_eq!((seen.compared, seen.worst_k), (1, seen.bias_k));
        ((meter + seen.bias_k) * 10.0).round() / 10.0
    });
    let near = |one: f64, other: f64| (one - other).abs() < 1e-9;
    let seen = logged([0.5, -8.0, -8.0, 0.1], reads);
    assert!(
        near(seen.worst_k, -8.0) && near(seen.bias_k, -3.85),
        "{seen:?}"
    );
    assert_eq!(seen.worst_line, 3);
}

/// Twice in 40,000 rows, and never more bytes than the file has.
#[test]
fn progress_is_told_as_the_file_is_read() {
    let front_end = of_one_millivolt(1);
    let mut text = String::from("time,module,count\n");
    for at in 0..40_000 {
        let _ = writeln!(text, "{at},a,{}", 3000 + at % 5);
    }
    let path = temporary("rule-progress.csv", text.as_bytes());
    let told = RefCell::new(Vec::new());
    let transfer = Transfer::new(&front_end).expect("legal");
    let progress = |bytes| told.borrow_mut().push(bytes);
    replay(
        &transfer,
        &beside(&front_end),
        &path,
        &plain(None),
        &progress,
    )
    .expect("legal");
    let told = told.into_inner();
    assert_eq!(told.len(), 2, "{told:?}");
    let bytes: u64 = told.iter().sum();
    assert!(
        told.iter().all(|bytes| *bytes > 0) && bytes <= text.len() as u64,
        "{told:?}"
    );
}

/// A picture's columns: as many as there are rows up to 480, and each module's own.
#[test]
fn a_trace_has_a_column_a_row_while_they_are_few() {
    let mut trace = Trace::default();
    for second in 0..480 {
        trace.push(f64::from(second), Some(3000.0), None);
    }
    assert_eq!(trace.columns().count(), 480);
    // Columns are 1 ms wide at first; 960 rows, a second apart, need 2^11 times that.
    for second in 480..960 {
        trace.push(f64::from(second), Some(3000.0), None);
    }
    assert_eq!(trace.columns().count(), 1 + (959.0_f64 / 2.048) as usize);
    assert!(
        trace
            .columns()
            .all(|column| column.to_s - column.from_s <= 2.0)
    );

    let front_end = of_one_millivolt(1);
    let text = "time,module,count,meter_mv\n0,a,3000,2999\n0,b,0,\n1,a,3100,\n";
    let found = replayed(&front_end, "rule-traces.csv", text, &plain(None));
    let modules: Vec<&Module> = found.modules.iter().collect();
    let transfer = Transfer::new(&front_end).expect("legal");
    let largest = Largest {
        cell: transfer.largest,
        sensor: None,
    };
    let path = temporary("rule-traces-again.csv", text.as_bytes());
    let traces = traces(&path, largest, &transfer, &modules, &|_| ()).expect("the same log");
    let columns: Vec<Vec<_>> = traces
        .iter()
        .map(|trace| trace.columns().copied().collect())
        .collect();
    assert_eq!(columns.iter().map(Vec::len).collect::<Vec<_>>(), [2, 1]);
    let first = columns[0][0];
    assert_eq!(
        (first.read_mv, first.meter_mv),
        (Some((3000.0, 3000.0)), Some((2999.0, 2999.0)))
    );
    assert_eq!((first.error_mv, first.fault), (Some((1.0, 1.0)), false));
    assert_eq!((columns[1][0].read_mv, columns[1][0].fault), (None, true));
}
