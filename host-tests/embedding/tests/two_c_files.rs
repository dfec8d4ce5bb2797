//! The two C files build without a warning, and say what the library says.

use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};

use embedding::cell::{AS_DRAWN, WINDOW};
use tallyvolt::Count;

#[test]
fn both_languages_read_the_same() {
    let workspace = Path::new(env!("CARGO_MANIFEST_DIR"));
    let (folder, emitted) = (workspace.join("c"), workspace.join("target/emitted"));
    assert!(
        emitted.join("hut_divided_thermistor.h").exists(),
        "run.sh emits the header first"
    );
    let program = Path::new(env!("CARGO_TARGET_TMPDIR")).join("channel");
    let built = Command::new("cc")
        .args(["-std=c99", "-Wall", "-Wextra", "-Werror", "-O2", "-o"])
        .arg(&program)
        .arg("-I")
        .arg(emitted)
        .args([folder.join("channel.c"), folder.join("main.c")])
        .status()
        .expect("a C compiler");
    assert!(built.success());
    let codes: Vec<u16> = (0..4096).collect();
    let mut child = Command::new(&program)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("it was just built");
    let mut input = child.stdin.take().expect("piped");
    let writer = std::thread::spawn({
        let codes = codes.clone();
        move || {
            for code in codes {
                let window = format!("{code} ").repeat(WINDOW);
                input.write_all(window.as_bytes()).expect("it reads");
            }
        }
    });
    let output = child.wait_with_output().expect("it ends with its input");
    writer.join().expect("it wrote all");
    let said = String::from_utf8(output.stdout).expect("ASCII");
    assert_eq!(said.lines().count(), codes.len());
    let mut over = 0;
    for (code, line) in codes.iter().zip(said.lines()) {
        let expected = match AS_DRAWN.voltage(Count(u32::from(*code) * 16)) {
            Ok(voltage) => format!("{} mV", voltage.0),
            Err(_) => "no voltage".to_owned(),
        };
        assert_eq!(line.split(',').next(), Some(&*expected), "code {code}");
        over += usize::from(line.contains("over"));
    }
    // Over 3600 mV are codes above 3449 (3449.5 / 4096 of 4275.25 mV is 3600.4); the third in a row trips, and a fault has no word.
    assert!(over > 600, "{over}");
}
