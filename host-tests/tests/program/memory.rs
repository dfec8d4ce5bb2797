//! Peak memory: below 64 MB for whatever a file holds and however long it is, and an answer at once where there is no file.
//!
//! One test, since the system keeps one peak for all programs that a process ran.
#![cfg(target_os = "linux")]

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use flate2::Compression;
use flate2::write::GzEncoder;
use nix::sys::resource::{UsageWho, getrusage};
use tallyvolt_analysis::calibrate::fit::readings;
use tallyvolt_analysis::calibrate::replay::MODULES_MAX;

/// The promise, in KiB.
const PEAK_KIB: i64 = 64 << 10;
const GIB: u64 = 1 << 30;

/// The largest peak of the programs that were run so far.
fn peak_kib() -> i64 {
    getrusage(UsageWho::RUSAGE_CHILDREN)
        .expect("the system tells")
        .max_rss()
}

/// Runs the program, its output thrown away but counted; asserts the peak, an end, and no panic.
fn run(folder: &Path, arguments: &[&str], code: i32) -> usize {
    let since = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
        .args(arguments)
        .current_dir(folder)
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program runs");
    let mut said = Vec::new();
    let mut stderr = child.stderr.take().expect("piped");
    std::io::Read::read_to_end(&mut stderr, &mut said).expect("text");
    let status = child.wait().expect("it ends");
    let shown = String::from_utf8_lossy(said.get(..2000).unwrap_or(&said)).into_owned();
    assert_eq!(status.code(), Some(code), "{arguments:?} {shown}");
    assert!(!shown.contains("panicked"), "{arguments:?} {shown}");
    let peak = peak_kib();
    println!(
        "{peak} KiB so far, {:.1} s: {arguments:?}",
        since.elapsed().as_secs_f64()
    );
    assert!(peak < PEAK_KIB, "{peak} KiB: {arguments:?} {shown}");
    // Long enough for a busy machine, and short enough to tell a hang.
    assert!(since.elapsed() < Duration::from_secs(300), "{arguments:?}");
    said.len()
}

/// A file made piece by piece: this process must stay small, for its own memory is counted to the programs that it starts.
fn file(folder: &Path, name: &str, write: impl FnOnce(&mut dyn Write)) -> PathBuf {
    let path = folder.join(name);
    let mut out = BufWriter::new(File::create(&path).expect("made"));
    write(&mut out);
    out.flush().expect("written");
    path
}

fn repeated(out: &mut dyn Write, piece: &[u8], bytes: u64) {
    for _ in 0..bytes / piece.len() as u64 {
        out.write_all(piece).expect("written");
    }
}

/// The CSV columns of a log.
const HEADER: &[u8] = b"time,module,count,meter_mv\n";

/// Inputs and outputs without an end, and a pipe that nobody writes to.
fn endless(folder: &Path) {
    for endless in ["/dev/zero", "/dev/urandom"] {
        run(folder, &["check", endless], 2);
        run(folder, &["fit", "hut.toml", endless], 2);
        run(folder, &["replay", "hut.toml", endless], 2);
        run(
            folder,
            &["replay", "hut.toml", "good.csv", "--calibration", endless],
            2,
        );
        run(
            folder,
            &[
                "emit", "hut.toml", "--lang", "c", "--out", endless, "--check",
            ],
            2,
        );
        run(
            folder,
            &[
                "emit", "hut.toml", "--lang", "c", "--out", endless, "--force",
            ],
            2,
        );
    }
    run(
        folder,
        &["emit", "hut.toml", "--lang", "c", "--out", "/dev/full"],
        2,
    );
    run(
        folder,
        &["plot", "hut.toml", "--of", "step", "--out", "/dev/full"],
        2,
    );

    // A pipe that nobody writes to.
    let made = Command::new("mkfifo").arg(folder.join("pipe")).status();
    assert!(made.expect("coreutils").success());
    for command in [
        &["check", "pipe"][..],
        &["fit", "hut.toml", "pipe"],
        &["replay", "hut.toml", "pipe"],
        &["replay", "hut.toml", "good.csv", "--calibration", "pipe"],
        &[
            "emit", "hut.toml", "--lang", "c", "--out", "pipe", "--check",
        ],
    ] {
        run(folder, command, 2);
    }
}

/// Two gigabytes of nothing, as every kind of input; they take no room on the disk.
fn without_content(folder: &Path) {
    let sparse = File::create(folder.join("sparse")).expect("made");
    sparse.set_len(2 * GIB).expect("sparse");
    for command in [
        &["check", "sparse"][..],
        &["budget", "sparse"],
        &["fit", "hut.toml", "sparse"],
        &["replay", "hut.toml", "sparse"],
        &["replay", "hut.toml", "good.csv", "--calibration", "sparse"],
        &["emit", "hut.toml", "--lang", "c", "--out", "sparse"],
    ] {
        assert!(run(folder, command, 2) < 2000);
    }
}

/// A line of 50 MB, as a header, in a row, as a front-end file; and a packed one of 1.5 GB.
fn long_lines(folder: &Path) {
    file(folder, "line.toml", |out| {
        repeated(out, b"x = 1 ", 50_000_000)
    });
    assert!(run(folder, &["check", "line.toml"], 2) < 2000);
    file(folder, "line.csv", |out| {
        out.write_all(HEADER).expect("written");
        repeated(out, b"1234567,", 50_000_000);
        out.write_all(b"\n1,a,3000,3131\n").expect("written");
    });
    assert!(run(folder, &["replay", "hut.toml", "line.csv"], 2) < 2000);
    assert!(run(folder, &["fit", "hut.toml", "line.csv"], 2) < 2000);
    file(folder, "quote.csv", |out| {
        out.write_all(HEADER).expect("written");
        out.write_all(b"\"").expect("written");
        repeated(out, b"0,a,3000,3131\n", 50_000_000);
    });
    assert!(run(folder, &["replay", "hut.toml", "quote.csv"], 2) < 2000);

    // A gzip'd line of 1.5 GB, in one and a half megabytes.
    file(folder, "bomb.csv.gz", |out| {
        let mut packed = GzEncoder::new(out, Compression::fast());
        packed.write_all(HEADER).expect("written");
        repeated(&mut packed, &[b'0'; 1 << 16], 3 * GIB / 2);
        packed.finish().expect("written");
    });
    assert!(run(folder, &["replay", "hut.toml", "bomb.csv.gz"], 2) < 2000);
}

/// Rows, modules and bad rows up to their limits, as text and as JSON.
fn as_much_as_is_taken(folder: &Path) {
    let modules = readings::MODULES_MAX as u64;
    file(folder, "full.csv", |out| {
        out.write_all(b"module,meter_mv,count\n").expect("written");
        for row in 0..readings::ROWS_MAX {
            let mv = 2000 + row / modules * 50;
            let count = mv * 4096 / 4275;
            writeln!(out, "{:0>60},{mv},{count}", row % modules).expect("written");
        }
    });
    run(
        folder,
        &["fit", "hut.toml", "full.csv", "--csv", "batch.csv"],
        0,
    );
    run(folder, &["fit", "hut.toml", "full.csv", "--json"], 0);
    file(folder, "beyond.csv", |out| {
        out.write_all(b"module,meter_mv,count\n").expect("written");
        for row in 0..=readings::ROWS_MAX {
            writeln!(out, "a,{},3000", 2000 + row % 1600).expect("written");
        }
    });
    assert!(run(folder, &["fit", "hut.toml", "beyond.csv"], 2) < 2000);
    file(folder, "bad.csv", |out| {
        out.write_all(b"module,meter_mv,count\n").expect("written");
        for row in 0..readings::ROWS_MAX {
            writeln!(out, "{row},{},3000", "x".repeat(200)).expect("written");
        }
    });
    run(folder, &["fit", "hut.toml", "bad.csv", "--json"], 2);
    file(folder, "modules.csv", |out| {
        out.write_all(HEADER).expect("written");
        for row in 0..2 * MODULES_MAX {
            writeln!(out, "{row},{row:0>60},3000,3131").expect("written");
        }
    });
    run(folder, &["replay", "hut.toml", "modules.csv"], 2);
    run(folder, &["replay", "hut.toml", "modules.csv", "--json"], 2);
    run(
        folder,
        &[
            "replay",
            "hut.toml",
            "good.csv",
            "--calibration",
            "batch.csv",
        ],
        1,
    );
}

#[test]
fn peak_memory_is_bounded() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    let shipped = Path::new(env!("CARGO_MANIFEST_DIR")).join("front-ends/hut-divided-12bit.toml");
    std::fs::copy(shipped, folder.join("hut.toml")).expect("copied");
    file(folder, "good.csv", |out| {
        out.write_all(HEADER).expect("written");
        out.write_all(b"0,a,3000,3131\n").expect("written");
    });

    // Each program is a process of its own, and two at a time are as good as one after the other.
    std::thread::scope(|scope| {
        scope.spawn(|| {
            endless(folder);
            without_content(folder);
            long_lines(folder);
        });
        scope.spawn(|| as_much_as_is_taken(folder));
    });

    // The control: a program that takes more is seen.
    let before = peak_kib();
    let greedy = Command::new("sh")
        .args([
            "-c",
            "x=$(head -c 100000000 /dev/zero | tr '\\0' a); test ${#x} = 100000000",
        ])
        .status();
    assert!(greedy.expect("a shell").success());
    assert!(before < PEAK_KIB && peak_kib() > PEAK_KIB, "{}", peak_kib());
}
