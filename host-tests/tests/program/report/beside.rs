//! `fit --page` and `replay --page` as they are called: what stands on the pages, and when there is none.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;

use super::layout::well_formed;

const FIT: [&str; 3] = [
    "fit",
    "front-ends/hut-divided-12bit.toml",
    "readings/hut-16-modules.csv",
];
const REPLAY: [&str; 3] = [
    "replay",
    "front-ends/hut-divided-12bit.toml",
    "readings/hut-evening-log.csv",
];

fn tallyvolt(arguments: &[&str], more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
        .args(arguments)
        .args(more)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap()
}

#[track_caller]
fn ends(output: &Output, code: i32) -> String {
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(code), "{said}");
    said
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// The page of a call that ends with `code`.
#[track_caller]
fn page(arguments: &[&str], more: &[&str], code: i32) -> String {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("page.html");
    let more = [more, &["--page", text(&file)]].concat();
    ends(&tallyvolt(arguments, &more), code);
    let page = fs::read_to_string(&file).unwrap();
    well_formed(&page).unwrap();
    assert!(page.contains("Lithium cells can burn.") && !page.contains("NaN"));
    assert!(
        !page.contains(env!("CARGO_MANIFEST_DIR")),
        "a path that was not typed"
    );
    page
}

#[test]
fn a_batch_has_every_module_with_its_intervals_and_marks_the_suspect() {
    let page = page(&FIT, &[], 1);
    let output = tallyvolt(&FIT, &["--json"]);
    let made: Value = serde_json::from_slice(&output.stdout).unwrap();
    let modules = made["modules"].as_array().unwrap();
    assert_eq!(modules.len(), 16);
    for module in modules {
        let name = module["module"].as_str().unwrap();
        let (_, modules) = page.split_once("id=\"modules\"").unwrap();
        let (_, row) = modules.split_once(&format!("\">{name}</th>")).unwrap();
        let row = row.split("</tr>").next().unwrap();
        let gain = module["fit"]["gain"].as_f64().unwrap();
        assert!(row.contains(&format!(">{gain:.6} ± ")), "{row}");
        let verdict = if name == "hut-11" { "suspect" } else { "good" };
        assert!(row.contains(&format!(">{verdict}</span>")), "{row}");
    }
    assert!(page.contains("1 suspect") && page.contains("15 of 16"));
    assert_eq!(page.matches("<svg").count(), 2);
}

#[test]
fn a_log_is_drawn_with_those_that_have_findings_first() {
    let page = page(&REPLAY, &["--limit-mv", "100", "--stuck-rows", "20"], 1);
    // Twelve modules of sixteen, each with its voltage and its error.
    assert_eq!(page.matches("<svg").count(), 24);
    assert!(page.contains("Of 16 modules 12 are drawn"));
    let place = |name: &str| page.find(&format!("<h3>{name} ")).unwrap();
    assert!(place("hut-06") < place("hut-01"));
    assert!(page.contains("limit of every row, 100.00 mV"));
    // Every picture of a kind has the same marks along its axes.
    let marks = |title: &str| -> Vec<String> {
        let pictures = page.split("<svg").filter(|picture| picture.contains(title));
        pictures
            .map(|picture| {
                let texts = picture.split("text-anchor=\"end\"").skip(1);
                let texts = texts.map(|text| text.split('>').nth(1).unwrap_or("").trim());
                texts.collect::<Vec<_>>().join(" ")
            })
            .collect()
    };
    for title in ["<title>Voltage of", "<title>Error of"] {
        let all = marks(title);
        assert_eq!(all.len(), 12);
        assert!(
            all[0].len() > 6 && all.iter().all(|marks| *marks == all[0]),
            "{all:?}"
        );
    }
}

#[test]
fn a_page_is_the_same_each_time_and_replaces_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("page.html");
    for arguments in [FIT, REPLAY] {
        let more = ["--page", text(&file)];
        ends(&tallyvolt(&arguments, &more), i32::from(arguments == FIT));
        let first = fs::read(&file).unwrap();
        ends(&tallyvolt(&arguments, &more), i32::from(arguments == FIT));
        assert!(first == fs::read(&file).unwrap());
        fs::write(&file, "mine\n").unwrap();
        let said = ends(&tallyvolt(&arguments, &more), 2);
        assert!(
            said.contains("the file was left as it is: give --force to replace it"),
            "{said}"
        );
        assert_eq!(fs::read_to_string(&file).unwrap(), "mine\n");
        fs::remove_file(&file).unwrap();
    }
    // A page is no reason to lose the readings.
    let readings = folder.path().join("readings.csv");
    fs::copy(
        Path::new(env!("CARGO_MANIFEST_DIR")).join(FIT[2]),
        &readings,
    )
    .unwrap();
    let before = fs::read(&readings).unwrap();
    let own = [FIT[0], FIT[1], text(&readings)];
    ends(&tallyvolt(&own, &["--page", text(&readings)]), 2);
    assert!(before == fs::read(&readings).unwrap());
    ends(&tallyvolt(&own, &["--page", "-"]), 2);
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
}

#[test]
fn bad_rows_and_pipes_give_no_page() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("page.html");
    let bad = folder.path().join("bad.csv");
    fs::write(
        &bad,
        "time,module,count,meter_mv\n0,hut-01,3194,3330\n60,hut-01,many,3330\n",
    )
    .unwrap();
    let said = ends(
        &tallyvolt(
            &[REPLAY[0], REPLAY[1], text(&bad)],
            &["--page", text(&file)],
        ),
        2,
    );
    assert!(said.contains("no page was written"), "{said}");
    fs::write(
        &bad,
        "module,meter_mv,count\nhut-01,2000,1915\nhut-01,3650,many\n",
    )
    .unwrap();
    let fitted = |more: &[&str]| {
        let all = [&["--page", text(&file)], more].concat();
        ends(&tallyvolt(&[FIT[0], FIT[1], text(&bad)], &all), 2)
    };
    fitted(&[]);
    assert!(!file.exists());
    fitted(&["--skip-bad-rows"]);
    assert!(
        fs::read_to_string(&file)
            .unwrap()
            .contains("could not be read")
    );
}
