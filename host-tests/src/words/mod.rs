//! Results put into words: one place for numbers, units, formulas, verdicts, tables and cautions.

pub mod budget;
pub mod cautions;
pub mod check;
pub mod compare;
pub mod cost;
pub mod divider;
pub mod drawing;
pub mod envelope;
pub mod findings;
pub mod fit;
pub mod fit_json;
mod fit_table;
pub mod formulas;
pub mod numbers;
pub mod quoting;
pub mod recorded;
pub mod replay;
pub mod sensor;
pub mod sheet;
pub mod temperature;
pub mod wrapping;
pub(crate) mod yields;
