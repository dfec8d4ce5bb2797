//! What a front-end file asks for, and whether the front end meets it: one list, in the same words, for every command.
//!
//! It says nothing about arithmetic: that firmware converts every count exactly is the sweep's business, and holds for a front
//! end that meets nothing. Every finding follows from the file alone, so that `check`, `budget`, `compare`, `divider` and
//! `report` cannot disagree.

pub mod finding;
mod range;
mod sensor;

use tallyvolt_model::front_end::FrontEnd;

use crate::choose::budget::dynamic;
use finding::Finding;

/// Every finding about a front end, sound or not; those that the file says too little about among them.
pub fn findings(front_end: &FrontEnd) -> Vec<Finding> {
    let mut findings = range::findings(front_end);
    findings.extend(dynamic::checks(front_end));
    findings.extend(sensor::findings(front_end));
    findings
}

/// Whether nothing is found that breaks its rule.
pub fn meets(findings: &[Finding]) -> bool {
    broken(findings).next().is_none()
}

/// The findings that break their rule.
pub fn broken(findings: &[Finding]) -> impl Iterator<Item = &Finding> {
    findings
        .iter()
        .filter(|finding| finding.holds == Some(false))
}
