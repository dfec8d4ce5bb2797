//! What `budget`, `compare` and `divider` print. `TRYCMD=overwrite cargo test -p tallyvolt-host --test cli_budget` renews
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
    trycmd::TestCases::new().case("tests/cli_budget/*.trycmd");
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
    assert_eq!(made["rows"].as_array().unwrap().len(), 14);
    assert!(
        made["bad_files"][0][0]
            .as_str()
            .unwrap()
            .contains("bad-keys.toml")
    );
}
