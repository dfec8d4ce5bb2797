//! Thermistors: published values, every count of the shipped front ends, tables of every shape, and bad files.

use std::path::{Path, PathBuf};

use super::table::tables;
use num_rational::BigRational;
use proptest::prelude::*;
use tallyvolt::{
    ConfigError, Count, CountLimit, LimitSide, SensorSide, Table, Temperature, Thermistor,
    ThermistorDescription,
};
use tallyvolt_analysis::describe::front_end_file::{self, problem::FileError};
use tallyvolt_analysis::describe::thermistor_table::BuiltTable;
use tallyvolt_analysis::prove::check::{self, thermistor::exact};
use tallyvolt_model::front_end::{FrontEnd, SensorLaw};
use tallyvolt_model::limits::{Beyond, Walk};
use tallyvolt_model::thermistor::{Law, ThermistorModel, platinum};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../front-ends")
}

/// The points of a shipped table: degC and ohms. The source stands at its head.
fn points(file: &str) -> Vec<(f64, f64)> {
    let text = std::fs::read_to_string(folder().join("parts").join(file)).expect("a shipped table");
    text.lines()
        .filter(|line| !line.starts_with(['#', 't']))
        .map(|line| {
            let (celsius, ohms) = line.split_once(',').expect("two columns");
            (
                celsius.parse().expect("a number"),
                ohms.parse().expect("a number"),
            )
        })
        .collect()
}

fn shipped() -> Vec<FrontEnd> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder())
        .expect("the shipped front ends")
        .map(|entry| entry.expect("a file").path())
        .filter(|path| {
            path.extension()
                .is_some_and(|extension| extension == "toml")
        })
        .collect();
    files.sort();
    let front_ends: Vec<_> = files
        .iter()
        .map(|file| front_end_file::read(file).expect("a shipped front end"))
        .filter(|front_end| front_end.thermistor.is_some())
        .collect();
    assert_eq!(front_ends.len(), 4, "shipped front ends with a thermistor");
    front_ends
}

/// Murata catalogue R44E, p. 15 (NCPxxXH103): the law goes through all 34 points; B25/50 and B25/85 from them are 3379
/// and 3434 K, where the catalogue prints 3380 and (from memory) 3434.
#[test]
fn murata_10k_table() {
    let points = points("ntc-10k-b3380.csv");
    assert_eq!(points.len(), 34);
    let law = Law::Table(points.clone());
    for (celsius, ohms) in &points {
        let answered = law.celsius(*ohms).expect("a point of the table");
        assert!(
            (answered - celsius).abs() < 1e-9,
            "{ohms} ohm: {answered} degC"
        );
    }
    assert_eq!((law.celsius(195_653.0), law.celsius(530.9)), (None, None));
    let at = |wanted: f64| {
        points
            .iter()
            .find(|point| point.0 == wanted)
            .expect("a point")
            .1
    };
    let b = |hot: f64| (at(25.0) / at(hot)).ln() / (1.0 / 298.15 - 1.0 / (hot + 273.15));
    assert_eq!((b(50.0).round(), b(85.0).round()), (3379.0, 3434.0));
}

/// The B equation with Murata's B25/85: exact at 25 and 85 degC by definition, 2.4 degC too warm at -20 degC, which is
/// why a maker's table is better than its B.
#[test]
fn b_equation() {
    let law = Law::BEquation(10_000.0, 3434.0);
    let points = points("ntc-10k-b3380.csv");
    let mut largest: f64 = 0.0;
    for (celsius, ohms) in points {
        let answered = law.celsius(ohms).expect("any resistance above zero");
        if celsius == 25.0 || celsius == 85.0 {
            assert!(
                (answered - celsius).abs() < 0.02,
                "{celsius} degC: {answered}"
            );
        }
        if (-20.0..=60.0).contains(&celsius) {
            largest = largest.max((answered - celsius).abs());
        }
    }
    assert!(largest > 2.3 && largest < 2.5, "{largest} degC");
}

/// Campbell Scientific 109SS manual, table C-1 (10K3A): Steinhart-Hart with the printed coefficients gives all 42 points to
/// 0.0024 degC.
#[test]
fn steinhart_hart_10k3a() {
    let law = Law::SteinhartHart(1.129_241e-3, 2.341_077e-4, 8.775_468e-8);
    let points = points("ntc-10k3a.csv");
    assert_eq!(points.len(), 42);
    for (celsius, ohms) in &points {
        let answered = law.celsius(*ohms).expect("any resistance above zero");
        assert!(
            (answered - celsius).abs() < 0.0024,
            "{ohms} ohm: {answered} degC"
        );
    }
    // A maker's table in steps of 5 degC, read by the B equation between its points, against the same law.
    let thinned = Law::Table(points.iter().copied().step_by(5).collect());
    let largest = points
        .iter()
        .filter_map(|(_, ohms)| Some((thinned.celsius(*ohms)? - law.celsius(*ohms)?).abs()))
        .fold(0.0, f64::max);
    assert!(largest < 0.01, "{largest} degC");
}

/// IEC 60751: the law rounds to the printed table (two decimals, -200 to 600 degC and more), and comes back.
#[test]
fn platinum_by_iec_60751() {
    let points = points("pt100-iec60751.csv");
    assert_eq!(points.len(), 81);
    let law = Law::Platinum(100.0);
    for (celsius, printed) in &points {
        let ohms = platinum(100.0, *celsius);
        assert!(
            (ohms - printed).abs() < 0.005 + 1e-9,
            "{celsius} degC: {ohms}"
        );
        let answered = law.celsius(ohms).expect("within the law");
        assert!(
            (answered - celsius).abs() < 1e-9,
            "{celsius} degC: {answered}"
        );
    }
    for (celsius, printed) in [(25.0, 109.73), (85.0, 132.80), (850.0, 390.48)] {
        assert!((platinum(100.0, celsius) - printed).abs() < 0.005 + 1e-9);
    }
    assert_eq!((law.celsius(18.0), law.celsius(391.0)), (None, None));
}

/// Every count of every shipped thermistor: equal to the exact fraction, monotonic, and within the certified error.
#[test]
fn every_count_of_every_shipped_thermistor() {
    let mut swept = 0;
    for front_end in shipped() {
        let drawn = front_end.thermistor.as_ref().expect("filtered");
        let built = BuiltTable::build(&front_end, drawn).expect("checked on reading");
        let sensor = built.firmware().expect("checked on building");
        let checked = check::thermistor::check(&front_end, drawn, &built, &|count| {
            sensor.temperature(count)
        });
        assert!(checked.holds(), "{}: {checked:?}", front_end.name);
        assert_eq!((checked.wrong_counts, checked.monotonic), (0, true));
        swept += checked.counts_swept;

        // The certificate again, from the law and the firmware alone.
        let model = ThermistorModel::new(&front_end, drawn);
        let mut largest: f64 = 0.0;
        for count in 0..=model.largest_count() {
            if let Ok(answered) = sensor.temperature(Count(count)) {
                let celsius = model.celsius(count).expect("a temperature by the law");
                largest = largest.max((f64::from(answered.0) / 10.0 - celsius).abs() * 1000.0);
            }
        }
        assert_eq!(largest, built.answer_error_mc, "{}", front_end.name);
        assert!(largest <= f64::from(drawn.max_error_mc));
    }
    assert_eq!(swept, 65_539 + 16_384 + 1027 + 16_384);
}

/// One wrong count, one wrong fault and one turn back are each noticed.
#[test]
fn a_wrong_subject_is_noticed() {
    let front_end = shipped().remove(0);
    let drawn = front_end.thermistor.as_ref().expect("filtered");
    let built = BuiltTable::build(&front_end, drawn).expect("checked on reading");
    for broken in [built.table.first + 700, built.table.first - 1] {
        let checked =
            check::thermistor::check(&front_end, drawn, &built, &|count: tallyvolt::Count| {
                if count.0 == broken {
                    return Ok(Temperature(-2000));
                }
                exact(&built, count.0)
            });
        assert_eq!(checked.wrong_counts, 1);
        assert_eq!(checked.wrong_example, Some(broken));
        assert!(!checked.holds());
        assert_eq!(checked.monotonic, broken < built.table.first);
    }
}

/// A colder sensor than the law says: the certificate must be able to fail.
#[test]
fn a_table_of_another_part_is_not_certified() {
    let front_end = shipped()
        .into_iter()
        .find(|front_end| front_end.name == "hut-supply-10bit-thermistor")
        .expect("shipped");
    let mut other = front_end.clone();
    let drawn = other.thermistor.as_mut().expect("filtered");
    drawn.law = SensorLaw::BEquation {
        r25_ohms: BigRational::from_integer(10_100.into()),
        b25_85_k: BigRational::from_integer(3434.into()),
    };
    let built =
        BuiltTable::build(&front_end, front_end.thermistor.as_ref().expect("set")).expect("built");
    let model = ThermistorModel::new(&other, other.thermistor.as_ref().expect("set"));
    let largest = (built.table.first..built.table.first + built.table.counts)
        .filter_map(|count| {
            let answered = exact(&built, count).ok()?;
            Some((f64::from(answered.0) / 10.0 - model.celsius(count)?).abs())
        })
        .fold(0.0, f64::max);
    assert!(
        largest > 0.3,
        "1 % of resistance is about 0.25 degC, plus the table: {largest}"
    );
}

/// What a person would check by hand: Murata's resistances, the divider's count, the firmware's answer.
#[test]
fn published_resistances_through_the_whole_input() {
    let front_end = shipped()
        .into_iter()
        .find(|front_end| front_end.name == "hut-divided-thermistor")
        .expect("shipped");
    let drawn = front_end.thermistor.as_ref().expect("set");
    let built = BuiltTable::build(&front_end, drawn).expect("checked on reading");
    let sensor = built.firmware().expect("checked on building");
    let mut compared = 0;
    for (celsius, ohms) in points("ntc-10k-b3380.csv") {
        if !(-25.0..=75.0).contains(&celsius) {
            continue;
        }
        let count = (16_384.0 * ohms / (ohms + 10_000.0)).floor() as u32;
        let answered = sensor.temperature(Count(count)).expect("inside the table");
        // 112 m degC of the table, 18 of a count, of which half.
        assert!(
            (f64::from(answered.0) / 10.0 - celsius).abs() < 0.135,
            "{celsius}: {answered:?}"
        );
        compared += 1;
    }
    assert_eq!(compared, 21);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    /// Temperature limits of any table: the core's halving against a walk over every count.
    #[test]
    fn temperature_limits_equal_a_walk(
        (entries, _, fraction_bits) in tables(),
        part in 0.0..1.0_f64,
        over in any::<bool>(),
    ) {
        let Ok(table) = Table::new(&entries, 4, fraction_bits) else { return Ok(()) };
        let sensor = Thermistor::new(ThermistorDescription {
            side: SensorSide::Low,
            table,
            first: Count(100),
            counts: table.positions(),
            low_wire: Count(20),
            high_wire: Count(2000),
        }).expect("consistent");
        let counts = 100..100 + table.positions();
        let read = |count| sensor.temperature(Count(count)).expect("inside").0;
        let walked = Walk::over(counts.map(|count| (count, i32::from(read(count)))));
        let (lowest, highest) = (read(100).min(read(99 + table.positions())), read(100).max(read(99 + table.positions())));
        let span = f64::from(highest) - f64::from(lowest) + 4.0;
        let limit = (f64::from(lowest) - 2.0 + part * span) as i16;
        let (side, exact) = if over {
            (LimitSide::Over, walked.as_ref().and_then(|walk| walk.over_limit(limit.into())))
        } else {
            (LimitSide::Under, walked.as_ref().and_then(|walk| walk.under_limit(limit.into())))
        };
        let answered = match sensor.count_limit(side, Temperature(limit)) {
            Ok(CountLimit::Above(count)) => Some(Beyond::Above(count.0)),
            Ok(CountLimit::Below(count)) => Some(Beyond::Below(count.0)),
            Err(_) => None,
        };
        prop_assert_eq!(answered, exact);
    }
}

#[test]
fn tables_that_are_none_are_refused() {
    let mut entries: Vec<i16> = (0..16).collect();
    assert!(Table::new(&entries, 0, 0).is_ok());
    assert!(Table::new(&entries[..15], 0, 0).is_err());
    assert!(Table::new(&[0; 65], 0, 0).is_err() && Table::new(&entries, 15, 0).is_err());
    assert!(Table::new(&entries, 0, 7).is_err());
    entries[9] = 3;
    assert_eq!(
        Table::new(&entries, 0, 0),
        Err(ConfigError::TableTurnsBack { index: 9 })
    );
    let entries: Vec<i16> = (0..16).collect();
    let description = ThermistorDescription {
        side: SensorSide::Low,
        table: Table::new(&entries, 4, 0).expect("rises"),
        first: Count(10),
        counts: 240,
        low_wire: Count(9),
        high_wire: Count(250),
    };
    assert!(Thermistor::new(description).is_ok());
    for broken in [
        ThermistorDescription {
            counts: 0,
            ..description
        },
        ThermistorDescription {
            counts: 241,
            ..description
        },
        ThermistorDescription {
            low_wire: Count(10),
            ..description
        },
        ThermistorDescription {
            high_wire: Count(249),
            ..description
        },
        ThermistorDescription {
            high_wire: Count(u32::MAX),
            ..description
        },
        ThermistorDescription {
            first: Count(0),
            ..description
        },
        ThermistorDescription {
            first: Count(u32::MAX),
            ..description
        },
    ] {
        assert!(Thermistor::new(broken).is_err(), "{broken:?}");
    }
}

/// A shipped file with one line changed: the problem names the key, and the fix is there.
#[test]
fn bad_files_say_where_and_why() {
    let cases = [
        (
            "hut-supply-thermistor",
            "side = \"high\"",
            "side = \"high\"\nexcitation_mv = 3000",
            "thermistor.excitation_mv",
        ),
        (
            "hut-supply-thermistor",
            "max_error_mc = 120",
            "max_error_mc = 61",
            "thermistor.max_error_mc",
        ),
        (
            "hut-supply-thermistor",
            "max_error_mc = 120",
            "max_error_mc = 50",
            "thermistor.max_error_mc",
        ),
        (
            "hut-supply-thermistor",
            "samples = 4",
            "samples = 1024",
            "thermistor.samples",
        ),
        (
            "hut-supply-thermistor",
            "steinhart_hart_b = 2.341077e-4",
            "",
            "thermistor.steinhart_hart_b",
        ),
        (
            "hut-supply-thermistor",
            "steinhart_hart_a",
            "platinum_ohms = 100\nsteinhart_hart_a",
            "thermistor",
        ),
        (
            "hut-divided-thermistor",
            "parts/ntc-10k-b3380.csv",
            "parts/none.csv",
            "thermistor.table_csv",
        ),
        (
            "hut-divided-thermistor",
            "min_c = -30\nmax_c = 80",
            "min_c = -60\nmax_c = 80",
            "thermistor.max_c",
        ),
        (
            "hut-divided-thermistor",
            "min_c = -30\nmax_c = 80",
            "min_c = 80\nmax_c = -30",
            "thermistor.min_c",
        ),
        (
            "hut-divided-pt1000-thermistor",
            "excitation_mv = 3000",
            "excitation_mv = 3000.0001",
            "thermistor.excitation_mv",
        ),
        (
            "hut-divided-thermistor",
            "over_temperature_c = 55",
            "over_temperature_c = 85",
            "limits.over_temperature_c",
        ),
        (
            "hut-divided-thermistor",
            "over_temperature_c = 55",
            "over_temperature_c = 55.05",
            "limits.over_temperature_c",
        ),
        (
            "hut-divided-thermistor",
            "over_voltage_mv = 3600",
            "over_voltage_mv = 5000",
            "limits.over_voltage_mv",
        ),
        (
            "hut-divided-thermistor",
            "over_voltage_mv = 3600",
            "over_voltage_mv = 3600.5",
            "limits.over_voltage_mv",
        ),
        (
            "hut-divided-thermistor",
            "under_voltage_mv = 2800",
            "under_voltage_mv = 3600",
            "limits.under_voltage_mv",
        ),
        (
            "hut-divided-thermistor",
            "latching = false",
            "latching = \"no\"",
            "limits.latching",
        ),
        (
            "hut-divided-thermistor",
            "debounce_readings = 3",
            "debounce_readings = 128",
            "limits.debounce_readings",
        ),
    ];
    for (name, from, to, key) in cases {
        let path = folder().join(format!("{name}.toml"));
        let text = std::fs::read_to_string(&path).expect("shipped");
        assert!(text.contains(from), "{name} {from}");
        let error = front_end_file::parse(&path, &text.replacen(from, to, 1)).expect_err(to);
        let FileError::Problems { .. } = &error else {
            panic!("{to}: {error}");
        };
        let lines = error.lines();
        assert_eq!(lines.len(), 1, "{lines:?}");
        assert!(lines[0].contains(&format!(": {key}")), "{key}: {lines:?}");
    }

    // A temperature limit without the sensor it is for.
    let path = folder().join("hut-divided-thermistor.toml");
    let text = std::fs::read_to_string(&path).expect("shipped");
    let (before, rest) = text.split_once("[thermistor]").expect("there");
    let (_, limits) = rest.split_once("[limits]").expect("there");
    let error =
        front_end_file::parse(&path, &format!("{before}[limits]{limits}")).expect_err("two");
    assert_eq!(error.lines().len(), 2);
    assert!(error.lines()[0].contains("needs a [thermistor]"));
}
