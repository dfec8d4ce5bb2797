//! What benches write is read: each of these files is the same readings or the same log in another dress.

use std::fs;

use super::{FRONT_END, READINGS, at, out, shipped};

/// What a command makes of a file: its JSON without what was understood.
fn made(content: &[u8], command: &str) -> (serde_json::Value, String) {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    fs::write(folder.join("hut.toml"), shipped(FRONT_END)).expect("written");
    fs::write(folder.join("given.csv"), content).expect("written");
    let output = at(folder, &[command, "hut.toml", "given.csv", "--json"]);
    let mut json: serde_json::Value = serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|error| panic!("{error}: {}", super::err(&output)));
    let understood = json["read_as"].take();
    (json, understood.as_str().expect("a sentence").to_owned())
}

/// The shipped readings, row by row, without the comments: module, mV, count, degC.
fn rows() -> Vec<[String; 4]> {
    shipped(READINGS)
        .lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .map(|line| {
            let fields: Vec<&str> = line.split(',').collect();
            [fields[0], fields[1], fields[2], fields[3]].map(str::to_owned)
        })
        .collect()
}

/// The readings with a header, a separator and a way to write each row.
fn written(header: &str, row: impl Fn(&[String; 4]) -> String) -> String {
    let rows: Vec<String> = rows().iter().map(row).collect();
    format!("{header}\n{}\n", rows.join("\n"))
}

fn volts(mv: &str) -> String {
    let (whole, part) = mv.split_once('.').expect("decimals");
    let (volts, milli) = whole.split_at(whole.len() - 3);
    format!("{volts}.{milli}{part}")
}

fn comma(number: &str) -> String {
    number.replace('.', ",")
}

#[test]
fn readings_in_every_dress_are_the_same_readings() {
    let plain = written("module,meter_mv,count,temp_c", |row| row.join(","));
    let (wanted, understood) = made(plain.as_bytes(), "fit");
    assert_eq!(
        understood,
        "comma between fields, decimal point, module, meter_mv, count, temp_c"
    );
    let utf16 = |text: &str, order: fn(u16) -> [u8; 2]| -> Vec<u8> {
        let units = std::iter::once(0xFEFF).chain(text.encode_utf16());
        units.flat_map(order).collect()
    };
    let semicolons = written("Module;Meter [mV];Count;Temp °C", |row| {
        row.iter()
            .map(|field| comma(field))
            .collect::<Vec<_>>()
            .join(";")
    });
    for (what, content, says) in [
        ("CRLF", plain.replace('\n', "\r\n").into_bytes(), ""),
        ("CR", plain.replace('\n', "\r").into_bytes(), ""),
        ("BOM", [&[0xEF, 0xBB, 0xBF], plain.as_bytes()].concat(), ""),
        ("UTF-16 LE", utf16(&plain, u16::to_le_bytes), ""),
        (
            "UTF-16 BE",
            utf16(&semicolons, u16::to_be_bytes),
            "decimal comma",
        ),
        (
            "semicolons and a decimal comma",
            semicolons.clone().into_bytes(),
            "semicolon between fields, decimal comma, module from `Module`, meter_mv from `Meter [mV]`",
        ),
        (
            "tabs",
            written("module\tmeter_mv\tcount\ttemp_c", |row| row.join("\t")).into_bytes(),
            "tab between fields, decimal point",
        ),
        (
            "tabs and a decimal comma",
            comma(&written("module\tmeter_mv\tcount\ttemp_c", |row| {
                row.join("\t")
            }))
            .into_bytes(),
            "tab between fields, decimal comma",
        ),
        (
            "volts",
            written("module,voltage_v,count,temp_c", |row| {
                let [module, mv, count, celsius] = row;
                format!("{module},{},{count},{celsius}", volts(mv))
            })
            .into_bytes(),
            "meter_mv from `voltage_v` times 10^3",
        ),
        (
            "volts, decimal comma, capitals, spaces",
            written(
                " Module Name ; METER V ; Raw Counts ; Temperature [degC] ",
                |row| {
                    let [module, mv, count, celsius] = row;
                    format!(
                        " {module} ; {} ; {count} ; {} ",
                        comma(&volts(mv)),
                        comma(celsius)
                    )
                },
            )
            .into_bytes(),
            "meter_mv from `METER V` times 10^3",
        ),
        (
            "quotes and another order",
            written("\"count\",\"temp_c\",\"module\",\"meter_mv\"", |row| {
                let [module, mv, count, celsius] = row;
                format!("\"{count}\",\"{celsius}\",\"{module}\",\"{mv}\"")
            })
            .into_bytes(),
            "",
        ),
        (
            "further columns",
            written("no,module,meter_mv,count,temp_c,note", |row| {
                format!("1,{},\"as \"\"found\"\", Tuesday\"", row.join(","))
            })
            .into_bytes(),
            "not used: no note",
        ),
        (
            "empty fields that a spreadsheet adds",
            written("module,meter_mv,count,temp_c", |row| row.join(",") + ",,").into_bytes(),
            "",
        ),
    ] {
        let (found, understood) = made(&content, "fit");
        assert_eq!(
            found["bad_rows"].as_array().map(Vec::len),
            Some(0),
            "{what}: {found}"
        );
        assert!(found == wanted, "{what}: {understood}");
        assert!(understood.contains(says), "{what}: {understood}");
    }
    // The control: one count that is another is another fit.
    let (other, _) = made(plain.replacen("1963", "1964", 1).as_bytes(), "fit");
    assert!(other != wanted);
}

#[test]
fn times_as_seconds_or_iso_8601_are_the_same_log() {
    let log = |time: fn(u32) -> String, header: &str| {
        let rows = (0..300).map(|at| {
            format!(
                "{},hut-1,{},{}\n",
                time(at * 10),
                3000 + at % 7,
                3131 + at % 7
            )
        });
        format!(
            "{header},module,count,meter_mv\n{}",
            rows.collect::<String>()
        )
    };
    let (wanted, _) = made(log(|at| at.to_string(), "time").as_bytes(), "replay");
    assert_eq!(wanted["rows"], 300);
    // A gap is told by time alone: the control that times matter at all.
    let (gap, _) = made(
        log(
            |at| (at + if at > 1500 { 900 } else { 0 }).to_string(),
            "time",
        )
        .as_bytes(),
        "replay",
    );
    assert!(gap != wanted);
    for (text, says) in [
        (log(|at| (at * 1000).to_string(), "Time_ms"), "times 10^-3"),
        (
            log(
                |at| {
                    format!(
                        "2026-01-10T{:02}:{:02}:{:02}Z",
                        18 + at / 3600,
                        at / 60 % 60,
                        at % 60
                    )
                },
                "Timestamp",
            ),
            "ISO 8601 with its offset from UTC",
        ),
        (
            log(
                |at| {
                    format!(
                        "2026-01-10 {:02}:{:02}:{:02}",
                        18 + at / 3600,
                        at / 60 % 60,
                        at % 60
                    )
                },
                "time",
            ),
            "ISO 8601 without an offset",
        ),
    ] {
        let (found, understood) = made(text.as_bytes(), "replay");
        assert!(found == wanted, "{understood}: {found:#}");
        assert!(understood.contains(says), "{understood}");
    }
}

/// A batch that a spreadsheet saved calibrates as the one that was written.
#[test]
fn a_batch_saved_by_a_spreadsheet_is_read() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    fs::write(folder.join("hut.toml"), shipped(FRONT_END)).expect("written");
    fs::write(folder.join("bench.csv"), shipped(READINGS)).expect("written");
    fs::write(folder.join("log.csv"), shipped(super::LOG)).expect("written");
    at(
        folder,
        &["fit", "hut.toml", "bench.csv", "--csv", "batch.csv"],
    );
    let batch = fs::read_to_string(folder.join("batch.csv")).expect("written");
    // Reasons hold semicolons; a spreadsheet quotes those fields.
    let saved: String = batch
        .lines()
        .map(|line| {
            let fields: Vec<String> = line
                .split(',')
                .map(|field| {
                    if field.contains(';') {
                        format!("\"{field}\"")
                    } else {
                        comma(field)
                    }
                })
                .collect();
            fields.join(";") + "\r\n"
        })
        .collect();
    fs::write(folder.join("saved.csv"), format!("\u{FEFF}{saved}")).expect("written");
    let replay = |batch: &str| {
        let output = at(
            folder,
            &[
                "replay",
                "hut.toml",
                "log.csv",
                "--calibration",
                batch,
                "--json",
            ],
        );
        assert!(!out(&output).is_empty(), "{}", super::err(&output));
        out(&output)
    };
    assert_eq!(replay("batch.csv"), replay("saved.csv"));
}

/// What can mean two things is refused with the reason, on the row or for the whole file.
#[test]
fn what_is_ambiguous_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    fs::write(folder.join("hut.toml"), shipped(FRONT_END)).expect("written");
    for (command, content, words) in [
        (
            "fit",
            "module;meter_mv;count\na;3,285;3000\n",
            "may be 3.285 or 3285",
        ),
        (
            "fit",
            "module;meter_mv;count\na;3.285,1;3000\n",
            "separators of thousands",
        ),
        (
            "fit",
            "module;meter_mv;count\na;3285,1;3000\na;3285.1;3000\n",
            "a decimal point, and line 2 has a decimal comma",
        ),
        (
            "fit",
            "module,meter_mv,count\na,3285,1,3000\n",
            "4 fields, the header has 3",
        ),
        (
            "fit",
            "module,meter,count\na,3285,3000\n",
            "does not say its unit",
        ),
        (
            "fit",
            "module,meter_mv,voltage_v,count\na,3285,3.285,3000\n",
            "both mean meter_mv",
        ),
        (
            "replay",
            "time,module,count\n0,a,3000\n2026-01-10T18:00:00Z,a,3000\n",
            "ISO 8601 with its offset from UTC, and the rows before have seconds",
        ),
        (
            "replay",
            "time,module,count\n10.01.2026 18:00,a,3000\n",
            "give seconds, or ISO 8601",
        ),
    ] {
        fs::write(folder.join("given.csv"), content).expect("written");
        let output = at(folder, &[command, "hut.toml", "given.csv"]);
        let said = super::err(&output);
        assert_eq!(output.status.code(), Some(2), "{content} {said}");
        let joined: Vec<&str> = said
            .split_whitespace()
            .filter(|word| *word != "│")
            .collect();
        assert!(joined.join(" ").contains(words), "{content} {said}");
    }
}
