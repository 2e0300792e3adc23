//! What is reported to a person: errors in input files with their place, findings with their rule, rank and place.

pub mod checksum;
pub(crate) mod collector;
mod excerpt;
mod finding;
mod mismatch;
mod place;
mod rank;
mod rule;
pub mod text;

pub(crate) use collector::FindingCollector;
pub use excerpt::Excerpt;
pub use finding::{Finding, Measure, Unit};
pub use mismatch::Mismatch;
pub use place::Place;
pub use rank::Rank;
pub use rule::{PlanRule, ProgramRule, Rule, SurveyRule, SweepRule, Topic};
pub use text::shown;

use std::fmt;
use std::path::{Path, PathBuf};

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
    /// What stands there, and where the file is named.
    pub context: Option<Box<Context>>,
}

/// What helps to find the place of an error.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Context {
    /// The line, with the spot.
    pub excerpt: Option<Excerpt>,
    /// The file and line, from 1, that names the file of the error.
    pub named_in: Option<(PathBuf, usize)>,
    /// The keys that the error speaks of and that say how a scan is read, each with the file and line, from 1, where it stands.
    pub said_in: Vec<(&'static str, PathBuf, usize)>,
    /// Missing keys as a block to paste.
    pub block: Option<String>,
    /// Whether one line says it all: a blank that is left to be filled in.
    pub brief: bool,
}

impl InputError {
    /// The same error with the place that names its file.
    #[must_use]
    pub fn named_in(mut self, file: &Path, line: usize) -> Self {
        self.context.get_or_insert_default().named_in = Some((file.to_owned(), line));
        self
    }

    /// The same error with the place of a key that it speaks of.
    #[must_use]
    pub fn said_in(mut self, key: &'static str, file: &Path, line: usize) -> Self {
        self.context.get_or_insert_default().said_in.push((key, file.to_owned(), line));
        self
    }

    /// Whether it speaks of a key: with its name alone, or with a value behind it.
    #[must_use]
    pub fn speaks_of(&self, key: &str) -> bool {
        let ways = [format!("`{key}`"), format!("`{key}:")];
        [&self.found, &self.fix].iter().any(|text| ways.iter().any(|way| text.contains(way.as_str())))
    }

    /// The same error with an excerpt of its line, `width` characters of which are the spot.
    #[must_use]
    pub fn with_excerpt(mut self, line: &str, width: usize) -> Self {
        if let Some(excerpt) = Excerpt::of(line, self.column, width) {
            self.context.get_or_insert_default().excerpt = Some(excerpt);
        }
        self
    }
}

impl InputError {
    /// File, line and column, as far as they are known.
    #[must_use]
    pub fn place(&self) -> String {
        let file = text::visible(&self.file.display().to_string());
        match (self.line, self.column) {
            (0, _) => file,
            (line, 0) => format!("{file}:{line}"),
            (line, column) => format!("{file}:{line}:{column}"),
        }
    }
}

impl fmt::Display for InputError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.place())?;
        let context = self.context.as_deref();
        if context.is_some_and(|c| c.brief) {
            return write!(f, ": {}: {}; {}", self.found, self.expected, self.fix);
        }
        write!(f, ": found {}", self.found)?;
        if let Some(excerpt) = context.and_then(|c| c.excerpt.as_ref()) {
            write!(f, "\n  in: {excerpt}")?;
        }
        if let Some((file, line)) = context.and_then(|c| c.named_in.as_ref()) {
            write!(f, "\n  named in: {}:{line}", text::visible(&file.display().to_string()))?;
        }
        for (key, file, line) in context.iter().flat_map(|c| &c.said_in) {
            write!(f, "\n  `{key}` in: {}:{line}", text::visible(&file.display().to_string()))?;
        }
        write!(f, "\n  expected: {}\n  to mend it: {}", self.expected, self.fix)?;
        if let Some(block) = context.and_then(|c| c.block.as_ref()) {
            write!(f, "\n{block}")?;
        }
        Ok(())
    }
}

impl std::error::Error for InputError {}
