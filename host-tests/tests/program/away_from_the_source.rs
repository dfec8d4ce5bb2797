//! The program in an empty folder, as somebody has it who installed it: every command but measuring works, from nothing but files
//! that it writes itself. `.ci/installed` does the same with an installed program whose source is gone.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const COMMANDS: [&str; 13] = [
    "example", "check", "fit", "record", "replay", "cost", "table", "emit", "report", "plot",
    "budget", "compare", "divider",
];

fn empty_folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).expect("a temporary folder");
    folder
}

/// What a command says, in a folder, with nothing in its environment.
fn said(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
        .args(arguments)
        .current_dir(folder)
        .env_clear()
        .output()
        .expect("the program runs")
}

fn good(folder: &Path, arguments: &[&str]) -> String {
    let output = said(folder, arguments);
    assert!(
        output.status.success(),
        "{arguments:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).expect("text")
}

#[test]
fn a_front_end_goes_from_example_to_firmware() {
    let folder = empty_folder("away");
    for topology in ["divided-input", "supply-reference"] {
        let file = format!("{topology}.toml");
        let text = good(&folder, &["example", topology]);
        std::fs::write(folder.join(&file), text).expect("the folder is writable");
        assert!(good(&folder, &["check", &file]).contains("wrong counts"));
        assert!(good(&folder, &["table", &file]).starts_with("count,mv,fault,exact_mv"));
        good(&folder, &["budget", &file, "--trials", "10000"]);
        assert!(good(&folder, &["emit", &file, "--lang", "c"]).contains("#define"));
        assert!(good(&folder, &["emit", &file, "--lang", "rust"]).contains("proven!"));
        good(
            &folder,
            &["report", &file, "--out", &format!("{topology}.html")],
        );
    }
    good(&folder, &["divider", "divided-input.toml"]);
    good(
        &folder,
        &[
            "compare",
            "divided-input.toml",
            "supply-reference.toml",
            "--trials",
            "10000",
        ],
    );
    assert!(good(&folder, &["cost", "--recorded"]).contains("RECORDED figures"));
    // The control: a file that is not there is an error here too.
    assert_eq!(said(&folder, &["check", "hut.toml"]).status.code(), Some(2));
}

#[test]
fn every_help_has_the_caution() {
    let folder = empty_folder("away-help");
    let caution = "Lithium cells can burn";
    assert!(good(&folder, &["--help"]).contains(caution));
    for command in COMMANDS {
        let help = good(&folder, &[command, "--help"]);
        assert!(help.contains(caution), "{command}: {help}");
    }
    // All of them: a command that is new has its line here.
    let listed = good(&folder, &["--help"]);
    let listed = listed.split_once("Commands:").map_or("", |(_, rest)| rest);
    let listed = listed.split_once("Options:").map_or("", |(rest, _)| rest);
    let names: Vec<&str> = listed
        .lines()
        .filter_map(|line| line.strip_prefix("  "))
        .filter(|line| !line.starts_with(' '))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|name| *name != "help")
        .collect();
    assert_eq!(names.len(), COMMANDS.len(), "{names:?}");
}

#[test]
fn installing_brings_one_program() {
    let manifest = Path::new(env!("CARGO_MANIFEST_DIR")).join("Cargo.toml");
    let text = std::fs::read_to_string(manifest).expect("this crate's own");
    assert_eq!(text.matches("[[bin]]").count(), 1);
    assert!(text.contains("name = \"tallyvolt\"\npath = \"src/main.rs\""));
    let binaries = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/bin");
    assert!(!binaries.exists());
}
