//! One finding: what is looked at, what was found, the rule and its source.

use serde::Serialize;

/// One finding.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// What is looked at.
    pub what: &'static str,
    /// What was found, with its unit.
    pub found: String,
    /// What it must be.
    pub rule: String,
    /// Where the rule comes from.
    pub source: &'static str,
    /// Whether it holds; none where the file does not say enough.
    pub holds: Option<bool>,
}

impl Finding {
    /// In one line: what, found and rule.
    pub fn line(&self) -> String {
        format!("{}: {}; rule: {}", self.what, self.found, self.rule)
    }
}
