//! A front-end file, read; and the front end handed to the firmware crate.

pub mod eseries;
pub mod firmware;
pub mod front_end_file;
pub mod limit_name;
pub mod limits;
pub mod thermistor_table;
