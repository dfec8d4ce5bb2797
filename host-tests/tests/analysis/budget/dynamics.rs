//! Settling, source resistance, self-heating.

use super::{CELL, RUN, described, divided, near};
use std::path::Path;
use tallyvolt_analysis::choose::budget::{budget, dynamic};
use tallyvolt_model::front_end::{FrontEnd, Topology};
use tallyvolt_model::rational::whole;

/// (N + 1) ln 2 time constants to half a step (Microchip, Minimum Sampling Time; ST AN2834 rev 3, 3.2.6); N ln 2 to a whole
/// one (TI SLYW038D); 12 bits to 1/8 step with 100 k and 10 pF: 10.4 us.
#[test]
fn settling_constants() {
    for (bits, constants) in [
        (8, 6.238),
        (10, 7.625),
        (12, 9.011),
        (14, 10.397),
        (16, 11.784),
    ] {
        near(dynamic::time_constants(bits, 1), constants, 0.0005);
    }
    for (bits, constants) in [(8, 5.55), (12, 8.32), (16, 11.09)] {
        near(dynamic::time_constants(bits, 0), constants, 0.006);
    }
    near(
        dynamic::time_constants(12, 3) * 100e3 * 10e-12 * 1e6,
        10.4,
        0.005,
    );
}

/// Source resistances of an STM32F103x4/6 (data sheet 15060 rev 6, table of RAIN max), settled to a quarter of a step.
#[test]
fn published_source_resistances() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/published/stm32f1_rain.csv");
    let mut compared = 0;
    for row in csv::Reader::from_path(path).unwrap().deserialize() {
        let (cycles, megahertz, _, published, _): (f64, f64, f64, String, f64) = row.unwrap();
        let Ok(published) = published.parse::<f64>() else {
            continue;
        };
        let kilohms =
            dynamic::source_max_ohms(1000.0 * cycles / megahertz, 8.0, 1000.0, (12, 2)) / 1000.0;
        near(kilohms, published, 0.07);
        compared += 1;
    }
    assert_eq!(compared, 6);
}

/// A divider of 100k over 50k is 33.3 k to a converter, and breaks the 10 k that AVR and PIC data sheets state.
#[test]
fn dynamic_checks_say_yes_and_no() {
    let weak = divided(
        10,
        "source_max_ohms = 10000; sampling_pf = 14; sampling_ns = 2000; supply_min_mv = 2700",
        "microvolts = 1_500_000; settling_us = 70; wait_us = 20; supply_min_mv = 2600",
        "top_ohms = 100000; bottom_ohms = 50000; drain_max_ua = 20",
    );
    near(dynamic::source_ohms(100e3, 50e3), 33_333.3, 0.1);
    let failing = |front_end: &FrontEnd| -> Vec<&'static str> {
        dynamic::checks(front_end)
            .iter()
            .filter(|check| check.holds == Some(false))
            .map(|check| check.what)
            .collect()
    };
    assert_eq!(
        failing(&weak),
        [
            "source resistance",
            "source resistance, stated",
            "divider drain",
            "reference settling",
            "converter's supply, emptiest cell",
            "reference's supply, emptiest cell",
        ]
    );
    assert!(!budget(&weak, RUN, &|_| ()).meets);
    let strong = divided(
        10,
        "source_max_ohms = 10000; sampling_pf = 14; sampling_ns = 2000; supply_min_mv = 1800",
        "microvolts = 1_500_000; settling_us = 70; wait_us = 100; supply_min_mv = 2400",
        "top_ohms = 20000; bottom_ohms = 10000; drain_max_ua = 200",
    );
    assert!(failing(&strong).is_empty());
    // 100 nF behind the weak divider settles the sampling, 2^11 * 14 pF = 28.7 nF are needed, and slows the input.
    let mut filtered = weak.clone();
    if let Topology::DividedInput(divider) = &mut filtered.topology {
        divider.filter_nf = Some(whole(100));
    }
    assert!(!failing(&filtered).contains(&"source resistance, stated"));
    near(
        dynamic::settling_us(&filtered).unwrap(),
        7.6246 * 33.333e3 * 100e-9 * 1e6,
        2.0,
    );
}

/// 10 kOhm against 10 kOhm on 3.3 V: 3.3^2 / 40k = 272 uW, at 1.5 mW/K 0.18 K; a tenth of the time, a tenth of it.
#[test]
fn self_heating() {
    let heated = |topology: &str, reference: &str, more: &[(&str, &str)], keys: &str| {
        let keys = format!(
            "side = \"low\"; fixed_ohms = 10000; min_c = -20; max_c = 60; max_error_mc = 500; r25_ohms = 10000; b25_85_k = 3434; \
             dissipation_uw_per_k = 1500; self_heating_max_mk = 100{keys}"
        );
        let mut tables = vec![
            CELL,
            ("converter", "bits = 12"),
            ("reference", reference),
            ("thermistor", &keys),
        ];
        tables.extend(more);
        let front_end = described(topology, &tables);
        let found = dynamic::self_heating_mk(&front_end).unwrap();
        let checks = dynamic::checks(&front_end);
        let check = checks
            .iter()
            .find(|check| check.what.starts_with("thermistor"))
            .unwrap();
        (found, check.holds)
    };
    let divider = [("divider", "top_ohms = 10000; bottom_ohms = 20000")];
    let fixed = "microvolts = 3_300_000";
    let always = heated("divided-input", fixed, &divider, "");
    let tenth = heated("divided-input", fixed, &divider, "; on_permille = 100");
    near(always.0, 181.5, 0.1);
    near(tenth.0, 18.15, 0.01);
    assert_eq!((always.1, tenth.1), (Some(false), Some(true)));
    // Fed by the cell itself, where the fullest one, 4.2 V, heats most.
    near(
        heated("supply-reference", "microvolts = 1_200_000", &[], "").0,
        294.0,
        0.1,
    );
}

/// What is found and what is asked for, worked out by hand; each rule holds at its bound and fails beside it.
#[test]
fn what_is_found_and_asked_for() {
    let finding = |front_end: &FrontEnd, what: &str| {
        let checks = dynamic::checks(front_end);
        let found = checks.into_iter().find(|check| check.what == what);
        let found = found.unwrap_or_else(|| panic!("no {what}"));
        (format!("{}; {}", found.found, found.rule), found.holds)
    };
    // 2^13 * 8 pF = 65.536 nF.
    for (filter, holds) in [("65.536", true), ("65.535", false)] {
        let filtered = divided(
            12,
            "sampling_pf = 8",
            "microvolts = 1_200_000",
            &format!("top_ohms = 30000; bottom_ohms = 10000; filter_nf = {filter}"),
        );
        let (said, found) = finding(&filtered, "filter capacitor");
        assert_eq!(found, Some(holds));
        assert!(
            said.starts_with(&format!("{filter} nF; at least 65.5 nF,")),
            "{said}"
        );
    }
    // (7.5 + 2.5) kOhm, 8 pF, 13 ln 2 time constants: 0.721 us.
    let sampled = divided(
        12,
        "sampling_pf = 8; sampling_ohms = 2500",
        "microvolts = 1_200_000",
        "top_ohms = 30000; bottom_ohms = 10000",
    );
    near(dynamic::settling_us(&sampled).unwrap(), 0.7209, 1e-4);
    // 1.225 V, 0.5 %, 50 ppm/K over 45 K to the coldest day, 0.1 %, and 200 mV above that.
    let below = |reference: &str, min_mv: u32| {
        let cell =
            format!("chemistry = \"any\"; min_mv = {min_mv}; nominal_mv = 3000; max_mv = 4200");
        let front_end = described(
            "supply-reference",
            &[
                ("cell", &cell),
                ("converter", "bits = 12"),
                ("reference", reference),
                (
                    "environment",
                    "calibrated_at_c = 20; min_c = -20; max_c = 60",
                ),
            ],
        );
        finding(&front_end, "reference below the emptiest cell")
    };
    let whole = "microvolts = 1_225_000; tolerance_ppm = 5000; tempco_ppm_per_k = 50; ageing_ppm = 1000; dropout_mv = 200";
    let (said, holds) = below(whole, 2500);
    assert_eq!(holds, Some(true));
    // 1225 * (1 + 0.005 + 0.00225 + 0.001) + 200.
    assert!(
        said.starts_with("1225 mV nominal, 1435.1 mV with"),
        "{said}"
    );
    let exact = "microvolts = 1_225_000; dropout_mv = 1000";
    assert_eq!(
        (below(exact, 2225).1, below(exact, 2226).1),
        (Some(false), Some(true))
    );
}
