//! The speed that is promised, measured in one run and asserted.
//!
//! `cargo build --release && cargo run --release --bin goals`
//!
//! Competitors take turns and the quickest turn of each counts, so that other work on the machine falls on all alike; for
//! whole processes it is processor time that counts.
//! Assertions are looser than the goals, by [`SLACK`], so that only a real loss fails.

mod rivals;
mod wide;

use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

use tallyvolt_harness::cases::shipped;

/// Turns of each competitor.
const TURNS: usize = 400;
/// Runs of a process.
const RUNS: u32 = 10;
/// An assertion's distance from its goal.
const SLACK: f64 = 1.25;

/// What was promised, and what it came to.
struct Goal {
    what: String,
    goal: f64,
    found: f64,
    unit: &'static str,
}

fn main() -> ExitCode {
    let mut goals = Vec::new();
    for race in rivals::races() {
        let quickest = quickest(&race);
        println!("{}", race.name);
        for (competitor, time) in race.competitors.iter().zip(&quickest) {
            let each = time.as_secs_f64() * 1e9 / f64::from(rivals::COUNTS);
            let ratio = quickest[0].as_secs_f64() / time.as_secs_f64();
            println!(
                "    {:<14} {each:7.3} ns a count   tallyvolt / this {ratio:.2}",
                competitor.name
            );
        }
        goals.push(Goal {
            goal: if race.topology == "divided-input" {
                1.0
            } else {
                1.5
            },
            what: format!("{}: tallyvolt / f64 formula", race.name),
            found: quickest[0].as_secs_f64() / quickest[1].as_secs_f64(),
            unit: "",
        });
    }
    for name in ["hut-divided-12bit", "hut-supply-12bit"] {
        let file = shipped::folder().join(format!("{name}.toml"));
        goals.push(process(name, &file, 0.050));
    }
    let folder = tempfile::tempdir().expect("the system's folder for temporary files is writable");
    for topology in ["divided-input", "supply-reference"] {
        let file = folder.path().join(format!("wide-{topology}.toml"));
        std::fs::write(&file, wide::front_end_text(topology)).expect("the folder is writable");
        goals.push(process(
            &format!("wide {topology}, 2^24 counts"),
            &file,
            1.0,
        ));
    }
    println!("\n{:<60} {:>8} {:>8}", "goal", "at most", "found");
    let mut held = true;
    for goal in &goals {
        let holds = goal.found <= goal.goal * SLACK;
        held &= holds;
        let verdict = match (holds, goal.found <= goal.goal) {
            (true, true) => "",
            (true, false) => "  missed, within the slack",
            (false, _) => "  MISSED",
        };
        println!(
            "{:<60} {:>8.3} {:>8.3} {}{verdict}",
            goal.what, goal.goal, goal.found, goal.unit
        );
    }
    if held {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}

/// The quickest turn of each competitor.
fn quickest(race: &rivals::Race) -> Vec<Duration> {
    let mut quickest = vec![Duration::MAX; race.competitors.len()];
    for _ in 0..TURNS {
        for (competitor, quickest) in race.competitors.iter().zip(&mut quickest) {
            let start = Instant::now();
            black_box((competitor.run)());
            *quickest = start.elapsed().min(*quickest);
        }
    }
    quickest
}

/// `tallyvolt check FILE` as a whole process on one core: its processor time, which other work on the machine does not
/// stretch. The quickest run by the clock on the wall is shown beside it; on an idle machine both are the same.
fn process(what: &str, file: &Path, goal: f64) -> Goal {
    let program = program();
    let run = || {
        let start = Instant::now();
        let status = Command::new(&program)
            .arg("check")
            .arg(file)
            .env("RAYON_NUM_THREADS", "1")
            .stdout(Stdio::null())
            .status();
        assert!(
            status.is_ok_and(|status| status.success()),
            "{what} does not hold"
        );
        start.elapsed().as_secs_f64()
    };
    let before = processor_seconds_of_children();
    let quickest = (0..RUNS).map(|_| run()).fold(f64::INFINITY, f64::min);
    let spent = (processor_seconds_of_children() - before) / f64::from(RUNS);
    println!("check of {what}: {spent:.3} s of processor time, quickest run {quickest:.3} s");
    Goal {
        what: format!("check of {what}, processor time"),
        goal,
        found: spent,
        unit: "s",
    }
}

/// The bench program of the same build, which lies beside this one.
fn program() -> PathBuf {
    let own = std::env::current_exe().expect("Linux tells a program's own path");
    let program = own.with_file_name("tallyvolt");
    assert!(
        program.is_file(),
        "{} is not there: run `cargo build --release` first",
        program.display()
    );
    program
}

/// User and system time of the processes that have ended, from Linux's `/proc/self/stat` (proc(5): fields 16 and 17, in
/// hundredths of a second; the second field, a name in parentheses, may hold spaces).
fn processor_seconds_of_children() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").expect("this program runs on Linux");
    let (_, fields) = stat.rsplit_once(')').expect("proc(5)");
    let ticks = fields.split_whitespace().skip(13).take(2);
    let ticks = ticks.map(|field| field.parse::<f64>().expect("proc(5)"));
    ticks.sum::<f64>() / 100.0
}
