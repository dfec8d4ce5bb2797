//! `tallyvolt divider FILE`

use std::path::Path;

use serde::Serialize;

use super::{Exit, failure};
use crate::choose::divider::{Found, Objective, SearchError, search};
use crate::describe::eseries::Series;
use crate::describe::front_end_file;
use crate::words;

#[derive(Serialize)]
struct Output<'a> {
    tallyvolt: &'static str,
    #[serde(flatten)]
    found: &'a Found,
    caution: &'static str,
}

/// Reads the file as a candidate: the divider that stands in it may be the one that does not fit.
pub(super) fn run(file: &Path, series: Series, by: Objective, json: bool) -> Exit {
    let front_end = match front_end_file::read_candidate(file) {
        Ok(front_end) => front_end,
        Err(error) => {
            failure::show(error);
            return Exit::BadInput;
        }
    };
    let found = match search(&front_end, series, by) {
        Ok(found) => found,
        Err(error @ SearchError::NoDivider { .. }) => {
            let mend = "give a file with topology = \"divided-input\"".to_owned();
            let shown =
                front_end_file::problem_at(file, ("", "topology"), &[], error.to_string(), mend);
            if let Err(problem) = shown {
                failure::show(problem);
            }
            return Exit::BadInput;
        }
    };
    let printed = if json {
        failure::print_json(&Output {
            tallyvolt: env!("CARGO_PKG_VERSION"),
            found: &found,
            caution: words::cautions::CAUTION,
        })
    } else {
        let text = words::divider::found(&found, &file.display().to_string());
        failure::print(&format!("{text}\n{}\n", words::cautions::caution()))
    };
    match printed {
        Err(exit) => exit,
        Ok(()) if found.meets() => Exit::Holds,
        Ok(()) => Exit::Fails,
    }
}
