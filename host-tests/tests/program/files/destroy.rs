//! No command replaces an input, a link, a device or another file that nobody said it may replace.

use std::fs;
use std::path::{Path, PathBuf};

use super::{FRONT_END, READINGS, at, ends, shipped, text};

/// A folder with a front end, readings, and every command that writes, each with `OUT` for its output.
fn bench() -> (tempfile::TempDir, Vec<Vec<&'static str>>) {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("hut.toml"), shipped(FRONT_END)).expect("written");
    fs::write(folder.path().join("bench.csv"), shipped(READINGS)).expect("written");
    let trials = ["--trials", "10000"];
    let commands = vec![
        vec!["fit", "hut.toml", "bench.csv", "--csv", "OUT"],
        vec!["emit", "hut.toml", "--lang", "c", "--out", "OUT"],
        vec!["emit", "hut.toml", "--lang", "rust", "--out", "OUT"],
        [&["report", "hut.toml", "--out", "OUT"][..], &trials].concat(),
        vec!["plot", "hut.toml", "--of", "step", "--out", "OUT"],
    ];
    (folder, commands)
}

fn with<'a>(command: &[&'a str], out: &'a str, force: bool) -> Vec<&'a str> {
    let replaced = command
        .iter()
        .map(|word| if *word == "OUT" { out } else { word });
    replaced.chain(force.then_some("--force")).collect()
}

/// Names of a folder, without those of the program's own temporary files, of which there must be none.
fn names(folder: &Path) -> Vec<PathBuf> {
    let mut names: Vec<PathBuf> = fs::read_dir(folder)
        .expect("a folder")
        .map(|entry| entry.expect("readable").path())
        .collect();
    names.sort();
    assert!(
        names
            .iter()
            .all(|name| !text(name).contains(".tallyvolt-") && !text(name).contains(".part-")),
        "{names:?}"
    );
    names
}

#[test]
fn an_input_is_never_overwritten() {
    let (folder, commands) = bench();
    let folder = folder.path();
    let inputs = ["hut.toml", "bench.csv"];
    fs::create_dir(folder.join("inside")).expect("made");
    // Other names of the same files.
    for input in inputs {
        fs::hard_link(folder.join(input), folder.join(format!("hard-{input}"))).expect("linked");
    }
    let before: Vec<Vec<u8>> = inputs.map(|input| read(folder, input)).to_vec();
    let standing = names(folder);
    for command in &commands {
        for out in [
            "hut.toml",
            "./hut.toml",
            "inside/../hut.toml",
            "hard-hut.toml",
        ] {
            let said = ends(&at(folder, &with(command, out, true)), 2);
            assert!(said.contains("an input is never overwritten"), "{said}");
        }
        if command.contains(&"bench.csv") {
            for out in ["bench.csv", "hard-bench.csv"] {
                for force in [false, true] {
                    let said = ends(&at(folder, &with(command, out, force)), 2);
                    assert!(said.contains("an input is never overwritten"), "{said}");
                }
            }
        }
        assert_eq!(inputs.map(|input| read(folder, input)).to_vec(), before);
        assert_eq!(names(folder), standing);
    }
}

/// A maker's table of resistances is an input as well.
#[test]
fn a_file_that_the_front_end_names_is_an_input() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    let front_end = shipped("front-ends/hut-divided-thermistor.toml");
    let table = shipped("front-ends/parts/ntc-10k-b3380.csv");
    fs::create_dir(folder.join("parts")).expect("made");
    fs::write(folder.join("hut.toml"), front_end).expect("written");
    fs::write(folder.join("parts/ntc-10k-b3380.csv"), &table).expect("written");
    let command = ["emit", "hut.toml", "--lang", "c", "--out", "OUT"];
    let said = ends(
        &at(folder, &with(&command, "parts/ntc-10k-b3380.csv", true)),
        2,
    );
    assert!(said.contains("an input is never overwritten"), "{said}");
    assert_eq!(read(folder, "parts/ntc-10k-b3380.csv"), table.as_bytes());
}

#[test]
fn another_file_is_replaced_only_by_force() {
    let (folder, commands) = bench();
    let folder = folder.path();
    for command in &commands {
        fs::write(folder.join("out"), "mine\n").expect("written");
        let said = ends(&at(folder, &with(command, "out", false)), 2);
        assert!(said.contains("give --force to replace it"), "{said}");
        assert_eq!(read(folder, "out"), b"mine\n");
        // `fit` finds a suspect module and says so by 1.
        let good = |output: &std::process::Output| {
            assert!(matches!(output.status.code(), Some(0 | 1)), "{output:?}");
        };
        good(&at(folder, &with(command, "out", true)));
        let written = read(folder, "out");
        assert_ne!(written, b"mine\n");
        // The same content again needs no word.
        good(&at(folder, &with(command, "out", false)));
        assert_eq!(read(folder, "out"), written);
    }
    assert_eq!(names(folder).len(), 3);
}

#[cfg(unix)]
#[test]
fn links_devices_pipes_and_folders_are_left_alone() {
    use std::os::unix::fs::{FileTypeExt, symlink};
    let (folder, commands) = bench();
    let folder = folder.path();
    fs::write(folder.join("target"), "mine\n").expect("written");
    symlink("target", folder.join("link")).expect("linked");
    symlink("nothing", folder.join("dangling")).expect("linked");
    fs::create_dir(folder.join("inside")).expect("made");
    let made = std::process::Command::new("mkfifo")
        .arg(folder.join("pipe"))
        .status();
    assert!(made.expect("coreutils").success());
    for command in &commands {
        for out in [
            "link",
            "dangling",
            "inside",
            "pipe",
            "/dev/full",
            "/dev/null",
        ] {
            for force in [false, true] {
                let said = ends(&at(folder, &with(command, out, force)), 2);
                assert!(said.contains("only regular files are written"), "{said}");
            }
        }
    }
    assert_eq!(read(folder, "target"), b"mine\n");
    assert!(folder.join("link").is_symlink() && folder.join("dangling").is_symlink());
    let pipe = fs::symlink_metadata(folder.join("pipe")).expect("there");
    assert!(pipe.file_type().is_fifo());
    assert_eq!(names(folder).len(), 7);
}

/// Records go into a folder of their own; a CSV that cannot be written leaves no records either.
#[test]
fn records_are_written_with_the_csv_or_not_at_all() {
    let (folder, _) = bench();
    let folder = folder.path();
    let fit = |csv: &str, more: &[&str]| {
        let command = ["fit", "hut.toml", "bench.csv", "--records", "records"];
        at(folder, &[&command[..], &["--csv", csv], more].concat())
    };
    ends(&fit("bench.csv", &["--force"]), 2);
    ends(&fit("none/batch.csv", &[]), 2);
    assert!(!folder.join("records").exists());
    ends(&fit("batch.csv", &[]), 1);
    let made = names(&folder.join("records"));
    assert_eq!(made.len(), 30);
    // The same batch again changes nothing; another one is not mixed in, whatever is forced.
    ends(&fit("batch.csv", &[]), 1);
    let said = ends(&fit("batch.csv", &["--sequence", "2", "--force"]), 2);
    assert!(said.contains("records of two runs are not mixed"), "{said}");
    assert_eq!(names(&folder.join("records")), made);
}

fn read(folder: &Path, name: &str) -> Vec<u8> {
    fs::read(folder.join(name)).expect("there")
}
