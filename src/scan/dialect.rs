//! How a scan writes its columns and numbers: the separator, the decimal mark, and what counts as a number.

use super::trouble::{Trouble, shown};
use nom::bytes::complete::take_while;
use nom::{IResult, Parser};

/// Longest field that is read as a number with a decimal comma.
const LONGEST_NUMBER: usize = 64;

/// What stands between columns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Separator {
    /// This byte, with blanks around it as padding.
    Byte(u8),
    /// Blanks themselves.
    Blanks,
}

impl Separator {
    /// The fields of a line.
    pub fn fields(self, text: &[u8]) -> Vec<&[u8]> {
        match self {
            Self::Byte(s) => text.split(|&b| b == s).map(<[u8]>::trim_ascii).collect(),
            Self::Blanks => text.split(u8::is_ascii_whitespace).filter(|f| !f.is_empty()).collect(),
        }
    }

    pub const fn name(self) -> &'static str {
        match self {
            Self::Byte(b';') => "a semicolon",
            Self::Byte(b'\t') => "a tab",
            Self::Byte(_) => "a comma",
            Self::Blanks => "blanks",
        }
    }
}

/// The decimal mark, once one has been seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mark {
    Unseen,
    Point,
    Comma,
}

/// The separator of a line: `;`, else a tab, else a comma that is no decimal comma, else blanks.
pub(super) fn separator_of(text: &[u8]) -> Result<Separator, Trouble> {
    if text.contains(&b';') {
        return Ok(Separator::Byte(b';'));
    }
    if text.contains(&b'\t') && !text.contains(&b' ') {
        return Ok(Separator::Byte(b'\t'));
    }
    if !text.contains(&b',') {
        return Ok(if text.contains(&b'\t') { Separator::Byte(b'\t') } else { Separator::Blanks });
    }
    // Blanks may stand within a word for a missing reading.
    let tabbed = Separator::Byte(b'\t').fields(text);
    if tabbed.len() > 1 && tabbed.into_iter().all(is_number_or_gap) {
        return Ok(Separator::Byte(b'\t'));
    }
    // Blanks between two numbers without a comma beside them separate; then commas are decimal marks.
    let mut padded_comma = false;
    let mut bare_blank = false;
    let mut tab_in_each = true;
    let mut rest = text;
    while let Some(at) = rest.iter().position(|b| matches!(b, b' ' | b'\t' | b',')) {
        let run = rest.get(at..).unwrap_or_default();
        let after = skip_while(run, |b| matches!(b, b' ' | b'\t' | b','));
        let between = run.get(..run.len() - after.len()).unwrap_or_default();
        match (between.contains(&b','), between.len()) {
            (true, 1) => {}
            (true, _) => padded_comma = true,
            (false, _) if ends_number(text, run) && starts_number(after) => {
                bare_blank = true;
                tab_in_each &= between.contains(&b'\t');
            }
            (false, _) => {}
        }
        rest = after;
    }
    match (padded_comma, bare_blank) {
        (true, true) => Err(Trouble::new(
            text,
            shown(text),
            "one kind of separator",
            "separate the columns by semicolons alone",
        )),
        // Blanks beside tabs are padding.
        (false, true) if tab_in_each => Ok(Separator::Byte(b'\t')),
        (false, true) => Ok(Separator::Blanks),
        (_, false) => Ok(Separator::Byte(b',')),
    }
}

/// Whether a number, or a word for one that is missing, ends before a run of separators.
fn ends_number(text: &[u8], run: &[u8]) -> bool {
    let before = text.get(..text.len() - run.len()).unwrap_or_default();
    let number = before.last().is_some_and(|b| b.is_ascii_digit() || *b == b'.');
    number || before.rsplit(parts_fields).next().is_some_and(gap_word)
}

/// Whether one begins behind it.
fn starts_number(after: &[u8]) -> bool {
    let number = after.first().is_some_and(|b| b.is_ascii_digit() || matches!(b, b'+' | b'-' | b'.'));
    number || after.split(parts_fields).next().is_some_and(gap_word)
}

/// Whether a byte parts fields, whatever the separator is.
#[expect(clippy::trivially_copy_pass_by_ref, reason = "as `split` calls it")]
const fn parts_fields(b: &u8) -> bool {
    matches!(b, b' ' | b'\t' | b';' | b',')
}

#[inline]
pub(super) fn skip_while(rest: &[u8], keep: impl Fn(u8) -> bool) -> &[u8] {
    let skipped: IResult<_, _, ()> = take_while(keep).parse(rest);
    skipped.map_or(rest, |(after, _)| after)
}

/// A number with a decimal point.
#[inline]
pub(super) fn number(rest: &[u8]) -> IResult<&[u8], f64, ()> {
    let (value, length) = fast_float2::parse_partial::<f64, _>(rest).map_err(|_| nom::Err::Error(()))?;
    Ok((rest.get(length..).unwrap_or_default(), value))
}

/// A number with a decimal comma: its bytes with a point for the comma, read as any other.
pub(super) fn decimal_comma(rest: &[u8]) -> Option<(&[u8], f64)> {
    let mut copy = [0_u8; LONGEST_NUMBER];
    let mut commas = 0;
    let mut length = 0;
    for (&from, to) in rest.iter().zip(&mut copy) {
        *to = if from == b',' {
            commas += 1;
            b'.'
        } else {
            from
        };
        if commas > 1 || !(from.is_ascii_digit() || matches!(from, b'+' | b'-' | b',' | b'e' | b'E')) {
            break;
        }
        length += 1;
    }
    let (value, used) = fast_float2::parse_partial::<f64, _>(copy.get(..length)?).ok()?;
    Some((rest.get(used..)?, value))
}

/// Whether a whole field is a number under either mark.
pub(super) fn is_number(field: &[u8]) -> bool {
    let whole =
        |read: Option<(&[u8], f64)>| read.is_some_and(|(rest, value)| rest.is_empty() && value.is_finite());
    whole(number(field).ok()) || whole(decimal_comma(field))
}

/// Whether a whole field is a number under either mark, or says that there is none.
pub(super) fn is_number_or_gap(field: &[u8]) -> bool {
    field.is_empty() || is_number(field) || gap_word(field)
}

/// Words for a reading that is missing, in small letters: what spreadsheets, C libraries and loggers write.
const GAP_WORDS: &[&[u8]] = &[
    b"nan",
    b"nan(ind)",
    b"nan(snan)",
    b"inf",
    b"infinity",
    b"n/a",
    b"na",
    b"n.a.",
    b"null",
    b"none",
    b"nil",
    b"no data",
    b"nodata",
    b"no signal",
    b"no value",
    b"out of range",
    b"invalid",
    b"missing",
    b"void",
    b"over",
    b"overflow",
    b"overrange",
    b"under",
    b"err",
    b"error",
    b"#n/a",
    b"#div/0!",
    b"#value!",
    b"#num!",
    b"#ref!",
    b"#null!",
    b"#name?",
];

/// Whether a field says that there is no reading.
pub(super) fn gap_word(field: &[u8]) -> bool {
    let field = field.trim_ascii();
    if !field.is_empty() && field.iter().all(|b| matches!(b, b'*' | b'?' | b'-')) {
        return true;
    }
    let unsigned = field.strip_prefix(b"-").or_else(|| field.strip_prefix(b"+")).unwrap_or(field);
    let word = unsigned.to_ascii_lowercase();
    // What C libraries on one family of systems print: 1.#QNAN, -1.#IND00, 1.#INF.
    let special = word.strip_prefix(b"1.#").or_else(|| word.strip_prefix(b"1,#")).is_some_and(|t| {
        let digits = |t: &[u8]| t.iter().all(u8::is_ascii_digit);
        [&b"qnan"[..], b"snan", b"ind", b"inf"].iter().any(|w| t.strip_prefix(*w).is_some_and(digits))
    });
    special || GAP_WORDS.contains(&word.as_slice())
}

/// Where the comment of a line begins, or its end: at a `#` that begins the line or follows a blank or a separator, and begins no
/// spreadsheet's word for a missing value.
pub(super) fn comment_start(line: &[u8]) -> usize {
    let mut before = b' ';
    for (i, &b) in line.iter().enumerate() {
        if b == b'#' && parts_fields(&before) {
            let word = line.get(i..).unwrap_or_default();
            let end = word.iter().position(parts_fields).unwrap_or(word.len());
            if !word.get(..end).is_some_and(gap_word) {
                return i;
            }
        }
        before = b;
    }
    line.len()
}
