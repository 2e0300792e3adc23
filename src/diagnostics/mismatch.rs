//! What was found and what was expected, before the place is known.
//!
//! A type read by serde knows what it expected, but not its key in the file. Serde's error trait carries only text from
//! the type to the reader, so a mismatch is written as three lines with fixed prefixes and parsed again where the place is known.
//! Text from a file cannot imitate such a prefix: its line ends are escaped.

use std::fmt;

const EXPECTED: &str = "\n  expected: ";
const FIX: &str = "\n  to mend it: ";

/// What was found, what was expected, and how to correct it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mismatch {
    /// What was found; empty where only the reader knows.
    pub found: String,
    /// What was expected, such as "a length above zero".
    pub expected: String,
    /// How to correct it.
    pub fix: String,
}

impl Mismatch {
    /// A mismatch without what was found, which the reader adds.
    pub fn expected(expected: impl Into<String>, fix: impl Into<String>) -> Self {
        Self { found: String::new(), expected: expected.into(), fix: fix.into() }
    }

    /// Parses a mismatch from its text; any other text becomes the expectation.
    #[must_use]
    pub fn from_text(text: &str) -> Self {
        let parts = text
            .strip_prefix("found ")
            .and_then(|text| text.split_once(EXPECTED))
            .and_then(|(found, rest)| rest.split_once(FIX).map(|(expected, fix)| (found, expected, fix)));
        match parts {
            Some((found, expected, fix)) => {
                Self { found: found.to_owned(), expected: expected.to_owned(), fix: fix.to_owned() }
            }
            None => Self::expected(text, "write what is expected"),
        }
    }
}

impl fmt::Display for Mismatch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "found {}{EXPECTED}{}{FIX}{}", self.found, self.expected, self.fix)
    }
}

#[cfg(test)]
mod tests {
    use super::Mismatch;

    #[test]
    fn a_mismatch_survives_its_text() {
        for found in ["", "`0.1`, a number without a unit"] {
            let mismatch = Mismatch { found: found.into(), ..Mismatch::expected("a length", "add the unit") };
            assert_eq!(Mismatch::from_text(&mismatch.to_string()), mismatch);
        }
        assert_eq!(Mismatch::from_text("odd").expected, "odd");
    }
}
