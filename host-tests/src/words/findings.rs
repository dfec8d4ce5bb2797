//! Findings in words, alike in every command.

use tallyvolt_analysis::choose::findings::broken;
use tallyvolt_analysis::choose::findings::finding::Finding;

/// The label of the verdict.
pub const MEETS: &str = "meets what its file asks";

/// `yes`, or how many findings break their rule.
pub fn verdict(findings: &[Finding]) -> String {
    let not_known = findings
        .iter()
        .filter(|finding| finding.holds.is_none())
        .count();
    match broken(findings).count() {
        0 if not_known > 0 => format!("yes, as far as the file says: {not_known} not known"),
        0 => "yes".to_owned(),
        broken => format!("NO: {broken} of {} findings", findings.len()),
    }
}

/// A line for each finding that breaks its rule.
pub fn lines(findings: &[Finding]) -> impl Iterator<Item = String> + '_ {
    broken(findings).map(Finding::line)
}
