//! `tallyvolt example TOPOLOGY`

use serde::Serialize;

use super::{Exit, failure};
use crate::describe::front_end_file::example::Example;
use crate::words;

#[derive(Serialize)]
struct Output {
    tallyvolt: &'static str,
    text: &'static str,
    caution: &'static str,
}

pub(super) fn run(example: Example, json: bool) -> Exit {
    let printed = if json {
        failure::print_json(&Output {
            tallyvolt: env!("CARGO_PKG_VERSION"),
            text: example.text(),
            caution: words::cautions::CAUTION,
        })
    } else {
        failure::print(example.text())
    };
    match printed {
        Ok(()) => Exit::Holds,
        Err(exit) => exit,
    }
}
