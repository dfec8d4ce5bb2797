//! What `budget`, `compare` and `divider` print. `TRYCMD=overwrite cargo test -p tallyvolt-host --test program cli_budget` renews
//! the snapshots.

#![expect(clippy::unwrap_used, reason = "a test may end this way")]

use std::process::{Command, Output};

use serde_json::Value;

fn tallyvolt(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap()
}

fn json(arguments: &[&str]) -> Value {
    serde_json::from_slice(&tallyvolt(arguments).stdout).unwrap()
}

const FILE: &str = "front-ends/candidates/hut-c-supply-12bit-x16.toml";

#[test]
fn what_is_printed_is_what_is_checked_in() {
    trycmd::TestCases::new().case("tests/program/cmd_budget/*.trycmd");
}

/// All totals are in the JSON: 3 states of calibration, 2 temperatures, 3 voltages, each three ways.
#[test]
fn json_holds_all_totals() {
    let made = json(&["budget", FILE, "--json", "--trials", "10000"]);
    let states = made["states"].as_array().unwrap();
    assert_eq!(states.len(), 6);
    let terms = made["terms"].as_array().unwrap().len();
    for state in states {
        assert_eq!(state["contributions"].as_array().unwrap().len(), terms);
        let totals = state["totals"].as_array().unwrap();
        assert_eq!(totals.len(), 3);
        for total in totals {
            for key in [
                "combined_mv",
                "coverage_factor",
                "expanded_mv",
                "twice_combined_mv",
                "sd_mv",
                "at_mv",
            ] {
                assert!(total[key].as_f64().unwrap() > 0.0, "{key}");
            }
            for key in ["worst_mv", "interval_mv"] {
                assert_eq!(total[key].as_array().unwrap().len(), 2, "{key}");
            }
            assert!(total["trust"].is_string() && total.get("effective_dof").is_some());
        }
    }
    assert_eq!(made["guard_bands"].as_array().unwrap().len(), 3);
    assert!(made["caution"].as_str().unwrap().contains("Lithium"));
}

/// The same seed, byte for byte, whatever the number of threads; another seed differs.
#[test]
fn figures_follow_from_the_seed() {
    let with = |threads: &str, seed: &str| {
        Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
            .args([
                "budget", FILE, "--json", "--trials", "20000", "--seed", seed,
            ])
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .env("RAYON_NUM_THREADS", threads)
            .output()
            .unwrap()
            .stdout
    };
    let one = with("1", "42");
    assert!(!one.is_empty());
    assert_eq!(one, with("2", "42"));
    assert_ne!(one, with("2", "43"));
}

#[test]
fn exit_codes() {
    let code = |arguments: &[&str]| tallyvolt(arguments).status.code().unwrap();
    assert_eq!(code(&["budget", FILE, "--trials", "10000"]), 0);
    assert_eq!(
        code(&[
            "budget",
            "tests/data/budget/no-zone.toml",
            "--trials",
            "10000"
        ]),
        1
    );
    assert_eq!(code(&["budget", "tests/data/budget/nowhere.toml"]), 2);
    assert_eq!(code(&["budget", FILE, "--trials", "9"]), 2);
    assert_eq!(
        code(&[
            "compare",
            FILE,
            "tests/data/budget/bad-keys.toml",
            "--trials",
            "10000"
        ]),
        2
    );
    assert_eq!(
        code(&["divider", "front-ends/hut-divided-12bit.toml", "--json"]),
        0
    );
}

/// A comparison keeps good candidates when another file is bad, and names the bad one in the JSON.
#[test]
fn bad_files_do_not_spoil_a_comparison() {
    let made = json(&[
        "compare",
        FILE,
        "tests/data/budget/bad-keys.toml",
        "--json",
        "--trials",
        "10000",
    ]);
    assert_eq!(made["candidates"].as_array().unwrap().len(), 1);
    assert_eq!(made["rows"].as_array().unwrap().len(), 16);
    assert!(
        made["bad_files"][0][0]
            .as_str()
            .unwrap()
            .contains("bad-keys.toml")
    );
}

/// `fit` takes the meter that the file describes, every key of it; options that say otherwise come first.
#[test]
fn the_meter_of_the_file() {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR"));
    let plain = std::fs::read_to_string(
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("front-ends/hut-supply-12bit.toml"),
    )
    .unwrap();
    let keys = "\n[meter]\nreading_ppm = 300\nrange_ppm = 40\nrange_mv = 5000\ndigits = 2\nresolution_mv = 0.1\n";
    let (bare, with) = (folder.join("meter-none.toml"), folder.join("meter.toml"));
    std::fs::write(&bare, &plain).unwrap();
    std::fs::write(&with, plain + keys).unwrap();
    let readings = folder.join("meter.csv");
    // Counts of 1.2 V as drawn: 4096 * 1200 / V - 1/2.
    let rows = "module,meter_mv,count\na,2100,2340\na,2100,2341\na,2800,1755\na,2800,1754\na,3600,1365\na,3600,1364\n";
    std::fs::write(&readings, rows).unwrap();
    let fit = |file: &std::path::Path, options: &[&str]| {
        let mut arguments = vec![
            "fit",
            file.to_str().unwrap(),
            readings.to_str().unwrap(),
            "--json",
        ];
        arguments.extend(options);
        let mut made = json(&arguments);
        made.as_object_mut().unwrap().retain(|key, _| key != "file");
        made
    };
    let options = [
        "--meter-ppm-reading=300",
        "--meter-ppm-range=40",
        "--meter-range-mv=5000",
        "--meter-digits=2",
        "--meter-resolution-mv=0.1",
    ];
    assert_eq!(fit(&with, &[]), fit(&bare, &options));
    assert_ne!(fit(&with, &[]), fit(&bare, &[]));
    assert_eq!(
        fit(&with, &["--meter-ppm-reading=9"]),
        fit(&bare, &["--meter-ppm-reading=9"])
    );
}
