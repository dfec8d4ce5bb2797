//! What a front-end file asks for, and whether the front end meets it: one list, in the same words, for every command.
//!
//! It says nothing about arithmetic: that firmware converts every count exactly is the sweep's business, and holds for a front
//! end that meets nothing. Every finding follows from the file alone, so that `check`, `budget`, `compare`, `divider` and
//! `report` cannot disagree.

mod range;

use serde::Serialize;
use tallyvolt_model::front_end::FrontEnd;

use crate::choose::budget::dynamic;

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
    #[must_use]
    pub fn line(&self) -> String {
        format!("{}: {}; rule: {}", self.what, self.found, self.rule)
    }
}

/// Every finding about a front end, sound or not; those that the file says too little about among them.
#[must_use]
pub fn findings(front_end: &FrontEnd) -> Vec<Finding> {
    let mut findings = range::findings(front_end);
    findings.extend(dynamic::checks(front_end));
    findings
}

/// Whether nothing is found that breaks its rule.
#[must_use]
pub fn meets(findings: &[Finding]) -> bool {
    broken(findings).next().is_none()
}

/// The findings that break their rule.
pub fn broken(findings: &[Finding]) -> impl Iterator<Item = &Finding> {
    findings
        .iter()
        .filter(|finding| finding.holds == Some(false))
}
