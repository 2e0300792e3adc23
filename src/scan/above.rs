//! Lines of a scan that are no readings: comments, text above the readings, the header again, text below them.
//!
//! A line is a reading if the columns that the job names x and z hold numbers, or say that there is none. A line that holds one
//! of the two is a reading with a fault, unless it stands above the readings and begins with a word (`Points; 1200`). So is a line
//! of too few or too many columns that any separator parts into a pair of numbers: it may be a reading laid out otherwise. From
//! the first reading on, nothing that may hold a pair of x and z is therefore passed over.

use super::dialect::{Separator, comment_start, is_number, is_number_or_gap, separator_of};
use super::headed::Headings;
use super::header::{self, Contradiction};
use super::reader::Reader;
use super::summary::{Begins, Summary};
use super::traces::{After, Traces};
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
    /// What heads the first trace, and may head others.
    headings: Headings,
    /// Whether all that is left was seen to be text: it is not looked through again for every line of it.
    only_text: bool,
    /// How many lines of text were passed over.
    pub passed: usize,
}

impl Lines {
    /// A line behind a comment mark: above the readings it may name the columns, between them it may head another trace.
    pub fn commented(
        &mut self,
        reader: &Reader<'_>,
        start: &[u8],
        traces: &mut Traces,
    ) -> Result<(), Trouble> {
        let line = reader.whole_line(start);
        if !self.begun {
            self.headings.comment(line);
            return agree(contradicts(line, reader), start);
        }
        if !reader.round && self.headings.comment_again(line) {
            traces.part(After::Header);
            return agree(contradicts(line, reader), start);
        }
        Ok(())
    }

    /// A reading was seen.
    pub const fn reading(&mut self) {
        self.headings.open = false;
    }

    /// Whether a line that could be read as a reading heads a trace, as one above the first did.
    pub fn entry_again(&self, reader: &Reader<'_>, start: &[u8]) -> bool {
        self.begun && self.headings.entry_again(reader.line_of(start))
    }

    /// Whether a line is text above the readings; the separator of the first reading is found on the way.
    pub fn above_readings(
        &mut self,
        reader: &mut Reader<'_>,
        start: &[u8],
        traces: &mut Traces,
    ) -> Result<bool, Trouble> {
        if self.begun {
            return Ok(false);
        }
        let text = reader.line_of(start);
        let begins_number =
            text.first().is_some_and(|b| b.is_ascii_digit() || matches!(b, b'+' | b'-' | b'.' | b','));
        if is_comment(text, Separator::Byte(b';')) || is_mark_alone(reader, start, text) {
            self.passed += 1;
            self.commented(reader, start, traces)?;
            return Ok(true);
        }
        // Where the sensor saw nothing at first, the height behind the tab is empty.
        let behind = start.trim_ascii_start().get(text.len());
        let tab_behind = behind == Some(&b'\t') && !text.iter().any(|b| b" \t;".contains(b));
        match separator_of(text) {
            Ok(_) if tab_behind => reader.separator = Separator::Byte(b'\t'),
            Ok(separator) => reader.separator = separator,
            Err(trouble) if begins_number => return Err(trouble.within(start, text)),
            Err(_) => {
                self.passed += 1;
                return Ok(true);
            }
        }
        if is_text(reader, text, true) {
            self.headings.text(text);
        } else if is_entry(reader, text, start) {
            self.headings.entry(text);
        } else {
            self.begun = true;
            return Ok(false);
        }
        self.passed += 1;
        says_as_job(reader, start)?;
        self.headers.insert(text.to_vec());
        Ok(true)
    }

    /// Whether a line that is no sound reading is a comment, a heading again, or text below the last reading of a trace.
    pub fn below_readings(
        &mut self,
        reader: &Reader<'_>,
        start: &[u8],
        traces: &mut Traces,
    ) -> Result<bool, Trouble> {
        let text = reader.line_of(start);
        if is_comment(text, reader.separator) || is_mark_alone(reader, start, text) {
            self.commented(reader, start, traces)?;
            return Ok(true);
        }
        if self.heads(reader, start) {
            self.headings.open = true;
            traces.part(After::Header);
            says_as_job(reader, start)?;
            return Ok(true);
        }
        Ok(self.only_text || self.before_headings(reader, start) || self.all_text(reader, start))
    }

    /// Whether a line heads a trace, as one above the first does.
    fn heads(&self, reader: &Reader<'_>, start: &[u8]) -> bool {
        let text = reader.line_of(start);
        self.headers.contains(text)
            || ((self.headings.open || self.headings.again(text))
                && (is_text(reader, text, true) || self.headings.entry_again(text)))
    }

    /// Whether a line is text below the readings of a trace, before the headings of the next.
    fn before_headings(&self, reader: &Reader<'_>, start: &[u8]) -> bool {
        let rests = std::iter::successors(Some(start), |rest| Some(reader.next_line(rest)));
        for rest in rests.take_while(|rest| !rest.is_empty()).take(LONGEST_RUN) {
            let line = reader.line_of(rest);
            if self.heads(reader, rest) {
                return true;
            }
            if !(line.is_empty() || is_comment(line, reader.separator) || is_text(reader, line, false)) {
                return false;
            }
        }
        false
    }

    /// Whether nothing but text is left.
    fn all_text(&mut self, reader: &Reader<'_>, start: &[u8]) -> bool {
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

/// Refuses a heading that says otherwise than the job.
fn says_as_job(reader: &Reader<'_>, start: &[u8]) -> Result<(), Trouble> {
    let text = reader.line_of(start);
    agree(header::unit_line(&String::from_utf8_lossy(text), reader.measured), start)?;
    agree(contradicts(from_first_tab(start, text), reader), start)
}

/// Whether a line that may hold a pair of numbers, and every line left after it, are a summary below the readings. It stands under
/// words, where a reading has a number or what is read over.
pub(super) fn is_summary(reader: &Reader<'_>, start: &[u8]) -> bool {
    // Nearly every line begins with a number: no more is looked at.
    if !start.trim_ascii_start().first().is_some_and(u8::is_ascii_alphabetic) {
        return false;
    }
    let mut summary = Summary::below(match reader.measured.columns.first() {
        Some(Column::X | Column::Z) => Begins::WithNumbers,
        _ => Begins::WithAnything,
    });
    if !summary.goes_on(reader.line_of(start)) {
        return false;
    }
    let rests = std::iter::successors(Some(reader.next_line(start)), |rest| Some(reader.next_line(rest)));
    let mut after = rests.take_while(|rest| !rest.is_empty()).map(|rest| reader.line_of(rest));
    after.all(|line| {
        line.is_empty()
            || is_comment(line, reader.separator)
            || summary.goes_on(line)
            || is_text(reader, line, false)
    })
}

/// Whether a line is a comment by how it begins. `;` begins one only where what follows is no reading.
pub(super) fn is_comment(text: &[u8], separator: Separator) -> bool {
    match text {
        [b'%' | b'!', ..] | [b'/', b'/', ..] => true,
        [b';', rest @ ..] => {
            let semicolon = Separator::Byte(b';');
            separator != semicolon || !semicolon.fields(rest).into_iter().all(is_number_or_gap)
        }
        _ => false,
    }
}

/// Whether of a line nothing but a comment mark stands before another: `; # by hand`, `; #\tRadius\tHeight`.
fn is_mark_alone(reader: &Reader<'_>, start: &[u8], text: &[u8]) -> bool {
    text == b";" && reader.whole_line(start).len() > text.len()
}

/// A line without the blanks around it, but with the tab that ends an empty first field.
fn from_first_tab<'a>(start: &'a [u8], text: &'a [u8]) -> &'a [u8] {
    let lead = start.len() - start.trim_ascii_start().len();
    let tab = start.iter().take(lead).position(|b| *b == b'\t');
    tab.and_then(|tab| start.get(tab..lead + text.len())).unwrap_or(text)
}

/// Whether a line holds no reading, not even one with a fault.
fn is_text(reader: &Reader<'_>, text: &[u8], above: bool) -> bool {
    let columns = &reader.measured.columns;
    let fields = at_most(columns.len(), reader.fields_of(text));
    if above && (is_ruler(&fields) || is_row_of_units(&fields)) {
        return true;
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

/// Whether fields are a ruler under a heading, `-----`, or words between such, `*** readings ***`.
fn is_ruler(fields: &[&[u8]]) -> bool {
    let drawn = |f: &&[u8]| f.len() >= SHORTEST_RULER && f.iter().all(|b| matches!(b, b'-' | b'*'));
    fields.iter().all(drawn) || (fields.first().is_some_and(drawn) && !fields.iter().any(|f| is_number(f)))
}

/// Whether fields are the units of columns, with a dash over those that have none: `-;mm;mm;-`.
fn is_row_of_units(fields: &[&[u8]]) -> bool {
    let unit = |f: &&[u8]| matches!(header::heading(&String::from_utf8_lossy(f)), (None, Some(_)));
    let none = |f: &[u8]| f.is_empty() || f == b"-";
    fields.iter().any(unit)
        && fields.iter().all(|f| none(f) || (unit(f) && !f.iter().any(u8::is_ascii_digit)))
}

/// Two dashes in each column may be readings that are missing.
const SHORTEST_RULER: usize = 3;

/// Whether a line above the readings is an entry of a header, such as `Range: 10 20` or `Start; 10; mm`, though it has as many fields
/// as there are columns.
fn is_entry(reader: &Reader<'_>, text: &[u8], start: &[u8]) -> bool {
    let columns = &reader.measured.columns;
    let fields = reader.fields_of(text);
    let under_word = fields.len() == columns.len() && begins_with_word(&fields);
    if !under_word || matches!(columns.first(), Some(Column::X | Column::Z)) {
        return false;
    }
    let rests = std::iter::successors(Some(reader.next_line(start)), |rest| Some(reader.next_line(rest)));
    let after = rests.take_while(|rest| !rest.is_empty()).map(|rest| reader.line_of(rest));
    let of_reading = |fields: &[&[u8]]| {
        let both = columns.iter().zip(fields).filter(|(c, _)| matches!(c, Column::X | Column::Z));
        both.map(|(_, f)| f.to_vec()).collect::<Vec<_>>()
    };
    let reads = |fields: &[&[u8]]| {
        fields.len() == columns.len() && of_reading(fields).iter().all(|f| is_number_or_gap(f))
    };
    if is_reading_under_word(text, after, reader.separator, reads) {
        return false;
    }
    // A number that is misspelt is a reading with a fault; a unit, a date or a time is none.
    let letter = |b: &u8| b.is_ascii_alphabetic() || !b.is_ascii();
    let of_entry = |f: &Vec<u8>| f.first().is_some_and(letter) || f.iter().any(|b| matches!(b, b'/' | b':'));
    is_key(text) || of_reading(&fields).iter().all(|f| is_number_or_gap(f) || of_entry(f))
}

/// Whether a line that begins with a word is a reading under it, by the lines after it. Such readings go on: the next line has the same
/// word or key, or is a reading under another word, which `reads` tells from the fields. A key, as in `Range: 10 20`, needs the same
/// after it; but a few of one key, `Channel: 1 0` and `Channel: 2 0`, before readings under no word are entries too.
pub(super) fn is_reading_under_word<'a>(
    line: &[u8],
    after: impl Iterator<Item = &'a [u8]>,
    separator: Separator,
    reads: impl Fn(&[&[u8]]) -> bool,
) -> bool {
    let mut after = after.filter(|l| !is_passed_over(l));
    let next = after.next().unwrap_or_default();
    let (fields, next_fields) = (separator.fields(line), separator.fields(next));
    if same_key(line, next) {
        let other = after.take(LONGEST_RUN).find(|l| !same_key(line, l)).map(fields_of);
        let numbers = |fields: &[&[u8]]| fields.iter().filter(|f| is_number(f)).count() >= 2;
        return !other.is_some_and(|fields| numbers(&fields) && !begins_with_word(&fields));
    }
    let both_read = || reads(&fields) && reads(&next_fields) && begins_with_word(&next_fields);
    fields.first() == next_fields.first() || (!is_key(line) && both_read())
}

/// More lines of one key than this are no header.
const LONGEST_RUN: usize = 64;

/// The fields of a line by its own separator.
fn fields_of(line: &[u8]) -> Vec<&[u8]> {
    separator_of(line).unwrap_or(Separator::Blanks).fields(line)
}

/// Whether the first of some fields is neither a number nor a word for a missing one.
pub(super) fn begins_with_word(fields: &[&[u8]]) -> bool {
    fields.first().is_some_and(|f| begins_word(f) && !is_number_or_gap(f))
}

/// Whether a line between two readings says nothing: it is empty, or a comment.
pub(super) fn is_passed_over(line: &[u8]) -> bool {
    line.is_empty() || is_comment(line, separator_of(line).unwrap_or(Separator::Blanks))
}

/// Whether a line begins with a key as a header does.
fn is_key(text: &[u8]) -> bool {
    key_of(text).is_some()
}

/// Whether two lines begin with the same key, as readings do that each stand under their time: `Mon 12:00:01`, `t=0.1`.
fn same_key(one: &[u8], other: &[u8]) -> bool {
    key_of(one).is_some_and(|key| key_of(other) == Some(key))
}

/// The word at the beginning of a line that a colon or an equals sign follows.
pub(super) fn key_of(text: &[u8]) -> Option<&[u8]> {
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

/// The fields of a line that names so many columns, if it does, behind a comment mark or not, over rows that a separator parts. It may end
/// in empty fields.
pub(super) fn headings(line: &[u8], width: usize, rows: Separator) -> Option<Vec<String>> {
    let mut ways = ways_to_part(line, width);
    // What parts the rows parts the names, where it can; the last way is that by blanks, if there are two.
    if rows == Separator::Blanks { ways.pop() } else { ways.into_iter().next() }
}

/// The fields of a line that may name columns, behind a comment mark or not, parted by what it holds.
pub(super) fn fields_of_headings(line: &[u8]) -> Vec<String> {
    let marks = line.iter().take_while(|b| matches!(b, b'#' | b'%' | b'/' | b'!' | b' ')).count();
    let text = line.get(marks..).unwrap_or_default();
    fields_with_units(separator_of(text).unwrap_or(Separator::Blanks), text)
}

/// Every way in which a line names so many columns: parted by tabs, else by the mark that it holds; last, where that is a comma, by blanks.
fn ways_to_part(line: &[u8], width: usize) -> Vec<Vec<String>> {
    // `Radius unit: mm` says something of a column, and names none.
    let of_unit = header::unit_said(&String::from_utf8_lossy(line)).is_some_and(|said| said.column.is_some());
    if of_unit {
        return Vec::new();
    }
    let by = |separator: Separator, text: &[u8]| {
        let fields = at_most(width, fields_with_units(separator, text));
        (fields.len() == width).then_some(fields)
    };
    let marked = named(line, |text| {
        // Between tabs a comma parts a name from its unit: `Radius, mm`.
        let tabs = text.contains(&b'\t').then(|| by(Separator::Byte(b'\t'), text)).flatten();
        tabs.or_else(|| by(separator_of(text).ok()?, text))
    });
    // Between blanks, too, a comma may belong to a name and its unit: `Radius,mm Height,um`.
    let blank = named(line, |text| {
        let comma = matches!(separator_of(text), Ok(Separator::Byte(b',')));
        comma.then(|| by(Separator::Blanks, text)).flatten()
    });
    let blank = blank.filter(|f| Some(f) != marked.as_ref());
    marked.into_iter().chain(blank).collect()
}

/// The fields of a line that names columns, as a separator parts them.
fn named(line: &[u8], fields: impl Fn(&[u8]) -> Option<Vec<String>>) -> Option<Vec<String>> {
    // The tab at the beginning of a line ends a field without a heading, or is a margin.
    let tabbed = line.strip_prefix(b"\t").map(|_| line.trim_ascii_end());
    if let Some(named) = tabbed.and_then(&fields).filter(|f| header::names_columns(f)) {
        return Some(named);
    }
    let line = line.trim_ascii();
    let mark = |b: &u8| matches!(b, b'#' | b'%' | b'/' | b'!' | b';' | b' ' | b'\t');
    let marks = line.iter().take_while(|b| mark(b)).count();
    // A first column without a heading begins with a semicolon as a comment does.
    let bare = (marks == 0 || line.starts_with(b";")).then(|| line.get(..comment_start(line))).flatten();
    let commented = || line.get(marks..).filter(|_| marks > 0);
    // A number sign may be a heading itself, over a column of running numbers: `#;Radius;Height`.
    let is_field = matches!(line, [b'#', b';' | b',' | b'\t', ..]);
    let with_sign = || fields(line).filter(|f| line.starts_with(b"#") && f.first().is_some_and(|f| f == "#"));
    bare.and_then(&fields)
        .filter(|f| header::names_columns(f))
        .or_else(|| commented().and_then(&fields).filter(|f| header::comment_names_columns(f)))
        .or_else(|| {
            with_sign().filter(|f| header::comment_names_columns(f) || (is_field && header::names_columns(f)))
        })
}

/// The contradiction between the job and a line that names the columns, however the line is parted.
fn contradicts(line: &[u8], reader: &Reader<'_>) -> Option<Contradiction> {
    let mut ways = ways_to_part(line, reader.measured.columns.len());
    if reader.round {
        // The angle is no length: what names it, and its unit, is none of a column of x.
        let at = reader.measured.columns.iter().position(|&c| c == Column::X);
        ways.iter_mut().filter_map(|fields| fields.get_mut(at?)).for_each(String::clear);
    }
    let mut found = ways.iter().map(|fields| header::contradiction(fields, reader.measured));
    let first = found.next().flatten();
    // Which mark parts the readings below is not known yet: one way that agrees is enough.
    first.filter(|_| found.all(|other| other.is_some()))
}

/// Fields without the empty ones at the end that are more than so many: a spreadsheet writes empty columns to the end.
pub(super) fn at_most<T: AsRef<[u8]>>(width: usize, mut fields: Vec<T>) -> Vec<T> {
    while fields.len() > width && fields.last().is_some_and(|f| f.as_ref().is_empty()) {
        fields.pop();
    }
    fields
}

/// The fields of a header; where blanks separate, a unit in brackets belongs to the word before it.
fn fields_with_units(separator: Separator, text: &[u8]) -> Vec<String> {
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
