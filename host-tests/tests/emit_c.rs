//! The emitted C: compiled by two compilers as C99 and as C++ without a warning, and compared with the exact model at every
//! count, with core at calibrations and records, under the address and undefined-behaviour sanitizers.

mod emit_support;

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use emit_support::{
    as_drawn_words, bytes, calibrated_words, folder, generated, names, run, run_silent, shipped,
};
use tallyvolt_host::emit::{Lang, emit};
use tallyvolt_host::front_end::{FrontEnd, Topology};

const WARNINGS: [&str; 5] = ["-Wall", "-Wextra", "-Wconversion", "-Werror", "-pedantic"];

/// Headers, a program that compares them, and the words it compares with.
fn written(name: &str, front_ends: &[FrontEnd]) -> PathBuf {
    let folder = folder(name);
    let (mut forced, mut includes) = (String::new(), String::new());
    let (mut subjects, mut list) = (String::new(), String::new());
    let mut words = Vec::new();
    for (seed, front_end) in (1_u64..).zip(front_ends) {
        let header = emit(front_end, Lang::C, "as the test does").expect("it passes its check");
        let names = names(front_end);
        fs::write(folder.join(format!("{}.h", names.lower)), &header).expect("written");
        // What narrow counts do not know stays undefined there.
        if header.contains(&format!("#ifndef {}_PRODUCTS_16", names.upper)) {
            let _ = writeln!(forced, "#define {}_PRODUCTS_16 1", names.upper);
        }
        let _ = writeln!(forced, "#define {}_DIVISION SMALL", names.upper);
        let _ = writeln!(includes, "#include \"{}.h\"", names.lower);
        let kind = match front_end.topology {
            Topology::DividedInput(_) => "DIVIDED",
            Topology::SupplyReference => "SUPPLY",
        };
        let _ = writeln!(subjects, "{kind}({})", names.lower);
        let _ = write!(list, "&{}_subject, ", names.lower);
        words.extend(as_drawn_words(front_end));
        words.extend(calibrated_words(front_end, seed));
    }
    let sweep = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/emit_data/sweep.h");
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

/// All front ends, written once for every test of this file.
fn all() -> &'static Path {
    static ALL: OnceLock<PathBuf> = OnceLock::new();
    ALL.get_or_init(|| {
        let mut front_ends = shipped();
        front_ends.extend(generated(1));
        written("emit-c", &front_ends)
    })
}

/// Compiles with the sanitizers and compares, with a core's divider (0) or as for cores without one (1, 2); what the program said, and whether it found all equal.
fn swept(folder: &Path, compiler: &[&str], package: &str, division: u8) -> (String, bool) {
    let program = folder.join(compiler.join("").replace(['+', '='], "x"));
    let mut command = Command::new(compiler[0]);
    command.args(&compiler[1..]).args(WARNINGS).args([
        // Inlining would only make the compilers slow.
        "-O1",
        "-fno-inline",
        "-fsanitize=address,undefined",
        "-fno-sanitize-recover=all",
    ]);
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
    eprintln!("{compiler:?} division {division}: {said}");
    (said, output.status.success())
}

#[track_caller]
fn holds(compiler: &[&str], package: &str, division: u8) {
    let (said, equal) = swept(all(), compiler, package, division);
    assert!(equal, "{said}");
}

#[test]
#[ignore = "builds foreign code: run by .ci/run, which installs the compilers and simulators"]
fn c99_by_gcc_equals_the_model() {
    holds(&["gcc", "-std=c99"], "gcc", 0);
}

#[test]
#[ignore = "builds foreign code: run by .ci/run, which installs the compilers and simulators"]
fn c99_by_clang_for_small_cores_equals_the_model() {
    holds(&["clang", "-std=c99"], "clang", 1);
}

#[test]
#[ignore = "builds foreign code: run by .ci/run, which installs the compilers and simulators"]
fn cxx_by_gcc_for_small_cores_equals_the_model() {
    holds(&["g++", "-xc++", "-std=c++11"], "g++", 2);
}

#[test]
#[ignore = "builds foreign code: run by .ci/run, which installs the compilers and simulators"]
fn cxx_by_clang_equals_the_model() {
    holds(&["clang++", "-xc++", "-std=c++20"], "clang", 0);
}

/// Negative control: one digit of a constant changed, in either topology, is found.
#[test]
#[ignore = "builds foreign code: run by .ci/run, which installs the compilers and simulators"]
fn a_wrong_digit_is_found() {
    let front_ends = shipped();
    let wanted = |name: &str| {
        front_ends
            .iter()
            .find(|front_end| front_end.name == name)
            .expect("it is shipped")
            .clone()
    };
    for (name, right, wrong) in [
        ("hut-divided-12bit", "UINT32_C(68404)", "UINT32_C(68405)"),
        ("hut-divided-12bit", "0x82F63B78", "0x82F63B79"),
        (
            "hut-divided-12bit",
            "== search->wanted",
            ">= search->wanted",
        ),
        (
            "hut-supply-12bit",
            "UINT32_C(19660800)",
            "UINT32_C(19660801)",
        ),
    ] {
        let folder = written("emit-c-wrong", &[wanted(name)]);
        let header = folder.join(format!("{}.h", name.replace('-', "_")));
        let text = fs::read_to_string(&header).expect("written");
        assert!(text.contains(right), "{name} {right}");
        fs::write(&header, text.replace(right, wrong)).expect("written");
        let (said, equal) = swept(&folder, &["gcc", "-std=c99"], "gcc", 0);
        assert!(!equal, "{name} {wrong}: {said}");
    }
}
