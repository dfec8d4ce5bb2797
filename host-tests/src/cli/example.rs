//! `tallyvolt example TOPOLOGY`

use serde::Serialize;

use super::exit::Exit;
use super::print;
use tallyvolt_analysis::describe::front_end_file::example::Example;

#[derive(Serialize)]
struct Output {
    text: &'static str,
}

pub(super) fn run(example: Example, json: bool) -> Result<Exit, Exit> {
    let text = example.text();
    print::document(json, Output { text }, text)?;
    Ok(Exit::Holds)
}
