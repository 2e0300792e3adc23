//! Where fields and lines begin and end.

use super::Reader;
use crate::scan::dialect::{Separator, comment_start, gap_word, skip_while};

impl Reader<'_> {
    /// Whether the field here is a word for a reading that is missing.
    pub(super) fn is_gap(&self, rest: &[u8]) -> bool {
        let length = rest.len() - self.past_field(rest).len();
        gap_word(rest.get(..length).unwrap_or_default())
    }

    /// Past a field in which `#` may stand.
    pub(super) fn past_field<'a>(&self, rest: &'a [u8]) -> &'a [u8] {
        skip_while(rest, |b| !self.parts(b))
    }

    /// Whether a byte ends a field.
    pub(super) fn parts(&self, b: u8) -> bool {
        let separates = match self.separator {
            Separator::Byte(s) => b == s,
            Separator::Blanks => b == b' ' || b == b'\t',
        };
        separates || b == b'\r' || b == self.end
    }

    /// Past padding: blanks, and tabs where a tab is no separator.
    #[inline]
    pub(super) fn pad<'a>(&self, rest: &'a [u8]) -> &'a [u8] {
        let tab = self.separator != Separator::Byte(b'\t');
        skip_while(rest, |b| b == b' ' || (tab && b == b'\t'))
    }

    /// Past one separator and the padding around it.
    #[inline]
    pub(super) fn separated<'a>(&self, rest: &'a [u8]) -> Option<&'a [u8]> {
        let padded = self.pad(rest);
        match self.separator {
            Separator::Byte(b) => match padded.split_first() {
                Some((&first, after)) if first == b => Some(after),
                _ => None,
            },
            // A spreadsheet's word for a missing value begins as a comment does: #N/A.
            Separator::Blanks => (padded.len() < rest.len()
                && (!self.at_line_end(padded) || self.is_gap(padded)))
            .then_some(padded),
        }
    }

    /// Whether the cursor stands at a line's end or the comment before it.
    #[inline]
    pub(super) fn at_line_end(&self, rest: &[u8]) -> bool {
        match rest {
            [] | [b'#', ..] | [b'\r'] => true,
            [b'\r', next, ..] => *next == self.end || self.end == b'\r',
            [b, ..] => *b == self.end,
        }
    }

    /// Whether a field may end here. A `#` that touches the field is part of it (`1.#QNAN`).
    #[inline]
    pub(super) fn ends_field(&self, rest: &[u8]) -> bool {
        let blank = |b: u8| b == b' ' || b == b'\t';
        match self.separator {
            _ if rest.first() == Some(&b'#') => false,
            Separator::Blanks => self.at_line_end(rest) || rest.first().is_some_and(|&b| blank(b)),
            Separator::Byte(s) => {
                let padded = self.pad(rest);
                padded.first() == Some(&s) || self.at_line_end(padded)
            }
        }
    }

    /// Past a field that is read over.
    pub(super) fn skip_field<'a>(&self, rest: &'a [u8]) -> &'a [u8] {
        let mut rest = self.pad(rest);
        if rest.starts_with(b"#") && self.is_gap(rest) {
            return self.past_field(rest);
        }
        let mut before = b' ';
        // A comment begins behind a blank or at the start of a field.
        while let Some((&b, after)) = rest.split_first() {
            if self.parts(b) || (b == b'#' && before == b' ') {
                break;
            }
            before = if b == b'\t' { b' ' } else { b };
            rest = after;
        }
        rest
    }

    /// Past the next line end.
    #[inline]
    pub fn next_line<'a>(&self, rest: &'a [u8]) -> &'a [u8] {
        let end = self.end;
        let at_end = skip_while(rest, |b| b != end);
        at_end.get(1..).unwrap_or_default()
    }

    /// The line that starts here, with its comment.
    pub fn whole_line<'a>(&self, start: &'a [u8]) -> &'a [u8] {
        let end = self.end;
        let length = start.len() - skip_while(start, |b| b != end).len();
        start.get(..length).unwrap_or(start).trim_ascii()
    }

    /// The line that starts here, without its comment and the blanks around it.
    pub fn line_of<'a>(&self, start: &'a [u8]) -> &'a [u8] {
        let line = self.whole_line(start);
        line.get(..comment_start(line)).unwrap_or(line).trim_ascii()
    }

    /// The fields of a line.
    pub fn fields_of<'a>(&self, text: &'a [u8]) -> Vec<&'a [u8]> {
        self.separator.fields(text)
    }
}
