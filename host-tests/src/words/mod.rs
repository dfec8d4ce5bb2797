//! Results put into words: one place for numbers, units, formulas, verdicts, tables and cautions.

pub(crate) mod budget;
pub mod cautions;
pub(crate) mod check;
pub(crate) mod compare;
pub mod cost;
pub(crate) mod divider;
pub(crate) mod drawing;
pub(crate) mod findings;
pub(crate) mod fit;
pub(crate) mod fit_json;
mod fit_table;
pub(crate) mod formulas;
pub(crate) mod numbers;
pub(crate) mod quoting;
pub(crate) mod recorded;
pub(crate) mod replay;
pub(crate) mod sensor;
pub(crate) mod sheet;
pub(crate) mod temperature;
pub(crate) mod wrapping;
pub(crate) mod yields;
