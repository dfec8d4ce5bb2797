//! `tallyvolt fit` and `tallyvolt replay` as they are run: output, files, exit codes.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tallyvolt_harness::simulated;

use tallyvolt::{Fingerprint, Record};

const METER: [&str; 8] = [
    "--meter-ppm-reading",
    "50",
    "--meter-ppm-range",
    "10",
    "--meter-range-mv",
    "10000",
    "--meter-resolution-mv",
    "0.1",
];

fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("cli-{name}"));
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).expect("temporary");
    folder
}

fn tallyvolt(arguments: &[&str], more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
        .args(arguments)
        .args(more)
        .current_dir(simulated::host_tests())
        .output()
        .expect("the program runs")
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("text")
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).expect("text")
}

const FRONT_END: &str = "front-ends/hut-divided-12bit.toml";
const READINGS: &str = "readings/hut-16-modules.csv";
const LOG: &str = "readings/hut-evening-log.csv";

#[test]
fn the_hut_fitted_stored_and_replayed() {
    let folder = folder("hut");
    let batch = folder.join("batch.csv");
    let records = folder.join("records");
    let (batch, records) = (
        batch.to_str().expect("text"),
        records.to_str().expect("text"),
    );
    let files = [
        "--csv",
        batch,
        "--records",
        records,
        "--address",
        "0x1F00",
        "--sequence",
        "3",
    ];
    let output = tallyvolt(
        &["fit", FRONT_END, READINGS],
        &[&METER[..], &files[..]].concat(),
    );
    let text = out(&output);
    assert_eq!(output.status.code(), Some(1), "{text}{}", err(&output));
    assert!(text.contains("16 modules, 15 good, 1 suspect"), "{text}");
    assert!(text.contains("SUSPECT: gain"), "{text}");
    assert!(text.ends_with("decide what a pack needs.\n"), "{text}");

    // A record for every good module and none for the wrong one; the hex file holds the binary's bytes at the address.
    let names = fs::read_dir(records).expect("a folder").count();
    assert_eq!(names, 30);
    assert!(!Path::new(records).join("hut-11.bin").exists());
    let bytes = fs::read(Path::new(records).join("hut-01.bin")).expect("a record");
    let hex = fs::read_to_string(Path::new(records).join("hut-01.hex")).expect("a record");
    let data: Vec<(u16, Vec<u8>)> = ihex::Reader::new(&hex)
        .filter_map(|line| match line.expect("legal") {
            ihex::Record::Data { offset, value } => Some((offset, value)),
            _ => None,
        })
        .collect();
    assert_eq!(data, [(0x1F00, bytes.clone())]);
    let written = fs::read_to_string(batch).expect("the batch");
    let row = written
        .lines()
        .find(|line| line.starts_with("hut-01,"))
        .expect("a row");
    let digits: String = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
    assert!(row.ends_with(&digits), "{row}");
    let front_end = u32::from_str_radix(row.split(',').rev().nth(1).expect("a field"), 16)
        .expect("hexadecimal");
    let record = Record::decode(&bytes, Fingerprint(front_end)).expect("a record");
    assert_eq!(record.sequence(), 3);

    let output = tallyvolt(
        &[
            "replay",
            FRONT_END,
            LOG,
            "--calibration",
            batch,
            "--stuck-rows",
            "20",
        ],
        &[],
    );
    let text = out(&output);
    assert_eq!(output.status.code(), Some(1), "{text}{}", err(&output));
    assert!(text.contains("16 modules, 2 with findings"), "{text}");
    let found = |module: &str| {
        text.lines()
            .find(|line| {
                line.contains(module) && line.contains('|')
                    || line.starts_with(&format!(" {module}"))
            })
            .unwrap_or_default()
            .to_owned()
    };
    assert!(found("hut-06").contains("STUCK"), "{text}");
    assert!(found("hut-11").contains("SUSPECT CALIBRATION"), "{text}");
    assert!(text.contains("gaps: longest 660 s"), "{text}");
}

#[test]
fn json_says_the_same() {
    let output = tallyvolt(&["fit", FRONT_END, READINGS, "--json"], &METER);
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(
        (json["good"].as_u64(), json["suspect"].as_u64()),
        (Some(15), Some(1))
    );
    let modules = json["modules"].as_array().expect("modules");
    assert_eq!(modules.len(), 16);
    let wrong = &modules[10];
    assert_eq!(wrong["verdict"], "suspect");
    assert_eq!(wrong["reasons"][0]["check"], "gain");
    assert!(
        wrong["record"].is_null()
            && modules[0]["record"]
                .as_str()
                .is_some_and(|hex| hex.len() == 64)
    );
    assert!(
        json["caution"]
            .as_str()
            .is_some_and(|text| text.starts_with("Lithium cells can burn."))
    );
    let output = tallyvolt(
        &["replay", FRONT_END, LOG, "--limit-mv", "25", "--json"],
        &[],
    );
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(json["rows"], 2720);
    assert_eq!(json["modules"].as_array().map(Vec::len), Some(16));
}

#[test]
fn a_sound_batch_exits_0() {
    let folder = folder("sound");
    let readings = folder.join("sound.csv");
    let front_end = simulated::front_end("hut-divided-12bit");
    fs::write(&readings, simulated::batch(&front_end, 3, 3, 5)).expect("temporary");
    let output = tallyvolt(&["fit", FRONT_END, readings.to_str().expect("text")], &[]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let text = out(&output);
    assert!(
        text.contains("one more point")
            && text.contains("correlation")
            && text.contains("taken as ideal"),
        "{text}"
    );
}

#[test]
fn an_unchecked_module_exits_1_and_gets_a_record_only_when_accepted() {
    let folder = folder("unchecked");
    let readings = folder.join("one.csv");
    fs::write(&readings, "module,meter_mv,count\nhut-01,3200,3065\n").expect("temporary");
    let readings = readings.to_str().expect("text");
    for (accepts, records) in [(false, 0), (true, 2)] {
        let written = folder.join(format!("records-{accepts}"));
        let page = folder.join(format!("records-{accepts}.html"));
        let mut arguments = vec!["--records", written.to_str().expect("text")];
        arguments.extend(["--force", "--page", page.to_str().expect("text")]);
        if accepts {
            arguments.push("--accept-unchecked");
        }
        let output = tallyvolt(&["fit", FRONT_END, readings], &arguments);
        let text = out(&output);
        assert_eq!(output.status.code(), Some(1), "{text}{}", err(&output));
        assert!(
            text.contains("hut-01: unchecked: 1 row, and 1 value is fitted")
                && text.contains("UNCHECKED"),
            "{text}"
        );
        assert_eq!(text.contains("--accept-unchecked"), !accepts, "{text}");
        assert_eq!(fs::read_dir(&written).expect("a folder").count(), records);
        let page = fs::read_to_string(&page).expect("a page");
        for said in [">1 unchecked<", "1 row, and 1 value is fitted"] {
            assert!(page.contains(said), "{said}");
        }
        assert!(!page.contains("1 suspect"));
        assert_eq!(page.contains("1 unchecked and accepted"), accepts);
        arguments.retain(|argument| *argument == "--accept-unchecked");
        let json = tallyvolt(&["fit", FRONT_END, readings, "--json"], &arguments);
        let json: serde_json::Value = serde_json::from_slice(&json.stdout).expect("JSON");
        assert_eq!(
            (json["good"].as_u64(), json["unchecked"].as_u64()),
            (Some(0), Some(1))
        );
        assert_eq!(json["modules"][0]["verdict"], "unchecked");
        assert_eq!(json["modules"][0]["record"].is_string(), accepts);
    }
}

#[test]
fn a_page_tells_unchecked_modules_from_suspects() {
    let folder = folder("doubtful");
    let (readings, page) = (folder.join("two.csv"), folder.join("page.html"));
    let text = "module,meter_mv,count\nhut-01,3200,3065\nhut-02,3200,4095\n";
    fs::write(&readings, text).expect("temporary");
    let [readings, file] = [&readings, &page].map(|path| path.to_str().expect("text"));
    tallyvolt(
        &["fit", FRONT_END, readings, "--page", file, "--force"],
        &[],
    );
    let page = fs::read_to_string(&page).expect("a page");
    for said in [
        ">2 suspect or unchecked<",
        ">Suspect or unchecked<",
        "1 unchecked (no record without --accept-unchecked); a suspect module gets no record",
        ">0 of 2<",
    ] {
        assert!(page.contains(said), "{said}");
    }
}

#[test]
fn no_interval_is_said_in_text_and_json() {
    let folder = folder("no-interval");
    let (file, readings) = (folder.join("file.toml"), folder.join("one.csv"));
    let text = fs::read_to_string(simulated::front_end_path("hut-divided-12bit")).expect("shipped");
    fs::write(&file, text.replace("noise_rms_lsb = 0.6\n", "")).expect("temporary");
    fs::write(&readings, "module,meter_mv,count\nhut-01,3200,3065\n").expect("temporary");
    let (file, readings) = (
        file.to_str().expect("text"),
        readings.to_str().expect("text"),
    );
    let text = out(&tallyvolt(&["fit", file, readings], &[]));
    assert!(
        text.contains("no interval: the noise is not known"),
        "{text}"
    );
    let output = tallyvolt(&["fit", file, readings, "--json"], &[]);
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let fit = &json["modules"][0]["fit"];
    assert!(
        fit["reading"].is_null() && fit["uncertainty"].is_null(),
        "{fit}"
    );
    assert!(
        fit["no_interval"]
            .as_str()
            .is_some_and(|why| why.contains("noise_rms_lsb")),
        "{fit}"
    );
    assert_eq!(json["noise"]["source"], "unknown");
}

#[test]
fn a_bad_row_is_shown_with_file_and_line_and_nothing_is_written() {
    let folder = folder("bad-row");
    let readings = folder.join("bad.csv");
    let batch = folder.join("batch.csv");
    let text = "module,meter_mv,count\na,2200,2107\na,3200,3065\nb,3200,3O65\n";
    fs::write(&readings, text).expect("temporary");
    let (readings, path) = (
        readings.to_str().expect("text"),
        batch.to_str().expect("text"),
    );
    let output = tallyvolt(&["fit", FRONT_END, readings, "--csv", path], &[]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        out(&output).contains(
            "2 modules, 0 good, 1 unchecked (no record without --accept-unchecked), 1 suspect"
        ),
        "{}",
        out(&output)
    );
    let said = err(&output);
    assert!(
        said.contains("bad.csv:4") && said.contains("3O65") && said.contains("no file was written"),
        "{said}"
    );
    assert!(!batch.exists());
    let output = tallyvolt(
        &["fit", FRONT_END, readings, "--csv", path, "--skip-bad-rows"],
        &[],
    );
    assert_eq!(output.status.code(), Some(2));
    assert!(batch.exists());
}

#[test]
fn bad_input_exits_2_and_leaves_files_alone() {
    let folder = folder("bad-input");
    let kept = folder.join("kept.csv");
    fs::write(&kept, "as it was").expect("temporary");
    let path = kept.to_str().expect("text");
    let [page, same] = ["page.html", "./page.html"].map(|name| folder.join(name));
    let [page, same] = [&page, &same].map(|path| path.to_str().expect("text"));
    for arguments in [
        vec!["fit", "front-ends/none.toml", READINGS, "--csv", path],
        vec!["fit", FRONT_END, "readings/none.csv", "--csv", path],
        vec!["fit", FRONT_END, LOG, "--csv", path],
        vec![
            "fit",
            FRONT_END,
            READINGS,
            "--csv",
            path,
            "--meter-ppm-reading",
            "-1",
        ],
        vec![
            "fit",
            FRONT_END,
            READINGS,
            "--csv",
            path,
            "--meter-ppm-range",
            "5",
        ],
        // The folder exists: nothing is mixed, and the CSV is not written either.
        vec![
            "fit",
            FRONT_END,
            READINGS,
            "--csv",
            path,
            "--records",
            folder.to_str().expect("text"),
        ],
        vec![
            "fit",
            FRONT_END,
            READINGS,
            "--csv",
            path,
            "--records",
            "no/such/folder/records",
        ],
        // The CSV stands there already: no page is written beside it.
        vec!["fit", FRONT_END, READINGS, "--csv", path, "--page", page],
        // Two outputs and one place, by two names.
        vec!["fit", FRONT_END, READINGS, "--csv", page, "--page", same],
        vec!["fit", FRONT_END, READINGS, "--csv", page, "--address", "-1"],
        vec!["replay", FRONT_END, READINGS],
        vec!["replay", FRONT_END, LOG, "--calibration", READINGS],
        vec!["replay", FRONT_END, "readings/none.csv"],
    ] {
        let output = tallyvolt(&arguments, &[]);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(!err(&output).is_empty(), "{arguments:?}");
        assert_eq!(
            fs::read_to_string(&kept).expect("kept"),
            "as it was",
            "{arguments:?}"
        );
    }
    let left = fs::read_dir(&folder).expect("a folder").count();
    assert_eq!(left, 1, "nothing half written is left");
    let said = err(&tallyvolt(
        &["replay", FRONT_END, LOG, "--calibration", READINGS],
        &[],
    ));
    assert!(
        said.contains(":3: `meter_mv` is no column of a batch"),
        "{said}"
    );
    // The control: each in a place of its own.
    let other = folder.join("batch.csv");
    let written = tallyvolt(
        &["fit", FRONT_END, READINGS, "--page", page, "--csv"],
        &[other.to_str().expect("text")],
    );
    assert_eq!(written.status.code(), Some(1), "a module is suspect");
    assert_eq!(fs::read_dir(&folder).expect("a folder").count(), 3);
}
