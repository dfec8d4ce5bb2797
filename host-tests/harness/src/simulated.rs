//! Simulated modules: a true gain and offset, a noisy converter, a meter with an error of its own. Formulas written out
//! here, none taken from the fit. Also the generator of the data that is shipped in `readings/`.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use num_traits::ToPrimitive;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_model::front_end::{CodeCentre, FrontEnd, FullScale, ShiftRounding, Topology};

/// What one module really is.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    /// Factor on the voltage.
    pub gain: f64,
    /// Single-sample counts.
    pub offset: f64,
    /// Noise of one sample, in steps, rms.
    pub noise: f64,
}

/// The folder of the host's package.
#[must_use]
pub fn host_tests() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
}

/// Where a shipped front-end file stands.
#[must_use]
pub fn front_end_path(name: &str) -> PathBuf {
    host_tests().join("front-ends").join(format!("{name}.toml"))
}

/// A shipped front end.
pub fn front_end(name: &str) -> FrontEnd {
    front_end_file::read(&front_end_path(name)).expect("a shipped front end")
}

/// A standard normal number (Box and Muller).
pub fn normal(random: &mut ChaCha8Rng) -> f64 {
    let radius = (-2.0 * (1.0 - random.random::<f64>()).ln()).sqrt();
    radius * (std::f64::consts::TAU * random.random::<f64>()).cos()
}

/// Uniform within -1 to 1.
pub fn even(random: &mut ChaCha8Rng) -> f64 {
    2.0 * random.random::<f64>() - 1.0
}

/// Where a voltage stands on the scale of one sample, before noise and rounding.
pub fn code(front_end: &FrontEnd, truth: &Truth, mv: f64) -> f64 {
    let converter = &front_end.converter;
    let steps = 2_f64.powi(converter.bits as i32);
    let full_scale = match converter.full_scale {
        FullScale::PowerOfTwo => steps,
        FullScale::TopCode => steps - 1.0,
    };
    let reference_mv = f64::from(front_end.reference.microvolts) / 1000.0;
    let ratio = match &front_end.topology {
        Topology::DividedInput(divider) => {
            let top = divider.top_ohms.to_f64().expect("small");
            let bottom = divider.bottom_ohms.to_f64().expect("small");
            mv / truth.gain * bottom / (top + bottom) / reference_mv
        }
        Topology::SupplyReference => reference_mv * truth.gain / mv,
    };
    ratio * full_scale + truth.offset
}

/// The count that a module gives.
pub fn count(front_end: &FrontEnd, truth: &Truth, mv: f64, random: &mut ChaCha8Rng) -> u32 {
    let converter = &front_end.converter;
    let top = 2_f64.powi(converter.bits as i32) - 1.0;
    let at = code(front_end, truth, mv);
    let round_at = match converter.code_centre {
        CodeCentre::Half => 0.0,
        CodeCentre::Edge => 0.5,
    };
    let sum: f64 = (0..converter.samples)
        .map(|_| {
            (at + truth.noise * normal(random) + round_at)
                .floor()
                .clamp(0.0, top)
        })
        .sum();
    let half = match converter.shift_rounding {
        ShiftRounding::Truncate => 0,
        ShiftRounding::Nearest => (1_u32 << converter.right_shift) >> 1,
    };
    (sum as u32 + half) >> converter.right_shift
}

/// A truth within the tolerances of the hut's 12-bit divider.
pub fn truth(random: &mut ChaCha8Rng) -> Truth {
    Truth {
        gain: 1.0 + 0.004 * even(random),
        offset: 1.5 * even(random),
        noise: 0.6,
    }
}

/// Readings of `modules` modules at four voltages, `repeats` rows each, as CSV.
pub fn batch(front_end: &FrontEnd, modules: u32, repeats: u32, seed: u64) -> String {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut text = String::from("module,meter_mv,count\n");
    for module in 0..modules {
        let truth = truth(&mut random);
        for set in [2000.0, 2600.0, 3200.0, 3600.0] {
            for _ in 0..repeats {
                let mv = set + 2.0 * even(&mut random);
                let count = count(front_end, &truth, mv, &mut random);
                let _ = writeln!(text, "m{module:05},{mv:.3},{count}");
            }
        }
    }
    text
}

/// The module of the hut's shipped data that has the wrong resistor, and the one whose log sticks.
pub const WRONG_MODULE: &str = "hut-11";
/// See [`WRONG_MODULE`].
pub const STUCK_MODULE: &str = "hut-06";

/// The hut's sixteen modules.
pub fn hut_truths() -> Vec<(String, Truth)> {
    let mut random = ChaCha8Rng::seed_from_u64(2_311);
    (1..=16)
        .map(|number| {
            let name = format!("hut-{number:02}");
            let mut truth = truth(&mut random);
            if name == WRONG_MODULE {
                // 9.76 kOhm was soldered where the drawing has 10 kOhm: (24.9 + 9.76) / 9.76 over 3.49.
                truth.gain *= 34.66 / 9.76 / 3.49;
            }
            (name, truth)
        })
        .collect()
}

/// `readings/hut-16-modules.csv`: four voltages, three rows each, a meter of 50 ppm of reading and 10 ppm of 10 V.
pub fn hut_readings() -> String {
    let front_end = front_end("hut-divided-12bit");
    let mut random = ChaCha8Rng::seed_from_u64(16);
    let meter = even(&mut random);
    let mut text = String::from(
        "# Invented data for demonstration: sixteen modules of a mountain hut's lighting bank on the bench.\n\
         # Front end hut-divided-12bit. Meter: 50 ppm of reading + 10 ppm of its 10 V range, last digit 0.1 mV.\n\
         module,meter_mv,count,temp_c\n",
    );
    for (name, truth) in hut_truths() {
        let temp_c = 23.0 + even(&mut random);
        for set in [2050.0, 2600.0, 3200.0, 3600.0] {
            for _ in 0..3 {
                let mv = set + 3.0 * even(&mut random);
                let count = count(&front_end, &truth, mv, &mut random);
                let shown = mv + meter * (50e-6 * mv + 10e-6 * 10_000.0);
                let _ = writeln!(text, "{name},{shown:.1},{count},{temp_c:.1}");
            }
        }
    }
    text
}

/// `readings/hut-evening-log.csv`: an evening's discharge, a row a module and minute, the meter on every tenth.
pub fn hut_log() -> String {
    let front_end = front_end("hut-divided-12bit");
    let mut random = ChaCha8Rng::seed_from_u64(18);
    let mut text = String::from(
        "# Invented data for demonstration: an evening of the hut's lighting bank, a row a module and minute.\n\
         time,module,count,meter_mv\n",
    );
    let truths = hut_truths();
    let mut held = None;
    for minute in 0..180_u32 {
        if (90..100).contains(&minute) {
            // The logger was restarted.
            continue;
        }
        let resting = 3330.0 - 0.35 * f64::from(minute);
        let load = if (30..150).contains(&minute) {
            45.0
        } else {
            0.0
        };
        for (at, (name, truth)) in truths.iter().enumerate() {
            let mv = resting - load - at as f64;
            let mut count = count(&front_end, truth, mv, &mut random);
            if name == STUCK_MODULE && minute >= 110 {
                count = *held.get_or_insert(count);
            }
            let time = 60 * minute;
            if minute % 10 == 0 {
                let _ = writeln!(text, "{time},{name},{count},{mv:.1}");
            } else {
                let _ = writeln!(text, "{time},{name},{count},");
            }
        }
    }
    text
}
