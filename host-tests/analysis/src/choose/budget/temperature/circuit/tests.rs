//! The measurement model of a temperature against a board worked out by the voltage of its node.

use std::path::Path;

use super::*;
use crate::describe::front_end_file;

const B: f64 = 3435.0;
const OHMS: f64 = 10_000.0;
const REFERENCE_V: f64 = 1.2;
const EMPTIEST_V: f64 = 2.0;
/// Watts a kelvin.
const DISSIPATION: f64 = 1e-3;

fn sensor(topology: &str, thermistor: &str) -> Sensor {
    let divider = match topology {
        "divided-input" => "[divider]\ntop_ohms = 24900\nbottom_ohms = 10000\n",
        _ => "",
    };
    let text = format!(
        "name = \"hut\"\ntopology = \"{topology}\"\n[cell]\nchemistry = \"LFP\"\nmin_mv = 2000\nnominal_mv = 3200\n\
         max_mv = 3650\n[converter]\nbits = 12\n[reference]\nmicrovolts = 1_200_000\n{divider}[environment]\n\
         calibrated_at_c = 23\nmin_c = -20\nmax_c = 60\n[thermistor]\nfixed_ohms = 10000\nmin_c = -15\nmax_c = 65\n\
         max_error_mc = 400\ntolerance_mk = 300\ntolerance_mk_per_k = 5\n\
         dissipation_uw_per_k = 1000\nself_heating_max_mk = 900\n{thermistor}"
    );
    let front_end = front_end_file::parse(Path::new("hut.toml"), &text).expect("sound");
    let thermistor = front_end.thermistor.as_ref().expect("it has one");
    Sensor::new(&front_end, thermistor, &[-10.0, 40.0]).expect("the law holds there")
}

/// A board and its readings: the parts by their order, then what differs from reading to reading.
#[derive(Clone, Copy)]
struct Board {
    high: bool,
    /// A rail of its own; else the sensor hangs on what the converter refers to.
    rail_v: Option<f64>,
    reference_v: f64,
    /// What self-heating is worked out for.
    heating_v: f64,
    parts: [f64; PARTS],
}

impl Board {
    /// The error of a reading, by the voltage of the node between both resistors.
    fn error_k(&self, celsius: f64, kelvins: f64, own: [f64; OWNS]) -> f64 {
        let [
            r25,
            b,
            tolerance,
            fixed,
            fixed_drift,
            rail,
            tol,
            drift,
            ageing,
            offset,
            gain,
            leakage,
            heating,
            _,
        ] = self.parts;
        let inverse = |celsius: f64| 1.0 / (celsius + 273.15);
        let exponent = B * (1.0 + 1e-6 * b) * (inverse(celsius) - inverse(25.0));
        let ohms = OHMS * (1.0 + 1e-6 * r25) * exponent.exp();
        let fixed = OHMS * (1.0 + 1e-6 * (fixed + fixed_drift * kelvins));
        let reference = self.reference_v * (1.0 + 1e-6 * (tol + drift * kelvins + ageing));
        let feed = self
            .rail_v
            .map_or(reference, |volts| volts * (1.0 + 1e-6 * rail));
        let (upper, lower) = if self.high {
            (ohms, fixed)
        } else {
            (fixed, ohms)
        };
        let node = (feed / upper + 1e-9 * leakage) / (1.0 / upper + 1.0 / lower);
        let code = node / reference * (4096.0 + gain) + offset + own[..5].iter().sum::<f64>();
        // What firmware makes of it: a drawing, on which nothing is off.
        let share = code / 4096.0 * self.reference_v / self.rail_v.unwrap_or(self.reference_v);
        let seen = if self.high {
            OHMS * (1.0 / share - 1.0)
        } else {
            OHMS / (1.0 / share - 1.0)
        };
        let read = 1.0 / (inverse(25.0) + (seen / OHMS).ln() / B) - 273.15;
        let watts = (self.heating_v / (ohms + fixed)).powi(2) * ohms;
        read - celsius
            + tolerance * (0.3 + 0.005 * celsius.abs())
            + heating * watts / DISSIPATION
            + own[5..].iter().sum::<f64>()
    }
}

const PARTS_OFF: [f64; PARTS] = [
    9000.0, -7000.0, 0.8, -6000.0, 90.0, 5000.0, -3000.0, 70.0, 900.0, 3.0, -5.0, 80.0, 0.6, 0.07,
];
const OWN: [f64; OWNS] = [1.5, -0.7, 0.4, -0.3, -0.45, 0.03, -0.02, 0.04];
const OWN_ON_THE_BENCH: [f64; OWNS] = [-1.1, 0.6, -0.35, 0.25, 0.5, 0.0, 0.015, 0.0];

/// Everything off at once, on either side, fed by the reference, by the emptiest cell and by a rail of its own. Uncalibrated, parts
/// are 45 K from their data sheets' 25 degC at worst; with one point they lie 2 K below it on the bench and 45 K below it at worst.
#[test]
fn errors_are_those_of_the_circuit() {
    let values: Vec<f64> = [&PARTS_OFF[..], &OWN, &OWN_ON_THE_BENCH].concat();
    for (topology, rail_v) in [
        ("divided-input", None),
        ("divided-input", Some(1.1)),
        ("supply-reference", None),
    ] {
        for high in [false, true] {
            let rail = rail_v.map_or(String::new(), |volts: f64| {
                format!("excitation_mv = {}\n", 1000.0 * volts)
            });
            let side = if high { "high" } else { "low" };
            let keys = format!(
                "side = \"{side}\"\n{rail}calibrated_at_c = 20\nr25_ohms = 10000\nb25_85_k = 3435\n"
            );
            let made = sensor(topology, &keys);
            let (reference_v, own_v) = match topology {
                "divided-input" => (REFERENCE_V, REFERENCE_V),
                _ => (EMPTIEST_V, 3.65),
            };
            let heating_v = rail_v.unwrap_or(own_v);
            let mut parts = PARTS_OFF;
            let mut values = values.clone();
            if rail_v.is_none() {
                // One and the same feeds the sensor and refers to it.
                for part in [
                    Part::Excitation,
                    Part::Reference,
                    Part::ReferenceDrift,
                    Part::ReferenceAgeing,
                ] {
                    (parts[part as usize], values[part as usize]) = (0.0, 0.0);
                }
            }
            let board = Board {
                high,
                rail_v,
                reference_v,
                heating_v,
                parts,
            };
            let mut errors = [0.0; 4];
            made.errors_k(&values, &mut errors);
            let offset = board.error_k(20.0, -2.0, OWN_ON_THE_BENCH) - 0.07;
            let expected = [
                board.error_k(-10.0, 45.0, OWN),
                board.error_k(40.0, 45.0, OWN),
                board.error_k(-10.0, -45.0, OWN) - offset,
                board.error_k(40.0, -45.0, OWN) - offset,
            ];
            for (error, expected) in errors.iter().zip(expected) {
                assert!(
                    (error - expected).abs() < 1e-3,
                    "{topology} {keys} {errors:?} {expected:?}"
                );
            }
            assert!((made.offset_k(&values) - offset).abs() < 1e-3);
        }
    }
}

/// A converter at a rail tells no temperature. That counts as the end of all temperatures on its side: a small resistance is hot for a
/// thermistor, and cold for platinum.
#[test]
fn a_board_at_a_rail_is_as_far_off_as_can_be() {
    let thermistor = "r25_ohms = 10000\nb25_85_k = 3435\n";
    let platinum = "platinum_ohms = 10000\n";
    for (law, side, offset, read_c) in [
        (thermistor, "low", -5000.0, 1000.0),
        (thermistor, "high", 5000.0, 1000.0),
        (platinum, "low", -5000.0, -273.15),
        (platinum, "low", 5000.0, 1000.0),
    ] {
        let made = sensor("divided-input", &format!("side = \"{side}\"\n{law}"));
        let mut values = [0.0; SLOTS];
        values[Part::Offset as usize] = offset;
        let mut errors = [0.0; 4];
        made.errors_k(&values, &mut errors);
        for (error, celsius) in errors.iter().zip([-10.0, 40.0, -10.0, 40.0]) {
            assert!(
                (error - (read_c - celsius)).abs() < 1e-9,
                "{law} {side} {errors:?}"
            );
        }
        assert_eq!(made.offset_k(&values), 0.0);
    }
    // A thermistor that seems to have a hundred thousand times its resistance is cold, and its law tells how cold.
    let made = sensor("divided-input", &format!("side = \"low\"\n{thermistor}"));
    let mut values = [0.0; SLOTS];
    values[Part::Offset as usize] = 5000.0;
    let mut errors = [0.0; 4];
    made.errors_k(&values, &mut errors);
    let seen_ohms = 1e4 * (1.0 - 1e-9) / 1e-9;
    let read_c = 1.0 / (1.0 / 298.15 + f64::ln(seen_ohms / 1e4) / 3435.0) - 273.15;
    assert!((errors[0] - (read_c + 10.0)).abs() < 0.1, "{errors:?}");
}
