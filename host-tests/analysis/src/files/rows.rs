//! CSV files as benches write them: of readings, of logs, of a batch.
//!
//! ```text
//! source    plain or gzip'd bytes     -> UTF-8, whatever the byte order mark says
//! lines     UTF-8                     -> lines of a stated length, fixed memory
//! fields    a line                    -> fields, quoted or not, and where they stand
//! columns   the header                -> what each column is, and in which unit
//! decimals  a field                   -> a number; point or comma, and never a guess between them
//! times     a field                   -> seconds, from seconds or ISO 8601
//! names     a field                   -> a module's name, spelled one way
//! table     all of these              -> rows, one at a time
//! problem   a broken rule             -> file, line, rule and help, the field underlined
//! ```
//!
//! One row is one line: a quote that is not closed spoils its own row and no other.

pub(crate) mod columns;
pub(crate) mod decimals;
pub(crate) mod fields;
pub(crate) mod lines;
pub(crate) mod names;
pub mod problem;
pub(crate) mod source;
pub(crate) mod table;
pub(crate) mod times;
