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
    // Blanks between two numbers without a comma beside them separate; then commas are decimal marks.
    let mut padded_comma = false;
    let mut bare_blank = false;
    let mut rest = text;
    while let Some(at) = rest.iter().position(|b| matches!(b, b' ' | b'\t' | b',')) {
        let run = rest.get(at..).unwrap_or_default();
        let after = skip_while(run, |b| matches!(b, b' ' | b'\t' | b','));
        let between = run.get(..run.len() - after.len()).unwrap_or_default();
        match (between.contains(&b','), between.len()) {
            (true, 1) => {}
            (true, _) => padded_comma = true,
            (false, _) => bare_blank |= ends_number(text, run) && starts_number(after),
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
        (false, true) => Ok(Separator::Blanks),
        (_, false) => Ok(Separator::Byte(b',')),
    }
}

fn ends_number(text: &[u8], run: &[u8]) -> bool {
    let before = text.len().checked_sub(run.len() + 1).and_then(|i| text.get(i));
    before.is_some_and(|b| b.is_ascii_digit() || *b == b'.')
}

fn starts_number(after: &[u8]) -> bool {
    after.first().is_some_and(|b| b.is_ascii_digit() || matches!(b, b'+' | b'-' | b'.'))
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

/// Whether a whole field is a number under either mark, or says that there is none.
pub(super) fn is_number_or_gap(field: &[u8]) -> bool {
    let whole = |read: Option<(&[u8], f64)>| read.is_some_and(|(rest, _)| rest.is_empty());
    let dashes = || field.iter().all(|&b| b == b'-');
    dashes() || whole(number(field).ok()) || whole(decimal_comma(field))
}
