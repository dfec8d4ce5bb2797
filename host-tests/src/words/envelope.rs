//! What every JSON output has around its body.

use serde::Serialize;

use super::cautions::CAUTION;

/// A result for machines: the program's version, the result's own fields, the caution.
#[derive(Debug, Serialize)]
pub struct Envelope<T> {
    tallyvolt: &'static str,
    #[serde(flatten)]
    body: T,
    caution: &'static str,
}

impl<T> Envelope<T> {
    /// Puts a result into its envelope.
    pub fn of(body: T) -> Self {
        Self {
            tallyvolt: env!("CARGO_PKG_VERSION"),
            body,
            caution: CAUTION,
        }
    }
}
