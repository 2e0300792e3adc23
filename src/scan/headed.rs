//! Headings of several traces in one file: `Trace S1`, `Angle 0`, its readings; then `Trace S2`, `Angle 120`, and its own.
//!
//! A line between readings heads a trace if one of the same key stood above the first reading; below it every line of text is a heading
//! too, until readings follow. A comment does so where it states an angle, or has the key of one above the first reading. Where the
//! radii go on behind such lines they part nothing ([`super::traces`]): a header at the top of every page.

use super::dialect::{Separator, separator_of};
use super::stated_angle::stated;
use std::collections::HashSet;

/// What stood above the first reading, to be known again.
#[derive(Debug, Default)]
pub(super) struct Headings {
    /// Lines of text, by their keys.
    keys: HashSet<Vec<u8>>,
    /// Those that hold as many numbers as a reading does.
    entries: HashSet<Vec<u8>>,
    /// Comments.
    comments: HashSet<Vec<u8>>,
    /// Whether the line before was a heading again.
    pub open: bool,
}

impl Headings {
    /// A line of text above the readings.
    pub fn text(&mut self, line: &[u8]) {
        self.keys.extend(key(line));
    }

    /// A line above the readings that would else be one.
    pub fn entry(&mut self, line: &[u8]) {
        self.entries.extend(key(line));
    }

    /// A comment above the readings.
    pub fn comment(&mut self, line: &[u8]) {
        self.comments.extend(key(unmarked(line)));
    }

    /// Whether a line has the key of one above the readings.
    pub fn again(&self, line: &[u8]) -> bool {
        key(line).is_some_and(|key| self.keys.contains(&key) || self.entries.contains(&key))
    }

    /// Whether a line that may be read as a reading has the key of one above them that was none.
    pub fn entry_again(&self, line: &[u8]) -> bool {
        !self.entries.is_empty()
            && line.first().is_some_and(u8::is_ascii_alphabetic)
            && key(line).is_some_and(|key| self.entries.contains(&key))
    }

    /// Whether a comment heads a trace.
    pub fn comment_again(&self, line: &[u8]) -> bool {
        let text = unmarked(line);
        key(text).is_some_and(|key| self.comments.contains(&key))
            || std::str::from_utf8(text).is_ok_and(|text| stated(text).is_some())
    }
}

/// A comment without its marks.
fn unmarked(line: &[u8]) -> &[u8] {
    let mark = |b: &u8| matches!(b, b'#' | b'%' | b'/' | b'!' | b';' | b' ' | b'\t');
    let marks = line.iter().take_while(|b| mark(b)).count();
    line.get(marks..).unwrap_or_default().trim_ascii_end()
}

/// What a line is known by: the words before a mark or a number, or its first word.
fn key(line: &[u8]) -> Option<Vec<u8>> {
    let line = line.trim_ascii();
    let end = line.iter().position(|b| matches!(b, b':' | b'=' | b';' | b',' | b'\t'));
    let end = end.or_else(|| line.iter().position(|b| *b == b' ')).unwrap_or(line.len());
    let words = line.get(..end)?.split(u8::is_ascii_digit).next()?.trim_ascii();
    let letter = |b: &u8| b.is_ascii_alphabetic() || !b.is_ascii();
    words.first().is_some_and(letter).then(|| words.to_ascii_lowercase())
}

/// Words that call what stands beside them the name of a trace, in small letters.
const NAMES: &[&str] =
    &["trace", "line", "scan", "profile", "track", "spur", "linie", "messung", "profil", "traccia", "perfil"];

/// The name of a trace, where a line says nothing else: `Trace S3`, `Line: 2`.
pub(super) fn name(line: &str) -> Option<&str> {
    let line = line.trim();
    let end = line.find([':', '=', ';', ',', '\t', ' '])?;
    let (word, rest) = line.split_at_checked(end)?;
    let name = rest.trim_matches([':', '=', ';', ',', '\t', ' ']);
    let one_word = !name.is_empty() && !name.contains([';', ',', '\t', ' ']);
    (one_word && NAMES.contains(&word.to_lowercase().as_str())).then_some(name)
}

/// Whether a line is a comment as a whole, whatever parts its columns.
pub(super) fn is_comment(line: &[u8]) -> bool {
    let text = line.trim_ascii();
    text.starts_with(b"#") || super::above::is_comment(text, separator_of(text).unwrap_or(Separator::Blanks))
}
