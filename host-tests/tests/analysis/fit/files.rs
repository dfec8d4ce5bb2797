//! Readings and batches as files.

use super::{DIVIDED, SUPPLY, fit_of, fitted, one_millivolt_a_count, reading_of, uncertainty_of};
use std::path::Path;
use tallyvolt::Record;
use tallyvolt_analysis::calibrate::fit::readings::{self};
use tallyvolt_analysis::calibrate::fit::stored::Words;
use tallyvolt_analysis::calibrate::fit::transfer::Transfer;
use tallyvolt_analysis::calibrate::fit::{Batch, batch_csv};
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

/// Every column of a module's row, read by its name.
#[test]
fn the_batch_file_tells_everything_of_a_module() {
    // A count is a millivolt: 11/6 counts of offset, and 2/3 of one that the middle lies beside the line.
    let text = "module,meter_mv,count\nm,2000,2001\nm,2000,2002\nm,2825,2827\nm,2825,2828\nm,3650,3651\nm,3650,3652\nx,2000,2000\n";
    let batch = fitted(text, &one_millivolt_a_count());
    let cells = Cells::of(&batch);
    let fit = fit_of(&batch.modules[0]);
    let (u, reading) = (uncertainty_of(fit), reading_of(fit));
    for (name, value) in [
        ("module", "m"),
        ("verdict", "good"),
        ("reasons", ""),
        ("mode", "gain-and-offset"),
        ("rows", "6"),
        ("voltages", "3"),
        ("first", "2"),
        ("counts", "4093"),
        ("factor", "32768"),
        // (2 - 11/6 + 1/2) * 2^15 = 21 845.33
        ("addend", "21845"),
        ("shift", "15"),
        ("numerator", ""),
        ("at_first", ""),
        ("step_log2", ""),
        (
            "front_end",
            &format!("{:08x}", batch.transfer.fingerprint().0),
        ),
    ] {
        assert_eq!(cells.text(0, name), value, "{name}");
    }
    for (name, value) in [
        ("gain", 1.0),
        ("offset", 11.0 / 6.0),
        ("largest_residual", 2.0 / 3.0),
        ("distance_mv", 1.0 / 3.0 / 32_768.0),
        ("u_gain", u.gain.u),
        ("u_offset", u.offset.u),
        ("correlation", u.correlation),
        ("uncertainty_min_mv", reading.at_min),
        ("uncertainty_max_mv", reading.at_max),
        ("uncertainty_worst_mv", reading.worst),
    ] {
        let found: f64 = cells.text(0, name).parse().expect("a number");
        assert!((found - value).abs() < 1e-9, "{name}: {found} {value}");
    }
    for (name, value) in [
        ("module", "x"),
        ("verdict", "unchecked"),
        ("reasons", ""),
        ("mode", "gain-only"),
    ] {
        assert_eq!(cells.text(1, name), value, "{name}");
    }
    // A quotient's constants have columns of their own.
    let supply = front_end(SUPPLY);
    let batch = fitted(&simulated::batch(&supply, 1, 2, 3), &supply);
    let Words::Quotient {
        numerator,
        at_first,
        step_log2,
    } = fit_of(&batch.modules[0]).stored.expect("storable").words
    else {
        panic!("a supply reference converts by a quotient");
    };
    let cells = Cells::of(&batch);
    for (name, value) in [
        ("factor", String::new()),
        ("addend", String::new()),
        ("shift", String::new()),
        ("numerator", numerator.to_string()),
        ("at_first", at_first.to_string()),
        ("step_log2", step_log2.to_string()),
    ] {
        assert_eq!(cells.text(0, name), value, "{name}");
    }
}

/// Every bad row is counted, the first ones are kept to be shown, and a batch has so many modules and no more.
#[test]
fn rows_and_modules_are_counted() {
    let parse = |rows: &str| {
        let text = format!("module,meter_mv,count\n{rows}");
        readings::parse("r.csv", text.as_bytes(), 4095)
    };
    let rows: String = (0..300)
        .map(|row| format!("m,3200,{}\n", if row % 3 == 0 { "many" } else { "3065" }))
        .collect();
    let found = parse(&rows).expect("a header");
    assert_eq!((found.rows, found.bad_rows), (300, 100));
    assert_eq!(found.problems.len(), readings::PROBLEMS_KEPT.min(100));
    assert_eq!(found.modules[0].readings.len(), 200);
    assert_eq!(found.modules[0].bad_lines.len(), 100);
    let many = |modules: usize| {
        (0..modules)
            .map(|at| format!("m{at},3200,3065\n"))
            .collect::<String>()
    };
    // What is read from a file is bounded.
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("many-modules.csv");
    let read = |modules: usize| {
        let text = format!("module,meter_mv,count\n{}", many(modules));
        std::fs::write(&path, text).expect("temporary");
        let read = readings::read(&path, 4095);
        read.map(|readings| readings.modules.len())
            .map_err(|error| error.to_string())
    };
    assert_eq!(read(readings::MODULES_MAX), Ok(4096));
    let said = read(readings::MODULES_MAX + 1).expect_err("too many");
    assert!(said.contains("more than 4096 modules"), "{said}");
}

/// A batch's file is refused by its own rules, each with the line and what serde or the rule says.
#[test]
fn a_batch_file_is_read_by_its_rules() {
    let front_end = one_millivolt_a_count();
    let firmware = Transfer::new(&front_end).expect("legal");
    // The second lies 5 % off and gets no record.
    let text = "module,meter_mv,count
m,2000,2001
m,2825,2826
m,3650,3651
7,2000,2100
7,2825,2966
7,3650,3832
";
    let batch = fitted(text, &front_end);
    let cells = Cells::of(&batch);
    assert_eq!(
        (cells.text(0, "module"), cells.text(0, "verdict")),
        ("m", "good")
    );
    assert_eq!(
        (cells.text(1, "verdict"), cells.text(1, "reasons")),
        ("suspect", "gain")
    );
    let written = String::from_utf8(batch_csv::text(&batch).expect("text")).expect("text");
    let (header, rows) = written.split_once('\n').expect("a header");
    let (good, suspect) = rows.split_once('\n').expect("two rows");
    let record = cells.text(0, "record");
    let read = |text: &str| batch_csv::parse("b.csv", text.as_bytes(), firmware.firmware());
    let refused = |text: &str, words: &str| {
        let said = read(text).expect_err("refused").to_string();
        assert!(
            said.contains(words) && !said.contains("deserialize"),
            "{said}"
        );
    };
    let known = read(&written).expect("as written");
    assert!(known["m"].recorded && !known["7"].recorded);
    // As a spreadsheet of another country saves it.
    let semicolons = |text: &str| text.replace(',', ";").replace('.', ",");
    let other = read(&semicolons(&written)).expect("the same");
    assert_eq!(other["m"].uncertainty_mv, known["m"].uncertainty_mv);
    assert_eq!(other["7"].uncertainty_mv, known["7"].uncertainty_mv);
    // A comma in a name is no decimal comma.
    let named = read(&semicolons(&written).replace("\nm;", "\nrow m,3;")).expect("the same");
    assert!(named.contains_key("row m,3"), "{:?}", named.keys());
    refused(header, "a header and no module below it");
    refused(&format!("{header}\n{good}\n{good}"), "b.csv:3");
    // A good row needs its record, a suspect one has none, and one that stands there must be right all the same.
    refused(
        &format!("{header}\n{}", good.replace(record, "")),
        "record: ",
    );
    refused(
        &format!(
            "{header}\n{}",
            good.replace(record, "no hexadecimal digits")
        ),
        "record: ",
    );
    let accepted = good.replace("good", "unchecked");
    assert!(read(&format!("{header}\n{accepted}")).expect("a record")["m"].recorded);
    refused(
        &format!("{header}\n{}", accepted.replace(record, "00")),
        "record: ",
    );
    assert!(
        read(&format!("{header}\n{suspect}"))
            .expect("no record")
            .contains_key("7")
    );
    refused(
        &format!("{header}\n{}", good.replace(",good,", ",good,,more")),
        "",
    );
    let rows = cells.text(0, "rows");
    refused(
        &format!(
            "{header}\n{}",
            good.replacen(&format!(",{rows},"), ",three,", 1)
        ),
        "invalid digit",
    );
    // A batch of as many modules as can be calibrated, and of one more.
    let many = |modules: usize| {
        let rows = (0..modules).map(|module| suspect.replacen('7', &format!("m{module}"), 1));
        format!("{header}\n{}", rows.collect::<String>())
    };
    assert_eq!(
        read(&many(readings::MODULES_MAX)).expect("a batch").len(),
        readings::MODULES_MAX
    );
    refused(&many(readings::MODULES_MAX + 1), "more than 4096 modules");
}

/// The rows of a batch's file.
struct Cells {
    names: csv::StringRecord,
    rows: Vec<csv::StringRecord>,
}

impl Cells {
    fn of(batch: &Batch) -> Self {
        let bytes = batch_csv::text(batch).expect("text");
        let mut table = csv::Reader::from_reader(&bytes[..]);
        Self {
            names: table.headers().expect("a header").clone(),
            rows: table.records().map(|row| row.expect("a row")).collect(),
        }
    }

    fn text(&self, row: usize, name: &str) -> &str {
        let column = self.names.iter().position(|known| known == name);
        &self.rows[row][column.unwrap_or_else(|| panic!("{name} in {:?}", self.names))]
    }
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
