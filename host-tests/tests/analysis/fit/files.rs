//! Readings and batches as files.

use super::{DIVIDED, fit_of, fitted};
use std::path::Path;
use tallyvolt::Record;
use tallyvolt_analysis::calibrate::fit::batch_csv;
use tallyvolt_analysis::calibrate::fit::readings::{self};
use tallyvolt_analysis::calibrate::fit::stored::Words;
use tallyvolt_analysis::calibrate::fit::transfer::Transfer;
use tallyvolt_harness::simulated::{self, front_end, hut_log, hut_readings};

#[test]
fn headers_are_checked() {
    let parse = |header: &str| {
        readings::parse("r.csv", header.as_bytes(), 4095)
            .err()
            .map(|error| error.to_string())
    };
    assert_eq!(parse("module,meter_mv,count\n"), None);
    assert_eq!(parse("count, temp_c ,module,meter_mv\n"), None);
    assert_eq!(parse("module,meter_mv,count,colour\n"), None);
    for (header, found) in [
        ("module,meter_mv\n", "`count` is missing"),
        ("module,meter_mv,count,tmp_c\n", "nearly `temp_c`"),
        ("module,meter_mv,count,count\n", "`count` stands twice"),
        ("", "the file is empty"),
    ] {
        let said = parse(header).unwrap_or_default();
        assert!(said.contains(found) && said.contains("r.csv:1"), "{said}");
    }
}

#[test]
fn the_batch_file_gives_back_what_was_stored_and_refuses_what_was_changed() {
    let front_end = self::front_end(DIVIDED);
    let batch = fitted(&simulated::batch(&front_end, 20, 2, 3), &front_end);
    let bytes = batch_csv::text(&batch).expect("text");
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    let path = folder.join("batch-file.csv");
    let read = |bytes: &[u8]| {
        std::fs::write(&path, bytes).expect("temporary");
        batch_csv::read(&path, batch.transfer.firmware())
    };
    let known = read(&bytes).expect("unchanged");
    assert_eq!(known.len(), 20);
    for module in &batch.modules {
        let stored = fit_of(module).stored.expect("storable");
        let conversion = batch
            .transfer
            .firmware()
            .recorded(&stored.record)
            .expect("sound");
        assert_eq!(
            known[&module.module].conversion.constants(),
            conversion.constants()
        );
        assert_eq!(
            Record::decode(&stored.record.encode(), batch.transfer.fingerprint()),
            Ok(stored.record)
        );
    }
    let text = String::from_utf8(bytes).expect("text");
    let stored = fit_of(&batch.modules[3]).stored.expect("storable");
    let Words::Line { addend, .. } = stored.words else {
        panic!("a divided input converts by a line");
    };
    let changed = text.replace(&addend.to_string(), &(addend + 1).to_string());
    let said = read(changed.as_bytes()).expect_err("changed").to_string();
    assert!(
        said.contains(":5:") && said.contains("not the constants of its row"),
        "{said}"
    );
    let other = Transfer::new(&self::front_end("hut-divided-10bit")).expect("legal");
    std::fs::write(&path, &text).expect("temporary");
    let said = batch_csv::read(&path, other.firmware())
        .expect_err("another front end")
        .to_string();
    assert!(said.contains("made for front end"), "{said}");
}

/// The shipped data is what the generator makes; `TALLYVOLT_WRITE_READINGS=1` writes it anew.
#[test]
fn shipped_data_is_what_the_generator_makes() {
    for (name, made) in [
        ("hut-16-modules.csv", hut_readings()),
        ("hut-evening-log.csv", hut_log()),
    ] {
        let path = simulated::host_tests().join("readings").join(name);
        if std::env::var_os("TALLYVOLT_WRITE_READINGS").is_some() {
            std::fs::write(&path, &made).expect("writable");
        }
        assert_eq!(
            std::fs::read_to_string(&path).expect("shipped"),
            made,
            "{name}"
        );
    }
}
