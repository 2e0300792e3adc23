//! A fault in a scan before its place in the file is known, and how it gets one.

use crate::diagnostics::InputError;
use crate::diagnostics::text::visible;
use std::path::Path;

/// A fault before its place in the file is known: where the rest of the input began, and what is wrong.
pub(super) struct Trouble {
    /// Bytes of input left where the fault stands.
    pub left: usize,
    /// The line, from 1, of a fault that the whole file shows there; zero where `left` tells the place.
    pub line: u32,
    pub found: String,
    pub expected: String,
    pub fix: String,
}

impl Trouble {
    pub fn new(
        rest: &[u8],
        found: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) -> Self {
        Self { left: rest.len(), line: 0, found: found.into(), expected: expected.into(), fix: fix.into() }
    }

    /// The trouble of a line's text, placed in the input that the line starts.
    pub fn within(self, start: &[u8], text: &[u8]) -> Self {
        let lead = start.iter().take_while(|b| b.is_ascii_whitespace()).count();
        let into = text.len().saturating_sub(self.left);
        Self { left: start.len().saturating_sub(lead + into), ..self }
    }
}

/// Gives a trouble its place: the column is counted in characters from the start of its line.
pub(super) fn place(file: &Path, line: u32, start: &[u8], t: Trouble) -> InputError {
    let column =
        start.len().checked_sub(t.left).and_then(|n| start.get(..n)).map_or(0, |before| {
            if line == 0 { 0 } else { String::from_utf8_lossy(before).chars().count() + 1 }
        });
    let error = InputError {
        file: file.to_path_buf(),
        line: usize::try_from(line).unwrap_or(usize::MAX),
        column,
        found: t.found,
        expected: t.expected,
        fix: t.fix,
        context: None,
    };
    if line == 0 {
        return error;
    }
    let length = start.iter().position(|b| matches!(b, b'\n' | b'\r')).unwrap_or(start.len());
    let text = String::from_utf8_lossy(start.get(..length).unwrap_or(start));
    let semicolons = text.contains(';');
    let ends = |c: &char| matches!(c, ' ' | '\t' | ';') || (*c == ',' && !semicolons);
    let spot = text.chars().skip(column.saturating_sub(1)).take_while(|c| !ends(c)).count();
    error.with_excerpt(&text, spot)
}

/// Gives a place to a trouble of a file that could not be made plain text: its line alone, since no column of such a text is sure.
pub(super) fn place_in(file: &Path, t: Trouble) -> InputError {
    let line = usize::try_from(t.line).unwrap_or(usize::MAX);
    InputError { line, ..place(file, 0, &[], t) }
}

/// At most forty characters of what stood there, with nothing in it that could steer a terminal.
pub(super) fn shown(text: &[u8]) -> String {
    const MOST: usize = 40;
    let text = String::from_utf8_lossy(text);
    let start: String = text.chars().take(MOST).collect();
    let mut out = visible(&start);
    if text.chars().nth(MOST).is_some() {
        out.push('…');
    }
    out
}
