//! Makes findings and formats their numbers.

use crate::diagnostics::{Finding, Place, Rule, SweepRule};
use crate::proof::Movement;

/// A length as text.
pub fn mm(value: f64) -> String {
    // Rounded first, so that a tiny negative number is not shown as −0.
    format!("{:.3} mm", (value * 1000.0).round() / 1000.0 + 0.0)
}

/// A radius as text.
pub fn radius(value: f64) -> String {
    format!("radius {value:.2} mm")
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
