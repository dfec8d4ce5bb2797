//! The constants of emitted texts, read back without a compiler and compared with the exact model at every count.

use super::support::{Emitted, names, number, shipped_emitted};
use tallyvolt_analysis::describe::firmware::Firmware;
use tallyvolt_host::emit::{Lang, emit};
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::{FrontEnd, LimitMeaning, Topology};
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::outcome::Outcome;

/// The number, decimal or hexadecimal, that follows a text.
fn after(text: &str, start: &str) -> u128 {
    let (_, rest) = text
        .split_once(start)
        .unwrap_or_else(|| panic!("no `{start}`"));
    let digits = |rest: &str, radix| {
        let end = rest
            .find(|c: char| !c.is_digit(radix))
            .unwrap_or(rest.len());
        u128::from_str_radix(&rest[..end], radix).expect("a number")
    };
    match rest.strip_prefix("0x") {
        Some(rest) => digits(rest, 16),
        None => digits(rest, 10),
    }
}

/// Every constant of a width in a C text, in turn.
fn constants(text: &str, width: u32) -> Vec<u128> {
    let start = format!("UINT{width}_C(");
    text.match_indices(&start)
        .map(|(at, _)| after(&text[at..], &start))
        .collect()
}

/// What the portable way of a header's conversion as drawn gives at each position of the window.
fn as_drawn(topology: &Topology, header: &str) -> impl Fn(u32) -> u128 + use<> {
    let (_, body) = header
        .split_once("_as_drawn_at(")
        .expect("the conversion as drawn");
    let (body, _) = body.split_once("\n}\n").expect("its end");
    let body = body.rsplit("#else\n").next().unwrap_or(body).to_owned();
    let divided = matches!(topology, Topology::DividedInput(_));
    let narrow = constants(&body, 32);
    let wide = constants(&body, 64);
    move |position| {
        let position = u128::from(position);
        match (divided, &*narrow, &*wide) {
            (true, [m, b], []) => (m * position + b) >> after(&body, ")) >> "),
            (true, [low_m, low_b, m, b], []) => {
                (m * position + b + ((low_m * position + low_b) >> 16)) >> 16
            }
            (true, [], [low_m, low_b, m, b]) => {
                (m * position + b + ((low_m * position + low_b) >> 32)) >> 32
            }
            (false, [k, d], []) | (false, [d], [k]) => {
                (k / ((position << after(&body, "position << ")) + d) + 1) >> 1
            }
            found => panic!("{found:?}"),
        }
    }
}

/// Counts whose answer by a header's constants is not the model's.
fn wrong_counts((front_end, header): &Emitted) -> u32 {
    let upper = names(front_end).upper;
    let define = |name: &str| {
        let value = after(header, &format!("#define {upper}_{name} UINT32_C("));
        u32::try_from(value).expect("32 bits")
    };
    let (first, counts) = (define("FIRST_COUNT"), define("COUNTS"));
    let form = IntegerForm::of(&Model::new(front_end, CalibrationModel::identity()));
    let convert = as_drawn(&front_end.topology, header);
    (0..=define("RAIL_COUNT") + 3)
        .map(|count| {
            let position = count.wrapping_sub(first);
            let right = match form.outcome(count) {
                Outcome::Units(units) => {
                    position < counts && convert(position) == u128::from(units)
                }
                Outcome::Fault(_) => position >= counts,
            };
            u32::from(!right)
        })
        .sum()
}

#[test]
fn constants_in_c_give_the_model_at_every_count() {
    for emitted in shipped_emitted(Lang::C) {
        let (front_end, header) = &emitted;
        assert_eq!(wrong_counts(&emitted), 0, "{}", front_end.name);
        let upper = names(front_end).upper;
        let fingerprint = Firmware::describe(front_end)
            .expect("it was emitted")
            .fingerprint();
        let converter = &front_end.converter;
        for (name, value) in [
            ("FINGERPRINT UINT32_C(", fingerprint.0),
            ("UNIT_UV UINT32_C(", front_end.unit_uv),
            ("BITS ", converter.bits),
            ("SAMPLES ", converter.samples),
            ("RIGHT_SHIFT ", converter.right_shift),
        ] {
            let found = after(header, &format!("#define {upper}_{name}"));
            assert_eq!(found, u128::from(value), "{} {name}", front_end.name);
        }
        if let Some(drawn) = &front_end.thermistor {
            let found = after(header, &format!("#define {upper}_SENSOR_SAMPLES "));
            assert_eq!(found, u128::from(drawn.samples), "{}", front_end.name);
        }
    }
}

/// Negative control: either end of the window moved by one.
#[test]
fn a_wrong_constant_in_c_is_found() {
    let mut changed = 0;
    for (front_end, header) in shipped_emitted(Lang::C) {
        for name in ["FIRST_COUNT", "COUNTS"] {
            let start = format!("#define {}_{name} UINT32_C(", names(&front_end).upper);
            let value = after(&header, &start);
            let wrong = header.replace(
                &format!("{start}{value})"),
                &format!("{start}{})", value - 1),
            );
            assert!(
                wrong_counts(&(front_end.clone(), wrong)) > 0,
                "{start}{value})"
            );
            changed += 1;
        }
    }
    assert!(changed >= 16, "{changed}");
}

/// The fields of the Rust description, and the answers of its test.
#[test]
fn constants_in_rust_are_those_of_the_file_and_the_model() {
    for (front_end, text) in shipped_emitted(Lang::Rust) {
        let converter = &front_end.converter;
        let firmware = Firmware::describe(&front_end).expect("it was emitted");
        for (name, value) in [
            ("        bits: ", converter.bits),
            ("        samples: ", converter.samples),
            ("        right_shift: ", converter.right_shift),
            ("    reference_uv: ", front_end.reference.microvolts),
            ("        min_uv: ", front_end.cell.min_uv),
            ("        max_uv: ", front_end.cell.max_uv),
            ("(FINGERPRINT, Fingerprint(", firmware.fingerprint().0),
        ] {
            assert_eq!(
                after(&text, name),
                u128::from(value),
                "{} {name}",
                front_end.name
            );
        }
        if let Topology::DividedInput(divider) = &front_end.topology {
            let (top, bottom) = (after(&text, "top_ohms: "), after(&text, "bottom_ohms: "));
            let ratio = &divider.top_ohms / &divider.bottom_ohms;
            assert_eq!(
                num_rational::BigRational::new(top.into(), bottom.into()),
                ratio
            );
            let bits = firmware.count_bits();
            assert!(text.contains(&format!("AS_DRAWN: DividedConversion<{bits}> =")));
        }
        let form = IntegerForm::of(&Model::new(&front_end, CalibrationModel::identity()));
        let (_, test) = text
            .split_once("fn as_drawn_is_the_exact_formula_rounded()")
            .expect("its test");
        let (test, _) = test.split_once("] {").expect("the end of its rows");
        let mut rows = 0;
        for row in test.lines().filter(|row| row.starts_with("            (")) {
            let count = u32::try_from(after(row, "(")).expect("a count");
            let answer = match form.outcome(count) {
                Outcome::Units(units) => format!("Ok(Voltage({units}))"),
                Outcome::Fault(fault) => format!("Err(Fault::{fault:?})"),
            };
            assert!(
                row.contains(&answer),
                "{}: {row}, model {answer}",
                front_end.name
            );
            rows += 1;
        }
        assert!(rows >= 8, "{}: {rows} rows", front_end.name);
        assert_eq!(number(form.outcome(0)), 1 << 16);
    }
}

/// Limits on the true value are emitted as guarded counts, those that `budget` prints for the planned calibration
/// (tests/program/cmd_budget/budget.trycmd): above 3750 mV at counts <= 1318, below 2300 mV at counts >= 2125.
#[test]
fn limits_on_the_true_value_are_emitted_with_their_guard_band() {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("front-ends/candidates/hut-b-supply-12bit.toml");
    let mut front_end = tallyvolt_analysis::describe::front_end_file::read(&path).expect("shipped");
    let trips = |front_end: &FrontEnd| {
        let header = emit(front_end, Lang::C, "test").expect("it checks");
        let trip = |name: &str| {
            let start = format!("#define {}_{name}_TRIP UINT32_C(", names(front_end).upper);
            after(&header, &start)
        };
        (trip("OVER_VOLTAGE"), trip("UNDER_VOLTAGE"))
    };
    let guarded = trips(&front_end);
    assert_eq!(guarded, (1319, 2124));
    // A wider band that the file states, and none at all.
    let limits = front_end.limits.as_mut().expect("it has limits");
    limits.over_guard_uv = 40_000;
    let wider = trips(&front_end);
    assert!(wider.0 > guarded.0 && wider.1 == guarded.1, "{wider:?}");
    front_end.limits.as_mut().expect("it has limits").meaning = LimitMeaning::Reading;
    let bare = trips(&front_end);
    assert!(bare.0 < guarded.0 && bare.1 > guarded.1, "{bare:?}");
}
