//! `tallyvolt divider FILE`

use std::path::Path;

use super::exit::Exit;
use super::{failure, print};
use crate::words;
use tallyvolt_analysis::choose::divider::found::{Objective, SearchError};
use tallyvolt_analysis::choose::divider::search;
use tallyvolt_analysis::describe::eseries::Series;
use tallyvolt_analysis::describe::front_end_file;

/// Reads the file as a candidate: the divider that stands in it may be the one that does not fit.
pub(super) fn run(file: &Path, series: Series, by: Objective, json: bool) -> Result<Exit, Exit> {
    let front_end = failure::shown(front_end_file::read_candidate(file))?;
    let found = match search(&front_end, series, by) {
        Ok(found) => found,
        Err(error @ SearchError::NoDivider { .. }) => {
            let fix = "give a file with topology = \"divided-input\"".to_owned();
            let place = ("", "topology");
            let shown = front_end_file::problem_at(file, place, &[], error.to_string(), fix);
            failure::shown(shown)?;
            return Err(Exit::BadInput);
        }
    };
    print::result(json, &found, || {
        words::divider::found(&found, &file.display().to_string())
    })?;
    Ok(Exit::of(found.meets()))
}
