//! What a function costs on a small core: images built, run on a simulator, and every answer checked.
//!
//! ```text
//! toolchain   which compilers are here, and which packages would bring the missing ones
//! chip        a core: how it is compiled for, linked and simulated
//! images      source -> linked images, one for each measured function
//! elf         sizes and symbols of an image
//! runner      an image on a simulator: a row for every call
//! job         a function, what it must answer -> its figure
//! figure      the figures of functions and of cores
//! recorded    the committed figures, and the budget that they set
//! energy      cycles -> charge per reading
//! ```
//!
//! Sources and right answers come from outside, as text and numbers.

pub mod chip;
pub mod cores;
pub mod elf;
pub mod energy;
pub mod error;
pub mod figure;
pub mod images;
pub mod job;
pub mod recorded;
pub mod runner;
pub mod toolchain;
