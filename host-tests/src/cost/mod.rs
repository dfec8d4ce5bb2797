//! What is measured of front ends on small cores: sources from `emit`, right answers from the model.
//!
//! ```text
//! subject     a front end as drawn and with a module's constants, and what it must answer
//! source      subjects -> Rust source of images and firmware
//! jobs        conversions, limits and sums, and the usual ways
//! others      records of modules far off, for kernels
//! channel     temperature, filters, alarms and whole readings, which have a past
//! emitted     the emitted C header by the core's C compiler
//! measure     jobs -> figures; nothing is a figure that was not run
//! ```

pub mod channel;
pub mod emitted;
mod jobs;
pub mod measure;
mod others;
pub mod source;
pub mod subject;
