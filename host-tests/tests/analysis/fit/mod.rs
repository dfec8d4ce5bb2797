//! The fit: published values, known truths, and every reason to suspect a module.

mod alarms;
mod constants;
mod coverage;
mod files;
mod guards;
mod lines;
mod meter;
mod next_point;
mod noise;
mod properties;
mod published;
mod settings;
mod thresholds;
mod truths;
mod verdicts;

use tallyvolt_analysis::calibrate::fit::module::{Fit, ModuleFit, ReadingUncertainty};
use tallyvolt_analysis::calibrate::fit::readings::{self, Readings};
use tallyvolt_analysis::calibrate::fit::transfer::Transfer;
use tallyvolt_analysis::calibrate::fit::uncertainty::Parameters;
use tallyvolt_analysis::calibrate::fit::{Batch, Settings, fit};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_harness::simulated;
use tallyvolt_model::front_end::FrontEnd;

const DIVIDED: &str = "hut-divided-12bit";
const SUPPLY: &str = "hut-supply-12bit";

fn parsed(text: &str, front_end: &FrontEnd) -> Readings {
    let largest = Transfer::new(front_end).expect("legal").largest;
    readings::parse("readings.csv", text.as_bytes(), largest).expect("a legal header")
}

fn fitted_with(text: &str, front_end: &FrontEnd, settings: &Settings) -> Batch {
    let readings = parsed(text, front_end);
    assert!(readings.problems.is_empty(), "{:?}", readings.problems);
    fit(front_end, &readings, settings, &|_| {}).expect("legal")
}

fn fitted(text: &str, front_end: &FrontEnd) -> Batch {
    fitted_with(text, front_end, &Settings::default())
}

fn fit_of(module: &ModuleFit) -> &Fit {
    module
        .fit
        .as_ref()
        .unwrap_or_else(|| panic!("no fit: {:?}", module.reasons))
}

fn uncertainty_of(fit: &Fit) -> Parameters {
    fit.uncertainty
        .unwrap_or_else(|| panic!("no interval: {:?}", fit.no_interval))
}

fn reading_of(fit: &Fit) -> ReadingUncertainty {
    fit.reading
        .unwrap_or_else(|| panic!("no interval: {:?}", fit.no_interval))
}

/// A shipped front end with some of its text replaced.
fn changed(name: &str, changes: &[(&str, &str)]) -> FrontEnd {
    let path = simulated::front_end_path(name);
    let mut text = std::fs::read_to_string(&path).expect("shipped");
    for (from, to) in changes {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    front_end_file::parse(&path, &text).expect("still legal")
}

/// One count is one millivolt: 2.048 V through two equal resistors, 12 bits, code edges.
fn one_millivolt_a_count() -> FrontEnd {
    changed(
        "hut-divided-12bit",
        &[
            ("microvolts = 1_225_000", "microvolts = 2_048_000"),
            ("top_ohms = 24900", "top_ohms = 10000"),
            ("code_centre = \"half\"", "code_centre = \"edge\""),
        ],
    )
}
