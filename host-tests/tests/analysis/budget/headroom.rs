//! Headroom against boards: what every board reads, and a board that reads no further.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyvolt_analysis::choose::budget::headroom::{headroom, must_read};
use tallyvolt_model::front_end::{FrontEnd, Topology};
use tallyvolt_model::rational::float;

use super::{CELL, described, near};

const BOARDS: usize = 100_000;

fn front_ends() -> [FrontEnd; 2] {
    let converter = "bits = 10; offset_lsb = 3; gain_lsb = 2; inl_lsb = 1.5; noise_rms_lsb = 0.5; leakage_na = 200; samples = 16";
    let reference = |microvolts: &str| {
        format!(
            "microvolts = {microvolts}; tolerance_ppm = 10000; tempco_ppm_per_k = 50; ageing_ppm = 1000"
        )
    };
    let environment = (
        "environment",
        "calibrated_at_c = 20; min_c = -20; max_c = 60",
    );
    [
        described(
            "divided-input",
            &[
                CELL,
                ("converter", converter),
                ("reference", &reference("2_500_000")),
                (
                    "divider",
                    "top_ohms = 11000; bottom_ohms = 16000; tolerance_ppm = 5000; tempco_ppm_per_k = 100",
                ),
                environment,
            ],
        ),
        described(
            "supply-reference",
            &[
                CELL,
                ("converter", converter),
                ("reference", &reference("2_400_000")),
                environment,
            ],
        ),
    ]
}

/// The steps of one sample of a board that is off by `parts` of every limit, straight from the drawing.
fn steps(front_end: &FrontEnd, true_mv: f64, parts: &[f64; 11]) -> f64 {
    let [
        tolerance,
        drift,
        ageing,
        top,
        top_drift,
        bottom,
        bottom_drift,
        offset,
        gain,
        own,
        leakage,
    ] = *parts;
    // Data sheets count from 25 degC; the coldest day is 45 K away.
    let kelvins = 45.0;
    let reference_mv = f64::from(front_end.reference.microvolts) / 1000.0
        * (1.0 + 1e-6 * (10_000.0 * tolerance + 50.0 * kelvins * drift + 1000.0 * ageing));
    let ratio = match &front_end.topology {
        Topology::DividedInput(divider) => {
            let off =
                |part: f64, drift: f64| 1.0 + 1e-6 * (5000.0 * part + 100.0 * kelvins * drift);
            let top = float(&divider.top_ohms) * off(top, top_drift);
            let bottom = float(&divider.bottom_ohms) * off(bottom, bottom_drift);
            let pin_mv = true_mv * bottom / (top + bottom);
            let leaked_mv = 200e-6 * leakage * top * bottom / (top + bottom);
            (pin_mv + leaked_mv) / reference_mv
        }
        Topology::SupplyReference => reference_mv / true_mv,
    };
    // Noise counts up to 3.3 standard deviations.
    (1024.0 + 2.0 * gain) * ratio + 3.0 * offset + (1.5 + 3.3 * 0.5) * own
}

/// At the voltages that are stated, no sample of 100,000 boards is at a rail; a millivolt beyond, some board's is.
#[test]
fn every_board_reads_what_is_stated() {
    for front_end in front_ends() {
        let found = headroom(&front_end).unwrap();
        let at_rail = |steps: f64| !(1.0..1023.0).contains(&steps);
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        let mut beyond = false;
        let rises = front_end.topology != Topology::SupplyReference;
        for board in 0..BOARDS {
            let parts = std::array::from_fn(|_| {
                let drawn = 2.0 * rng.random::<f64>() - 1.0;
                if board % 2 == 0 {
                    drawn
                } else {
                    drawn.signum()
                }
            });
            // The end at the top rail is the one that binds: the fullest cell of a divided input, the emptiest of the other.
            let (end_mv, way) = if rises {
                (found.high.surely_mv, 1.0)
            } else {
                (found.low.surely_mv, -1.0)
            };
            assert!(!at_rail(steps(&front_end, end_mv - 1e-6 * way, &parts)));
            assert!(!at_rail(steps(
                &front_end,
                found.low.surely_mv.max(100.0) + 1e-6,
                &parts
            )));
            beyond |= at_rail(steps(&front_end, end_mv + way, &parts));
        }
        assert!(beyond, "{}", front_end.name);
        if rises {
            assert!(found.high.surely_mv < 4200.0 && found.high.headroom_mv < 0.0);
        } else {
            assert!(found.low.surely_mv > 2400.0, "{found:?}");
        }
    }
}

/// The lowest and the highest of the cell's ends, the limits and the calibration points; the cell where they are equal.
#[test]
fn what_must_be_read() {
    let of = |limits: &str, calibration: &str| {
        let front_end = described(
            "supply-reference",
            &[
                CELL,
                ("converter", "bits = 12"),
                ("reference", "microvolts = 1_200_000"),
                ("limits", limits),
                ("calibration", calibration),
            ],
        );
        must_read(&front_end)
    };
    let (empty, full) = ((2500.0, "the emptiest cell"), (4200.0, "the fullest cell"));
    let ends = "under_voltage_mv = 2500; over_voltage_mv = 4200";
    assert_eq!(of(ends, "points = 2"), (empty, full));
    assert_eq!(
        of(
            "under_voltage_mv = 2499; over_voltage_mv = 4201",
            "points = 0"
        ),
        ((2499.0, "the lower limit"), (4201.0, "the upper limit"))
    );
    let outside = "low_mv = 2300; high_mv = 4300; at_mv = 4400";
    assert_eq!(of(ends, &format!("points = 0; {outside}")), (empty, full));
    assert_eq!(
        of(ends, &format!("points = 1; {outside}")),
        (empty, (4400.0, "the upper calibration voltage"))
    );
    assert_eq!(
        of(ends, &format!("points = 2; {outside}")),
        (
            (2300.0, "the lower calibration voltage"),
            (4300.0, "the upper calibration voltage")
        )
    );
}

/// How far a nominal board reads, by the codes that sixteen equal samples may have: all of them are asked.
#[test]
fn codes_between_the_rails() {
    for shift in 0..=6 {
        for (rounding, added) in [("truncate", 0), ("nearest", (1_u32 << shift) / 2)] {
            for (centre, beyond) in [("half", 1.0), ("edge", 0.5)] {
                let front_end = described(
                    "divided-input",
                    &[
                        (
                            "cell",
                            "chemistry = \"NMC\"; min_mv = 2500; nominal_mv = 3500; max_mv = 4000",
                        ),
                        (
                            "converter",
                            &format!(
                                "bits = 10; samples = 16; right_shift = {shift}; shift_rounding = \"{rounding}\"; code_centre = \"{centre}\""
                            ),
                        ),
                        ("reference", "microvolts = 2_500_000"),
                        ("divider", "top_ohms = 10000; bottom_ohms = 10000"),
                    ],
                );
                let count = |code: u32| (16 * code + added) >> shift;
                let codes = (0..1024).filter(|code| (1..count(1023)).contains(&count(*code)));
                let codes: Vec<u32> = codes.collect();
                let found = headroom(&front_end).unwrap();
                let mv = |code: f64| 5000.0 * code / 1024.0;
                near(found.low.nominal_mv, mv(f64::from(codes[0])), 1e-6);
                let last = f64::from(*codes.last().unwrap());
                near(found.high.nominal_mv, mv(last + beyond), 1e-6);
                near(found.high.headroom_mv, found.high.surely_mv - 4000.0, 1e-9);
                near(found.low.headroom_mv, 2500.0 - found.low.surely_mv, 1e-9);
            }
        }
    }
}
