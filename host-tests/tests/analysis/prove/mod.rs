//! The check of a front end: its figures by hand, and subjects that are wrong in one way.

mod controls;
mod figures;
mod limits;
mod sweep;
mod thermistor;

use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_harness::cases::shipped;
use tallyvolt_model::front_end::FrontEnd;

/// One shipped front end.
fn shipped_front_end(name: &str) -> FrontEnd {
    let path = shipped::folder().join(format!("{name}.toml"));
    front_end_file::read(&path).unwrap_or_else(|error| panic!("{error}"))
}
