//! Front ends, levels and a judge's noise for the unit tests of the fit.

use std::path::Path;

use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::rational::whole;

use super::levels::{Level, Row};
use super::meter::Meter;
use super::noise::{Noise, noise};
use super::rounding::HARMONICS;
use super::transfer::Transfer;
use crate::describe::front_end_file;

fn parsed(topology: &str, reference: &str) -> FrontEnd {
    let text = format!(
        "name = \"example\"\ntopology = \"{topology}\"\n\
         [cell]\nchemistry = \"LFP\"\nmin_mv = 2000\nnominal_mv = 3200\nmax_mv = 3650\n\
         [converter]\nbits = 12\nfull_scale = \"2^n\"\ncode_centre = \"edge\"\nsupply_min_mv = 1800\n{reference}"
    );
    front_end_file::parse(Path::new("example.toml"), &text).expect("legal")
}

/// One count is one millivolt: 2.048 V through two equal resistors, 12 bits, code edges.
pub fn divided() -> FrontEnd {
    parsed(
        "divided-input",
        "[reference]\nmicrovolts = 2_048_000\n[divider]\ntop_ohms = 10000\nbottom_ohms = 10000\n",
    )
}

/// A reference of 1.2 V against the cell's voltage, 12 bits.
pub fn supply() -> FrontEnd {
    parsed("supply-reference", "[reference]\nmicrovolts = 1_200_000\n")
}

/// The noise of a data sheet, in steps.
pub fn stated_noise(front_end: &FrontEnd, steps: u32) -> Noise {
    let mut accuracy = front_end.converter.accuracy.clone();
    accuracy.noise_rms_lsb = Some(whole(steps));
    let transfer = Transfer::new(front_end).expect("legal");
    noise(&[], &transfer, &Meter::default(), &accuracy)
}

/// Rows at one position, off it by so many counts, which are alike to the converter's rounding in part, and to the display's.
pub fn level(position: f64, off: &[f64], alike: f64, display_shared: f64) -> Level {
    let rows: Vec<Row> = (1_u64..)
        .zip(off)
        .map(|(line, off)| Row {
            position,
            place: position + off,
            line,
        })
        .collect();
    Level {
        place: position + off.iter().sum::<f64>() / off.len() as f64,
        rows,
        position,
        alike: [alike; HARMONICS],
        display_shared,
    }
}
