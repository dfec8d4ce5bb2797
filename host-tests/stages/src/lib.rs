//! The firmware's channel beside the plain one, and the stages whose tests need no program: `host-tests/tests/stages` once more, in a program
//! that is built in seconds. Each mutant of the library is a build of its own, and most die here.

// Under the name that the tests have for it elsewhere.
#[cfg(all(test, feature = "alone"))]
extern crate self as tallyvolt_stages;

pub mod runs;
#[cfg(all(test, feature = "alone"))]
mod stages;
