//! Files in, bounded; CSV as benches write it; files out, whole or not at all.

pub(crate) mod input_file;
pub mod output_file;
pub mod rows;
