//! Findings in one form, with their numbers.

use crate::proof::{Finding, Movement, Rank};

/// A length as text.
pub fn mm(value: f64) -> String {
    // Rounded first, so that nothing is ever less than zero by less than it shows.
    format!("{:.3} mm", (value * 1000.0).round() / 1000.0 + 0.0)
}

/// A radius as text.
pub fn radius(value: f64) -> String {
    format!("radius {value:.2} mm")
}

/// A finding at a movement, or about the program as a whole.
pub fn note(
    rank: Rank,
    kind: &'static str,
    at: Option<&Movement>,
    what: String,
    why: &str,
    fix: &str,
) -> Finding {
    Finding {
        rank,
        kind,
        block: at.and_then(|m| m.sequence),
        line: at.map_or(0, |m| m.line),
        what,
        why: why.to_owned(),
        fix: fix.to_owned(),
    }
}
