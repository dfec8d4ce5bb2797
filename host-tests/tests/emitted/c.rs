//! The emitted C: compiled by two compilers as C99 and as C++ without a warning, and compared with the exact model at every
//! count of cell and sensor and at readings of every limit, with core at calibrations and records. Each way of dividing runs
//! under the address and undefined-behaviour sanitizers; one build is optimised instead.

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use super::support::{
    Emitted, as_drawn_words, bytes, folder, generated, names, record_words, run, run_silent,
    sensing, shipped, shipped_emitted,
};
use tallyvolt_host::emit::{Lang, emit, emit_channel_with};
use tallyvolt_model::front_end::FrontEnd;

const WARNINGS: [&str; 5] = ["-Wall", "-Wextra", "-Wconversion", "-Werror", "-pedantic"];

/// Headers, a program that compares them, and the words it compares with.
fn written(name: &str, front_ends: &[Emitted]) -> PathBuf {
    let folder = folder(name);
    let (mut forced, mut includes) = (String::new(), String::new());
    let (mut subjects, mut list) = (String::new(), String::new());
    let mut words = Vec::new();
    for (seed, (front_end, header)) in (1_u64..).zip(front_ends) {
        let names = names(front_end);
        fs::write(folder.join(format!("{}.h", names.lower)), header).expect("written");
        // What narrow counts do not know stays undefined there.
        if header.contains(&format!("#ifdef {}_PRODUCTS_16", names.upper)) {
            let _ = writeln!(forced, "#define {}_PRODUCTS_16", names.upper);
        }
        let _ = writeln!(forced, "#define {}_DIVISION SMALL", names.upper);
        let _ = writeln!(includes, "#include \"{}.h\"", names.lower);
        let _ = writeln!(subjects, "VOLTAGES({})", names.lower);
        subjects += &sensing_subject(front_end, &names.lower);
        let _ = write!(list, "&{}_subject, ", names.lower);
        words.extend(as_drawn_words(front_end));
        words.extend(record_words(front_end, seed));
        words.extend(sensing::words(front_end, seed));
    }
    let sweep = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/emitted/sweep.h");
    let program = format!(
        "#ifdef SMALL\n{forced}#endif\n{includes}#include \"{}\"\n{subjects}
static const struct subject *const subjects[] = {{ {list} }};
int main(int arguments, char **argument)
{{
    return arguments == 2 ? run(subjects, sizeof subjects / sizeof *subjects, argument[1]) : 2;
}}
",
        sweep.display()
    );
    fs::write(folder.join("all.c"), program).expect("written");
    fs::write(folder.join("words"), bytes(&words)).expect("written");
    folder
}

/// The sensor's and the limits' part of a front end's subject, and the subject.
fn sensing_subject(front_end: &FrontEnd, name: &str) -> String {
    let mut text = String::new();
    let temperature = if front_end.thermistor.is_some() {
        let _ = writeln!(text, "SENSOR({name})");
        format!("{name}_test_temperature")
    } else {
        "0".to_owned()
    };
    let (mut alarms, mut calibrated, mut found) = (String::new(), String::new(), String::new());
    sensing::with_described(front_end, None, |set| {
        for limit in set {
            let of = sensing::name(limit);
            let _ = writeln!(text, "ALARM({name}, {of})");
            let _ = write!(alarms, "{name}_test_{of}, ");
        }
        let mut voltage = set
            .iter()
            .filter(|limit| sensing::is_of_voltage(limit))
            .peekable();
        if voltage.peek().is_some() {
            let _ = writeln!(text, "static {name}_limits {name}_one_limits;");
        }
        for (index, limit) in voltage.enumerate() {
            let of = sensing::name(limit);
            let _ = writeln!(text, "CALIBRATED_ALARM({name}, {of})");
            let _ = write!(calibrated, "{name}_test_calibrated_{of}, ");
            let _ = writeln!(
                found,
                "    ends[{}] = {name}_one_limits.{of}.trip;\n    ends[{}] = {name}_one_limits.{of}.hold;",
                2 * index,
                2 * index + 1
            );
        }
    });
    let limits = if found.is_empty() {
        "0".to_owned()
    } else {
        let _ = writeln!(
            text,
            "static int {name}_test_limits(uint32_t ends[4])\n{{
    const int refusal = (int){name}_calibrated_limits(&{name}_one, &{name}_one_limits);
{found}    return refusal;\n}}"
        );
        format!("{name}_test_limits")
    };
    let _ = writeln!(
        text,
        "static int (*const {name}_alarms[])(uint32_t, int) = {{ {alarms}0 }};
static int (*const {name}_calibrated_alarms[])(uint32_t, int) = {{ {calibrated}0 }};
SUBJECT({name}, {temperature}, {limits})"
    );
    text
}

/// All front ends, written once for every test of this file.
fn all() -> &'static Path {
    static ALL: OnceLock<PathBuf> = OnceLock::new();
    ALL.get_or_init(|| {
        let mut front_ends = shipped_emitted(Lang::C);
        front_ends.extend(generated(1, Lang::C));
        written("emit-c", &front_ends)
    })
}

/// Optimised as firmware is; inlining would only make the compilers slow.
const OPTIMISED: &[&str] = &["-O1", "-fno-inline"];

/// Addresses and whatever C leaves undefined, but for checks of pointers that the address sanitizer has too. Optimising
/// first would cost the compilers twice the time.
const SANITIZED: &[&str] = &[
    "-O0",
    "-fsanitize=address,undefined",
    "-fno-sanitize=null,alignment,object-size",
    "-fno-sanitize-recover=all",
];

/// Compiles and compares, with a core's divider (0) or as for cores without one (1, 2); what the program said, and whether it
/// found all equal.
fn swept(
    folder: &Path,
    compiler: &[&str],
    package: &str,
    flags: &[&str],
    division: u8,
) -> (String, bool) {
    let program = folder.join(compiler.join("").replace(['+', '='], "x"));
    let mut command = Command::new(compiler[0]);
    command.args(&compiler[1..]).args(WARNINGS).args(flags);
    if division != 0 {
        command.arg(format!("-DSMALL={division}"));
    }
    run_silent(
        command.arg("-o").arg(&program).arg(folder.join("all.c")),
        package,
    );
    let output = run(Command::new(&program).arg(folder.join("words")), package);
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(errors.is_empty(), "{errors}");
    eprintln!("{compiler:?} {flags:?} division {division}: {said}");
    (said, output.status.success())
}

#[track_caller]
fn holds(compiler: &[&str], package: &str, flags: &[&str], division: u8) {
    let (said, equal) = swept(all(), compiler, package, flags, division);
    assert!(equal, "{said}");
}

#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn c99_by_gcc_equals_the_model() {
    holds(&["gcc", "-std=c99"], "gcc", SANITIZED, 0);
}

#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn c99_by_clang_for_small_cores_equals_the_model() {
    holds(&["clang", "-std=c99"], "clang", SANITIZED, 1);
}

#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn cxx_by_gcc_for_small_cores_equals_the_model() {
    holds(&["g++", "-xc++", "-std=c++17"], "g++", OPTIMISED, 2);
}

#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn cxx_by_clang_for_small_cores_equals_the_model() {
    holds(&["clang++", "-xc++", "-std=c++20"], "clang", SANITIZED, 2);
}

/// The way of small cores again, by the compiler that has the most to say of 16 bits: it is only read, not run.
#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn c99_by_gcc_for_small_cores_has_no_warning() {
    run_silent(
        Command::new("gcc")
            .args(["-std=c99", "-DSMALL=1", "-fsyntax-only"])
            .args(WARNINGS)
            .arg(all().join("all.c")),
        "gcc",
    );
}

/// Negative control: one digit of a constant changed, in either topology, is found.
#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn a_wrong_digit_is_found() {
    let front_ends = shipped_emitted(Lang::C);
    let wanted = |name: &str| {
        front_ends
            .iter()
            .find(|(front_end, _)| front_end.name == name)
            .expect("it is shipped")
            .clone()
    };
    for (name, right, wrong) in [
        ("hut-divided-12bit", "UINT32_C(34202)", "UINT32_C(34203)"),
        ("hut-divided-12bit", "0x82F63B78", "0x82F63B79"),
        ("hut-divided-12bit", "SHORT_SHIFT 15", "SHORT_SHIFT 14"),
        ("hut-divided-12bit", "< digit[11]", "<= digit[11]"),
        ("hut-divided-12bit", "last >= room", "last > room"),
        (
            "hut-supply-12bit",
            "largest >= UINT32_C(0x20000000) ||",
            "largest > UINT32_C(0x20000000) ||",
        ),
        (
            "hut-supply-12bit",
            "UINT32_C(19660800)",
            "UINT32_C(19660801)",
        ),
        // An entry of the table, a limit, the rows of the alarm, and the direction of a calibrated limit.
        ("hut-divided-thermistor", "39, 515, 492", "39, 514, 492"),
        (
            "hut-divided-thermistor",
            "OVER_VOLTAGE_HOLD UINT32_C(54418)",
            "OVER_VOLTAGE_HOLD UINT32_C(54417)",
        ),
        (
            "hut-supply-thermistor",
            "ALARM_READINGS 3",
            "ALARM_READINGS 2",
        ),
        ("hut-supply-thermistor", "COUNT_RISES 0", "COUNT_RISES 1"),
        // A seed, where quotients are formed by products.
        ("hut-supply-12bit", "126, 122, 119", "126, 142, 119"),
    ] {
        let folder = written("emit-c-wrong", &[wanted(name)]);
        let header = folder.join(format!("{}.h", name.replace('-', "_")));
        let text = fs::read_to_string(&header).expect("written");
        assert!(text.contains(right), "{name} {right}");
        fs::write(&header, text.replace(right, wrong)).expect("written");
        let division = u8::from(right.starts_with("126"));
        let (said, equal) = swept(&folder, &["gcc", "-std=c99"], "gcc", OPTIMISED, division);
        assert!(!equal, "{name} {wrong}: {said}");
    }
}

/// A header may be included twice; another one of its name may not, whatever differs: the circuit, or what no fingerprint knows.
#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn two_headers_of_one_name_are_an_error() {
    let folder = folder("emit-c-two");
    let mut all = shipped().into_iter();
    let front_end = all
        .find(|front_end| front_end.name == "hut-divided-thermistor")
        .expect("shipped");
    let one = emit(&front_end, Lang::C, "as the test does").expect("it passes its check");
    let changed = |change: &dyn Fn(&mut FrontEnd)| {
        let mut other = front_end.clone();
        change(&mut other);
        emit(&other, Lang::C, "as the test does").expect("it passes its check")
    };
    let reference = |other: &mut FrontEnd| other.reference.microvolts += 1000;
    let limit = |other: &mut FrontEnd| {
        let limits = other.limits.as_mut().expect("set");
        limits.over_uv = limits.over_uv.map(|uv| uv - 10_000);
    };
    let sensor = |other: &mut FrontEnd| {
        other.thermistor.as_mut().expect("set").max_error_mc *= 2;
    };
    let channel = emit_channel_with(&front_end, "as the test does", &|_| ());
    let others = [
        (
            emit(&front_end, Lang::C, "as another does").expect("the same"),
            true,
        ),
        (changed(&reference), false),
        (changed(&limit), false),
        (changed(&sensor), false),
        (channel.expect("it has a channel"), false),
    ];
    for (place, (other, fits)) in others.into_iter().enumerate() {
        fs::write(folder.join("one.h"), &one).expect("written");
        fs::write(folder.join("other.h"), other).expect("written");
        let source = folder.join("two.c");
        fs::write(&source, "#include \"one.h\"\n#include \"other.h\"\n").expect("written");
        let output = run(
            Command::new("gcc")
                .args(["-std=c99", "-fsyntax-only"])
                .args(WARNINGS)
                .arg(source),
            "gcc",
        );
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.success(), fits, "{place}: {said}");
        assert_eq!(
            said.contains("two different headers"),
            !fits,
            "{place}: {said}"
        );
    }
}
