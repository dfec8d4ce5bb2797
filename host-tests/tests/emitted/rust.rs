//! The emitted Rust: a crate of every front end, built against core, its pasted tests run, and every count compared with the
//! exact model.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::process::Command;

use super::support::{
    Emitted, as_drawn_words, bytes, folder, generated, names, run, sensing, shipped_emitted,
};
use tallyvolt_host::emit::Lang;

/// The crate's own test: words as the C program reads them, for each module in turn.
const SWEEP: &str = r#"
fn number<V>(answer: Result<tallyvolt::Voltage, tallyvolt::Fault>, _: &V) -> u32 {
    use tallyvolt::Fault::{AboveRange, BelowRange, Rail, ZeroCount};
    match answer {
        Ok(voltage) => u32::from(voltage.0),
        Err(ZeroCount) => 1 << 16,
        Err(Rail) => 2 << 16,
        Err(BelowRange) => 3 << 16,
        Err(AboveRange) => 4 << 16,
    }
}

#[allow(dead_code, reason = "not every crate has a sensor")]
fn temperature(answer: Result<tallyvolt::Temperature, tallyvolt::TemperatureFault>) -> u32 {
    use tallyvolt::TemperatureFault::{AboveTable, BelowTable, OpenCircuit, ShortCircuit};
    match answer {
        Ok(temperature) => u32::from(temperature.0.cast_unsigned()),
        Err(OpenCircuit) => 5 << 16,
        Err(ShortCircuit) => 6 << 16,
        Err(BelowTable) => 7 << 16,
        Err(AboveTable) => 8 << 16,
    }
}

#[test]
fn every_count_is_right() {
    let bytes = std::fs::read(concat!(env!("CARGO_MANIFEST_DIR"), "/words")).unwrap();
    let mut words = bytes.chunks(4).map(|word| u32::from_le_bytes(word.try_into().unwrap()));
    let mut next = move || words.next();
    let mut compared = 0;
    macro_rules! sweep {
        (@ sensor $module:ident $count:ident) => {
            temperature($module::THERMISTOR.temperature(tallyvolt::Count($count)))
        };
        (@ $module:ident $count:ident) => { u32::MAX - $count + $count };
        ($($module:ident ($($sensor:ident)?) [$($limit:ident)*])*) => {$({
            let mut check = |count: u32, exact: u32| {
                let answer = $module::AS_DRAWN.voltage(tallyvolt::Count(count));
                assert_eq!(number(answer, &()), exact, "{} {count}", stringify!($module));
                compared += 1;
            };
            for count in 0..next().unwrap() {
                check(count, next().unwrap());
            }
            for _ in 0..next().unwrap() {
                check(next().unwrap(), next().unwrap());
            }
            let mut check = |count: u32, exact: u32| {
                let answer: u32 = sweep!(@ $($sensor)? $module count);
                assert_eq!(answer, exact, "{} sensor's {count}", stringify!($module));
                compared += 1;
            };
            for count in 0..next().unwrap() {
                check(count, next().unwrap());
            }
            for _ in 0..next().unwrap() {
                check(next().unwrap(), next().unwrap());
            }
            let limits: &[tallyvolt::Limit] = &[$($module::$limit),*];
            assert_eq!(next().unwrap() as usize, limits.len());
            for limit in limits {
                let mut alarm = tallyvolt::Alarm::CLEAR;
                for _ in 0..next().unwrap() {
                    let (count, acknowledge) = (next().unwrap(), next().unwrap());
                    if acknowledge != 0 {
                        alarm.acknowledge();
                    }
                    let active = alarm.update(limit, tallyvolt::Count(count));
                    assert_eq!(u32::from(active), next().unwrap(), "{} {count}", stringify!($module));
                    compared += 1;
                }
            }
        })*};
    }
    sweep!(MODULES);
    assert_eq!(next(), None);
    println!("{compared} compared, 0 wrong");
}
"#;

/// A crate of emitted modules; as rustfmt leaves them, and built without a warning.
fn written(name: &str, front_ends: &[Emitted]) -> std::path::PathBuf {
    let folder = folder(name);
    fs::create_dir(folder.join("src")).expect("made");
    let host = Path::new(env!("CARGO_MANIFEST_DIR"));
    let core = host.join("../core");
    fs::write(
        folder.join("Cargo.toml"),
        format!(
            "[package]\nname = {name:?}\nversion = \"0.0.0\"\nedition = \"2024\"\n[workspace]\n[dependencies]\n\
             tallyvolt = {{ path = {:?} }}\n[profile.test]\nopt-level = 1\n",
            core.display().to_string()
        ),
    )
    .expect("written");
    fs::copy(host.join("../Cargo.lock"), folder.join("Cargo.lock")).expect("copied");
    let (mut modules, mut list) = (
        String::from(
            "#![no_std]\n#![deny(warnings)]\n#[cfg(test)]\nextern crate std;\n#[cfg(test)]\nuse std::prelude::rust_2024::*;\n#[cfg(test)]\nuse std::println;\n",
        ),
        String::new(),
    );
    let mut words = Vec::new();
    for (seed, (front_end, text)) in (1_u64..).zip(front_ends) {
        let module = names(front_end).lower;
        fs::write(folder.join(format!("src/{module}.rs")), text).expect("written");
        let _ = writeln!(modules, "pub mod {module};");
        let sensor = ["", "sensor"][usize::from(front_end.thermistor.is_some())];
        let mut limits = String::new();
        sensing::with_described(front_end, None, |set| {
            for limit in set {
                let _ = write!(limits, "{} ", sensing::name(limit).to_uppercase());
            }
        });
        let _ = write!(list, "{module} ({sensor}) [{limits}] ");
        words.extend(as_drawn_words(front_end));
        words.extend(sensing::words(front_end, seed));
    }
    let _ = writeln!(
        modules,
        "#[cfg(test)]\nmod sweep {{\nuse super::*;\n{}}}",
        SWEEP.replace("MODULES", &list)
    );
    fs::write(folder.join("src/lib.rs"), modules).expect("written");
    fs::write(folder.join("words"), bytes(&words)).expect("written");
    folder
}

/// Runs the crate's tests; what they said, and whether all passed.
fn tested(folder: &Path) -> (String, bool) {
    let output = run(
        Command::new(env!("CARGO"))
            .args(["test", "--offline", "--lib", "--", "--show-output"])
            .env(
                "CARGO_TARGET_DIR",
                Path::new(env!("CARGO_TARGET_TMPDIR")).join("emit-rust-target"),
            )
            .current_dir(folder),
        "cargo",
    );
    let said = String::from_utf8_lossy(&output.stdout) + String::from_utf8_lossy(&output.stderr);
    (said.into_owned(), output.status.success())
}

#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn modules_build_without_a_warning_and_equal_the_model() {
    let mut front_ends = shipped_emitted(Lang::Rust);
    front_ends.extend(generated(2, Lang::Rust));
    let folder = written("emit-rust", &front_ends);
    let (said, passed) = tested(&folder);
    assert!(passed, "{said}");
    let compared = said
        .lines()
        .find(|line| line.ends_with("compared, 0 wrong"));
    eprintln!(
        "{}",
        compared.expect("the sweep says how many counts it compared")
    );

    for (front_end, _) in &front_ends {
        let file = folder.join(format!("src/{}.rs", names(front_end).lower));
        let output = run(
            Command::new("rustfmt")
                .args(["--edition", "2024", "--check"])
                .arg(&file),
            "rustfmt",
        );
        assert!(
            output.status.success(),
            "{}",
            String::from_utf8_lossy(&output.stdout)
        );
    }
}

/// Negative control: another resistance, and the pasted test notices; a wrong reference, and the compiler does.
#[test]
#[ignore = "builds foreign code: needs host-tests/cores/ci.sh install"]
fn a_wrong_digit_is_found() {
    for (name, right, wrong, sign) in [
        (
            "hut-divided-12bit",
            "top_ohms: 24900",
            "top_ohms: 24901",
            "as_drawn_is_the_exact_formula_rounded",
        ),
        (
            "hut-divided-thermistor",
            " 539, ",
            " 540, ",
            "temperatures_are_the_table_rounded",
        ),
        (
            "hut-supply-thermistor",
            "Microvolts(3600000),\n        VOLTAGE",
            "Microvolts(3601000),\n        VOLTAGE",
            "limits_are_where_the_values_pass_them",
        ),
        (
            "hut-supply-thermistor",
            "Microvolts(3600000),\n    VOLTAGE",
            "Microvolts(3601000),\n    VOLTAGE",
            "limits_are_where_the_values_pass_them",
        ),
        (
            "hut-divided-12bit",
            "reference_uv: 1225000",
            "reference_uv: 225000",
            "the divider puts the fullest cell above the reference",
        ),
    ] {
        let front_ends = shipped_emitted(Lang::Rust);
        let found = front_ends
            .iter()
            .find(|(one, _)| one.name == name)
            .expect("it is shipped");
        let folder = written("emit-rust-wrong", std::slice::from_ref(found));
        let module = folder.join(format!("src/{}.rs", names(&found.0).lower));
        let text = fs::read_to_string(&module).expect("written");
        assert!(text.contains(right));
        fs::write(&module, text.replace(right, wrong)).expect("written");
        let (said, passed) = tested(&folder);
        assert!(!passed && said.contains(sign), "{said}");
    }
}
