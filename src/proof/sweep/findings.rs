//! Makes findings and formats their numbers.

use crate::diagnostics::{Finding, Place, Rule, SweepRule};
use crate::proof::Movement;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// A length as text.
pub fn mm(value: f64) -> String {
    // Rounded first, so that a tiny negative number is not shown as −0.
    format!("{:.3} mm", (value * 1000.0).round() / 1000.0 + 0.0)
}

/// A radius as text.
pub fn radius(value: f64) -> String {
    format!("radius {value:.2} mm")
}

/// Findings of which those of one rule are told once for each tool: the worst, with the number of the others.
pub fn once_for_each_tool(findings: Vec<Finding>, rule: SweepRule, movements: &[Movement]) -> Vec<Finding> {
    let tool = |finding: &Finding| match finding.place {
        Place::Program { line, .. } => movements.iter().find(|m| m.line == line).and_then(|m| m.tool),
        _ => None,
    };
    let size = |finding: &Finding| finding.measure.as_ref().map_or(0.0, |m| m.value);
    let (of_rule, mut told): (Vec<Finding>, Vec<Finding>) =
        findings.into_iter().partition(|finding| finding.rule == rule.into());
    let mut of_tools: BTreeMap<Option<u32>, (usize, Finding)> = BTreeMap::new();
    for finding in of_rule {
        match of_tools.entry(tool(&finding)) {
            Entry::Vacant(none) => {
                none.insert((0, finding));
            }
            Entry::Occupied(mut worst) => {
                let (others, kept) = worst.get_mut();
                *others += 1;
                if size(&finding) > size(kept) {
                    *kept = finding;
                }
            }
        }
    }
    for (others, mut finding) in of_tools.into_values() {
        let more = match others {
            0 => String::new(),
            1 => "; less in another pass of this tool".to_owned(),
            _ => format!("; less in {others} other passes of this tool"),
        };
        finding.what += &more;
        told.push(finding);
    }
    told
}

/// A finding at a movement, or about the program as a whole.
pub fn note(rule: SweepRule, at: Option<&Movement>, what: String) -> Finding {
    at_movement(rule, at, what)
}

/// A finding of any rule at a movement, or about the program as a whole.
pub fn at_movement(rule: impl Into<Rule>, at: Option<&Movement>, what: String) -> Finding {
    let place = at.map_or(Place::Whole, |m| Place::Program { line: m.line, block: m.sequence });
    Finding::new(rule, place, what)
}
