//! What is reported to a person: errors in input files with their place, findings with their rule, rank and place.

pub(crate) mod collector;
mod finding;
mod mismatch;
mod place;
mod rank;
mod rule;
pub mod text;

pub(crate) use collector::FindingCollector;
pub use finding::{Finding, Measure, Unit};
pub use mismatch::Mismatch;
pub use place::Place;
pub use rank::Rank;
pub use rule::{PlanRule, ProgramRule, Rule, SurveyRule, SweepRule, Topic};
pub use text::shown;

use std::fmt;
use std::path::PathBuf;

/// One error in an input file, with its place and how to correct it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InputError {
    /// The file.
    pub file: PathBuf,
    /// Line, counted from 1; 0 where the error has no line (an empty file).
    pub line: usize,
    /// Column in characters, counted from 1; 0 where the error has no column.
    pub column: usize,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// How to correct it.
    pub fix: String,
}

impl fmt::Display for InputError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", text::visible(&self.file.display().to_string()))?;
        if self.line > 0 {
            write!(f, ":{}", self.line)?;
            if self.column > 0 {
                write!(f, ":{}", self.column)?;
            }
        }
        write!(f, ": found {}\n  expected: {}\n  to mend it: {}", self.found, self.expected, self.fix)
    }
}

impl std::error::Error for InputError {}
