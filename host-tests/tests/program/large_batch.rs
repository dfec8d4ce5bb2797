//! A batch too large for a table: what is wrong is shown module by module, the good ones as lowest, highest and median.

use std::fs;
use std::path::Path;
use std::process::Command;

use tallyvolt_harness::simulated;

const FRONT_END: &str = "front-ends/hut-divided-12bit.toml";

fn fitted(readings: &str, more: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
        .args(["fit", FRONT_END, readings])
        .args(more)
        .env("COLUMNS", "100")
        .current_dir(simulated::host_tests())
        .output()
        .expect("the program runs");
    assert_eq!(output.status.code(), Some(1), "a module in it is suspect");
    String::from_utf8(output.stdout).expect("text")
}

/// The shipped batch five times over, under names of their own.
fn eighty_modules() -> String {
    let path = simulated::host_tests().join("readings/hut-16-modules.csv");
    let shipped = fs::read_to_string(path).expect("shipped");
    let rows: Vec<&str> = shipped
        .lines()
        .filter(|row| row.starts_with("hut-"))
        .collect();
    let copies = (0..5).flat_map(|copy| rows.iter().map(move |row| format!("bank-{copy}-{row}\n")));
    "module,meter_mv,count,temp_c\n".to_owned() + &copies.collect::<String>()
}

#[test]
fn good_modules_of_a_large_batch_are_told_by_their_spread() {
    let readings = Path::new(env!("CARGO_TARGET_TMPDIR")).join("large-batch.csv");
    fs::write(&readings, eighty_modules()).expect("temporary");
    let readings = readings.to_str().expect("text");
    let text = fitted(readings, &[]);
    let json: serde_json::Value =
        serde_json::from_str(&fitted(readings, &["--json"])).expect("JSON");
    let modules = json["modules"].as_array().expect("a list");
    let (good, others): (Vec<_>, Vec<_>) = modules.iter().partition(|of| of["verdict"] == "good");
    assert_eq!((good.len(), others.len()), (75, 5));
    for module in modules {
        let shown = text.contains(module["module"].as_str().expect("a name"));
        assert_eq!(shown, module["verdict"] != "good", "{}", module["module"]);
    }
    let spread = |of: &dyn Fn(&serde_json::Value) -> &serde_json::Value| {
        let mut values: Vec<f64> = good
            .iter()
            .filter_map(|module| of(&module["fit"]).as_f64())
            .collect();
        values.sort_by(f64::total_cmp);
        assert_eq!(values.len(), 75);
        [values[0], values[74], values[37]]
    };
    let [low, high, middle] = spread(&|fit| &fit["gain"]);
    let gain = format!("{low:.6} to {high:.6}, median {middle:.6}");
    let [low, high, middle] = spread(&|fit| &fit["offset"]);
    let offset = format!("{low:+.3} to {high:+.3} counts, median {middle:+.3}");
    let [low, high, middle] = spread(&|fit| &fit["reading"]["worst"]);
    let reading = format!("+-{low:.3} to {high:.3} mV, median {middle:.3}");
    for told in [
        &gain,
        &offset,
        &reading,
        "not every module is shown: --json and --csv have them all",
    ] {
        assert!(text.contains(told), "{told} is not in\n{text}");
    }
}
