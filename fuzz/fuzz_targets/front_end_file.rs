//! Any text as a front-end file: reading never panics, and what it accepts can be built and converts exactly.

#![no_main]

use std::path::Path;

use libfuzzer_sys::fuzz_target;
use miette::GraphicalReportHandler;
use tallyvolt_analysis::describe::firmware::DescribeError;
use tallyvolt_analysis::describe::front_end_file::parse;
use tallyvolt_analysis::describe::front_end_file::problem::FileError;
use tallyvolt_analysis::prove::check::conversion;
use tallyvolt_fuzz::wrong_on_purpose;
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;

fuzz_target!(|bytes: &[u8]| {
    let text = String::from_utf8_lossy(bytes);
    let front_end = match parse(Path::new("fuzzed.toml"), &text) {
        Ok(front_end) => front_end,
        Err(error) => return reads_well(&error),
    };
    let conversion = match conversion(&front_end) {
        Ok(conversion) => conversion,
        // The one refusal that no rule of the file can foresee.
        Err(DescribeError::Config(tallyvolt::ConfigError::Unproven { .. })) => return,
        Err(error) => panic!("a file that reads without a problem is refused: {error}"),
    };
    let model = Model::new(&front_end, CalibrationModel::identity());
    let largest = model.largest_count();
    let off = u32::from(wrong_on_purpose());
    for count in [
        0,
        1,
        2,
        largest / 3,
        largest / 2,
        largest - 1,
        largest,
        u32::MAX,
    ] {
        let answer = conversion.outcome(count.saturating_add(off));
        assert_eq!(answer, model.outcome(count), "count {count} of\n{text}");
    }
});

/// Every refusal has a reason, each is one line that names the file, and the first can be drawn: drawing is slow, and
/// every kind of problem is the first of some input.
fn reads_well(error: &FileError) {
    let lines = error.lines();
    assert!(!lines.is_empty(), "a refusal without a reason");
    for line in lines {
        assert!(
            line.starts_with("fuzzed.toml:") && !line.contains('\n'),
            "{line:?}"
        );
    }
    let FileError::Problems { problems, .. } = error else {
        panic!("text that was handed over is unreadable: {error}");
    };
    let mut drawn = String::new();
    if let Some(problem) = problems.first() {
        GraphicalReportHandler::new()
            .render_report(&mut drawn, problem)
            .expect("a report can be drawn");
    }
}
