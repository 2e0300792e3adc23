//! Lines of a scan that are no readings: comments, text above the readings, the header again, text below them.
//!
//! A line is a reading if the columns that the job names x and z hold numbers, or say that there is none. A line that holds one
//! of the two is a reading with a fault, unless it stands above the readings and begins with a word (`Points; 1200`). So is a line
//! of too few or too many columns that any separator parts into a pair of numbers: it may be a reading laid out otherwise. From
//! the first reading on, nothing that may hold a pair of x and z is therefore passed over.

use super::dialect::{Separator, is_number, is_number_or_gap, separator_of};
use super::header::{self, Contradiction};
use super::reader::Reader;
use super::traces::Traces;
use super::trouble::Trouble;
use crate::job::Column;
use std::collections::HashSet;

/// What was seen of the lines that are no readings.
#[derive(Debug, Default)]
pub(super) struct Lines {
    /// Whether a reading has been seen.
    begun: bool,
    /// The lines of text above the readings, to know them again.
    headers: HashSet<Vec<u8>>,
    /// Whether all that is left was seen to be text: it is not looked through again for every line of it.
    only_text: bool,
    /// How many lines of text were passed over.
    pub passed: usize,
}

impl Lines {
    /// Whether no reading has been seen.
    pub const fn header_allowed(&self) -> bool {
        !self.begun
    }

    /// A line behind a comment mark above the readings: a header if all of it is known headings.
    pub fn commented(reader: &Reader<'_>, start: &[u8]) -> Result<(), Trouble> {
        let text = reader.whole_line(start);
        let marks = |b: &u8| matches!(b, b'#' | b'%' | b'/' | b'!' | b';' | b' ' | b'\t');
        let from = text.iter().position(|b| !marks(b)).unwrap_or(text.len());
        let text = text.get(from..).unwrap_or_default();
        let fields = separator_of(text).map(|s| fields_with_units(s, text)).unwrap_or_default();
        if fields.len() == reader.measured.columns.len() && header::is_header(&fields) {
            agree(header::contradiction(&fields, reader.measured), start)?;
        }
        Ok(())
    }

    /// Whether a line is text above the readings; the separator of the first reading is found on the way.
    pub fn above_readings(&mut self, reader: &mut Reader<'_>, start: &[u8]) -> Result<bool, Trouble> {
        if self.begun {
            return Ok(false);
        }
        let text = reader.line_of(start);
        let begins_number =
            text.first().is_some_and(|b| b.is_ascii_digit() || matches!(b, b'+' | b'-' | b'.' | b','));
        if is_comment(text, Separator::Byte(b';')) {
            self.passed += 1;
            Self::commented(reader, start)?;
            return Ok(true);
        }
        match separator_of(text) {
            Ok(separator) => reader.separator = separator,
            Err(trouble) if begins_number => return Err(trouble.within(start, text)),
            Err(_) => {
                self.passed += 1;
                return Ok(true);
            }
        }
        if !is_text(reader, text, true) && !is_entry(reader, text, start) {
            self.begun = true;
            return Ok(false);
        }
        self.passed += 1;
        agree(header::unit_line(&String::from_utf8_lossy(text), reader.measured), start)?;
        let mut fields = fields_with_units(reader.separator, text);
        while fields.len() > reader.measured.columns.len() && fields.last().is_some_and(String::is_empty) {
            fields.pop();
        }
        if fields.len() == reader.measured.columns.len() && header::names_columns(&fields) {
            agree(header::contradiction(&fields, reader.measured), start)?;
        }
        self.headers.insert(text.to_vec());
        Ok(true)
    }

    /// Whether a line that is no sound reading is a comment, the header again, or text below the last reading.
    pub fn below_readings(&mut self, reader: &Reader<'_>, start: &[u8], traces: &mut Traces) -> bool {
        let text = reader.line_of(start);
        if is_comment(text, reader.separator) {
            return true;
        }
        if self.headers.contains(text) {
            traces.part();
            return true;
        }
        if self.only_text {
            return true;
        }
        let mut rest = start;
        while !rest.is_empty() {
            let line = reader.line_of(rest);
            if !(line.is_empty() || is_comment(line, reader.separator) || is_text(reader, line, false)) {
                return false;
            }
            rest = reader.next_line(rest);
        }
        self.only_text = true;
        true
    }
}

/// Whether a line is a comment by how it begins. `;` begins one only where what follows is no reading.
fn is_comment(text: &[u8], separator: Separator) -> bool {
    match text {
        [b'%' | b'!', ..] | [b'/', b'/', ..] => true,
        [b';', rest @ ..] => {
            let semicolon = Separator::Byte(b';');
            separator != semicolon || !semicolon.fields(rest).into_iter().all(is_number_or_gap)
        }
        _ => false,
    }
}

/// Whether a line holds no reading, not even one with a fault.
fn is_text(reader: &Reader<'_>, text: &[u8], above: bool) -> bool {
    let columns = &reader.measured.columns;
    let mut fields = reader.fields_of(text);
    while fields.len() > columns.len() && fields.last().is_some_and(|f| f.is_empty()) {
        fields.pop();
    }
    if fields.len() != columns.len() {
        let Some(first) = fields.first().filter(|f| !is_number_or_gap(f)) else { return false };
        return (above && begins_word(first)) || !may_hold_pair(text);
    }
    let of_reading = columns.iter().zip(fields).filter(|(c, _)| matches!(c, Column::X | Column::Z));
    let values: Vec<&[u8]> = of_reading.map(|(_, f)| f).collect();
    if values.iter().all(|f| is_number_or_gap(f)) {
        return false;
    }
    let first_is_word = values.first().is_some_and(|f| begins_word(f));
    first_is_word && (above || !values.iter().any(|f| is_number(f)))
}

/// Whether a line above the readings whose first field is a word is an entry of a header, such as `Range: 10 20` or `Start; 10; mm`,
/// though it has as many fields as there are columns. Readings under a name go on: the next line that is no comment has the same
/// name, or is laid out alike, a word and numbers too.
fn is_entry(reader: &Reader<'_>, text: &[u8], start: &[u8]) -> bool {
    let columns = &reader.measured.columns;
    let fields = reader.fields_of(text);
    let Some(name) = fields.first().filter(|f| begins_word(f) && !is_number_or_gap(f)) else { return false };
    if fields.len() != columns.len() || matches!(columns.first(), Some(Column::X | Column::Z)) {
        return false;
    }
    let mut rest = reader.next_line(start);
    let passed_over = |line: &[u8]| line.is_empty() || is_comment(line, reader.separator);
    while !rest.is_empty() && passed_over(reader.line_of(rest)) {
        rest = reader.next_line(rest);
    }
    let next_line = reader.line_of(rest);
    let next = reader.fields_of(next_line);
    if next.first() == Some(name) || same_key(text, next_line) {
        return false;
    }
    let values = |fields: &[&[u8]]| -> Vec<bool> {
        let of_reading = columns.iter().zip(fields).filter(|(c, _)| matches!(c, Column::X | Column::Z));
        of_reading.map(|(_, f)| is_number_or_gap(f)).collect()
    };
    let reads = |fields: &[&[u8]]| fields.len() == columns.len() && values(fields).iter().all(|n| *n);
    if is_key(text) {
        return true;
    }
    if reads(&fields) {
        return !(reads(&next) && next.first().is_some_and(|f| begins_word(f)));
    }
    // A number that is misspelt is a reading with a fault; a unit, a date or a time is none.
    let letter = |b: &u8| b.is_ascii_alphabetic() || !b.is_ascii();
    let of_entry = |f: &&&[u8]| f.first().is_some_and(letter) || f.iter().any(|b| matches!(b, b'/' | b':'));
    let others = columns.iter().zip(&fields).filter(|(c, _)| matches!(c, Column::X | Column::Z));
    others.map(|(_, f)| f).filter(|f| !is_number_or_gap(f)).all(|f| of_entry(&f))
}

/// Whether a line begins with a key as a header does.
pub(super) fn is_key(text: &[u8]) -> bool {
    key_of(text).is_some()
}

/// Whether two lines begin with the same key, as readings do that each stand under their time: `Mon 12:00:01`, `t=0.1`.
pub(super) fn same_key(one: &[u8], other: &[u8]) -> bool {
    key_of(one).is_some_and(|key| key_of(other) == Some(key))
}

/// The word at the beginning of a line that a colon or an equals sign follows.
fn key_of(text: &[u8]) -> Option<&[u8]> {
    let end = text.iter().position(|b| matches!(b, b':' | b'=' | b';' | b',' | b'\t'))?;
    let (key, rest) = text.split_at_checked(end)?;
    (matches!(rest.first(), Some(b':' | b'=')) && begins_word(key)).then_some(key)
}

/// Whether a field begins as no number does.
fn begins_word(field: &[u8]) -> bool {
    field.first().is_some_and(|b| !b.is_ascii_digit() && !matches!(b, b'+' | b'-' | b'.' | b','))
}

/// Whether some separator parts a line into two numbers or more, which may be x and z. Between words, as in `0.25 at 120 mm`, two
/// numbers are prose, unless the line begins with one.
pub(super) fn may_hold_pair(text: &[u8]) -> bool {
    let numbers =
        |separator: Separator| separator.fields(text).into_iter().map(is_number).collect::<Vec<_>>();
    let two = |found: &[bool]| found.iter().filter(|n| **n).count() >= 2;
    let blanks = numbers(Separator::Blanks);
    let begins = blanks.first() == Some(&true) && two(&blanks);
    begins
        || blanks.windows(2).any(two)
        || [b';', b'\t', b','].into_iter().any(|s| two(&numbers(Separator::Byte(s))))
}

/// The fields of a header; where blanks separate, a unit in brackets belongs to the word before it.
pub(super) fn fields_with_units(separator: Separator, text: &[u8]) -> Vec<String> {
    let mut fields: Vec<String> = Vec::new();
    for field in separator.fields(text) {
        let field = String::from_utf8_lossy(field).into_owned();
        match fields.last_mut() {
            Some(last) if separator == Separator::Blanks && field.starts_with(['(', '[', '/']) => {
                last.push(' ');
                last.push_str(&field);
            }
            _ => fields.push(field),
        }
    }
    fields
}

fn agree(contradiction: Option<Contradiction>, start: &[u8]) -> Result<(), Trouble> {
    let trouble = |c: Contradiction| Trouble {
        left: start.len(),
        line: 0,
        found: c.found,
        expected: c.expected,
        fix: c.fix,
    };
    contradiction.map_or(Ok(()), |c| Err(trouble(c)))
}
