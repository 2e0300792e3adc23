//! What stood somewhere and what was expected there, before it is known where.
//!
//! A type that reads itself knows what it expected, not the key under which it stands. Serde's error trait carries only text between
//! the two, so a mismatch is written as three lines with fixed heads and read again where the place is known. Nothing that a
//! file holds can forge such a head: text from outside is shown with its line ends escaped.

use std::fmt;

const EXPECTED: &str = "\n  expected: ";
const FIX: &str = "\n  to mend it: ";

/// What stood somewhere, what was expected, and how to mend it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mismatch {
    /// What stood there; empty where only the place knows.
    pub found: String,
    /// What was expected, such as "a length above zero".
    pub expected: String,
    /// What the person can do.
    pub fix: String,
}

impl Mismatch {
    /// A mismatch whose place says what stood there.
    pub fn expected(expected: impl Into<String>, fix: impl Into<String>) -> Self {
        Self { found: String::new(), expected: expected.into(), fix: fix.into() }
    }

    /// Reads one back from its text; other text is taken for the expectation.
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
