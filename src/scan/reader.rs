//! The scan reader: text of columns becomes measured points, in measured order, in millimetres of radius and height.
//!
//! One cursor runs over the bytes once; nom gives the structure of a line, fast-float2 the numbers.
//! What is read:
//! - separators: `;`, tab, `,` or blanks, found from the first line and kept; blanks beside a separator are padding;
//! - a decimal point, or a decimal comma where the separator is not a comma; never both in one file, no thousands marks;
//! - every line holds exactly the columns that the job names (one separator more at the end is let pass);
//! - one header line, in which no field is a number; where it names x or z it must agree with the job;
//! - a comment from `#` to the end of the line. `;` starts no comment, since it separates columns;
//! - BOM, LF, CRLF or CR, blank lines, leading and trailing blanks, exponents.
//!
//! A field that is empty, `NaN`, `inf` or dashes only, or a height no wheel can have (a sensor's -999 or 9999), is a
//! drop-out: kept apart, no fault. Everything else that is no number is a fault with its place.

// Whatever a file holds, no index may fail.
#![warn(clippy::indexing_slicing)]

use super::dialect::{Mark, Separator, decimal_comma, is_number_or_gap, number, separator_of, skip_while};
use super::header;
use super::trouble::{Trouble, place, shown};
use crate::diagnostics::InputError;
use crate::job::{Column, HeightSense, LengthUnit, Measured, XMeaning};
use crate::units::{MM_PER_INCH, in_full};
use nom::bytes::complete::{take_till, take_while1};
use nom::{IResult, Parser};
use std::path::Path;

/// Heights of this many millimetres and more are a sensor's way to say that it saw nothing: -999 and 9999 are common
/// sentinels, and no bench sensor reads a wheel from this far (common practice, no source).
const NO_HEIGHT: f64 = 900.0;

/// No wheel is this large, in millimetres of radius; wheels reach some 32 in across (common practice, no source).
const NO_RADIUS: f64 = 1000.0;

/// One measured point, in millimetres of radius and height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RawPoint {
    /// Radius, shifted by the job's offset.
    pub x: f64,
    /// Height, growing away from the chuck.
    pub z: f64,
    /// Line of the scan file, from 1.
    pub line: u32,
}

/// A drop-out: a line on which the sensor saw nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Missing {
    /// Radius, where the line tells it.
    pub x: Option<f64>,
    /// Line of the scan file, from 1.
    pub line: u32,
}

/// What a scan file holds, in measured order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Scan {
    /// The points, at least two.
    pub points: Vec<RawPoint>,
    /// The lines on which the sensor saw nothing.
    pub missing: Vec<Missing>,
}

type Step<'a, T> = Result<(&'a [u8], T), Trouble>;

/// Reads a scan.
///
/// # Errors
/// The first fault of the text: text where a number must stand, too few or too many columns, a negative radius, mixed
/// decimal marks, a header that contradicts the job, or fewer than two points.
pub fn read(bytes: &[u8], file: &Path, measured: &Measured) -> Result<Scan, InputError> {
    let input = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    Reader::new(input, measured).run(input).map_err(|(line, start, t)| place(file, line, start, t))
}

struct Reader<'m> {
    measured: &'m Measured,
    separator: Separator,
    mark: Mark,
    /// The byte that ends a line: LF, or CR in a file without LF.
    end: u8,
    to_radius: f64,
    to_height: f64,
    offset: f64,
}

impl<'m> Reader<'m> {
    fn new(input: &[u8], measured: &'m Measured) -> Self {
        let unit = match measured.unit {
            LengthUnit::Millimetre => 1.0,
            LengthUnit::Inch => MM_PER_INCH,
        };
        let half = match measured.x {
            XMeaning::Radius => 1.0,
            XMeaning::Diameter => 0.5,
        };
        let sign = match measured.z {
            HeightSense::Height => 1.0,
            HeightSense::Distance => -1.0,
        };
        Self {
            measured,
            separator: Separator::Blanks,
            mark: Mark::Unseen,
            end: if input.contains(&b'\n') { b'\n' } else { b'\r' },
            to_radius: unit * half,
            to_height: unit * sign,
            offset: measured.x_offset.as_mm(),
        }
    }

    /// The whole file: blank and comment lines passed over, a header looked at, data lines read.
    fn run<'a>(&mut self, input: &'a [u8]) -> Result<Scan, (u32, &'a [u8], Trouble)> {
        // A line of data is rarely shorter than a dozen bytes; a wrong guess costs only a move.
        let mut scan = Scan { points: Vec::with_capacity(input.len() / 16), missing: Vec::new() };
        let mut rest = input;
        let mut line: u32 = 0;
        let mut header_allowed = true;
        let mut dialect_known = false;
        while !rest.is_empty() {
            line = line.saturating_add(1);
            let start = rest;
            let at = |t| (line, start, t);
            rest = self.pad(rest);
            if !self.at_line_end(rest) {
                if !dialect_known {
                    let text = self.line_of(start);
                    if starts_utf16(input) {
                        return Err(at(utf16(start.len())));
                    }
                    self.separator = separator_of(text).map_err(|t| at(t.within(start, text)))?;
                    if header_allowed && self.is_header(text) {
                        header_allowed = false;
                        self.agree_with_header(start, text).map_err(at)?;
                        rest = self.next_line(start);
                        continue;
                    }
                    dialect_known = true;
                }
                let (after, (x, z)) = self.row(rest, start).map_err(at)?;
                if x.is_finite() && z.is_finite() {
                    scan.points.push(RawPoint { x, z, line });
                } else {
                    scan.missing.push(Missing { x: x.is_finite().then_some(x), line });
                }
                rest = after;
            }
            rest = self.next_line(rest);
        }
        if scan.points.len() < 2 {
            return Err((0, input, too_few_points(&scan, input.len())));
        }
        Ok(scan)
    }

    /// One line of data; leaves the cursor at its line end.
    fn row<'a>(&mut self, mut rest: &'a [u8], start: &'a [u8]) -> Step<'a, (f64, f64)> {
        let (mut x, mut z) = (f64::NAN, f64::NAN);
        for (i, column) in self.measured.columns.iter().enumerate() {
            if i > 0 {
                let Some(after) = self.separated(rest) else { return Err(self.column_count(start, rest)) };
                rest = after;
            }
            match column {
                Column::Other => rest = self.skip_field(rest),
                Column::X => {
                    let (after, value) = self.value(rest, start)?;
                    x = self.radius(rest, value)?;
                    rest = after;
                }
                Column::Z => {
                    let (after, value) = self.value(rest, start)?;
                    let height = value * self.to_height;
                    z = if height.abs() < NO_HEIGHT { height } else { f64::NAN };
                    rest = after;
                }
            }
        }
        let rest = self.pad(rest);
        if self.at_line_end(rest) {
            return Ok((rest, (x, z)));
        }
        let closed = self.separated(rest).filter(|after| self.at_line_end(after));
        closed.map(|after| (after, (x, z))).ok_or_else(|| self.column_count(start, rest))
    }

    /// The radius in millimetres of what the x column holds.
    fn radius(&self, rest: &[u8], value: f64) -> Result<f64, Trouble> {
        if !value.is_finite() {
            return Ok(f64::NAN);
        }
        let measured = value * self.to_radius;
        let x = measured + self.offset;
        if measured < 0.0 || x < 0.0 {
            let (found, fix) = if measured < 0.0 {
                (
                    format!("the negative x {}", in_full(value)),
                    "take the line out, or measure from the spindle's axis outward",
                )
            } else {
                (
                    format!(
                        "x {}, which the job's x_offset moves to the radius {} mm",
                        in_full(value),
                        in_full(x)
                    ),
                    "check `x_offset` in the job",
                )
            };
            return Err(Trouble::new(rest, found, "a radius of zero or above", fix));
        }
        if x >= NO_RADIUS {
            return Err(Trouble::new(
                rest,
                format!("x {}, a radius of {} mm", in_full(value), in_full(x)),
                format!("a radius below {NO_RADIUS} mm"),
                "check `unit`, `x` and `columns` in the job",
            ));
        }
        Ok(x)
    }

    /// The value of a field, not a number for a drop-out; leaves the cursor at the field's end.
    fn value<'a>(&mut self, rest: &'a [u8], start: &'a [u8]) -> Step<'a, f64> {
        let rest = self.pad(rest);
        if let Ok((after, value)) = number(rest) {
            if self.mark == Mark::Point && self.ends_field(after) {
                return Ok((after, value));
            }
            return self.marked_value(rest, after, value);
        }
        if self.ends_field(rest) {
            if self.separator == Separator::Blanks {
                return Err(self.column_count(start, rest));
            }
            return Ok((rest, f64::NAN));
        }
        if let Ok((after, _)) = take_while1::<_, _, ()>(|b| b == b'-').parse(rest)
            && self.ends_field(after)
        {
            return Ok((after, f64::NAN));
        }
        Err(self.not_a_number(rest))
    }

    /// A number while the file's decimal mark is not settled as a point: settles it, reads a decimal comma, refuses a mixture.
    fn marked_value<'a>(&mut self, rest: &'a [u8], after: &'a [u8], value: f64) -> Step<'a, f64> {
        let comma_follows = after.first() == Some(&b',') && self.separator != Separator::Byte(b',');
        let has_point = rest.get(..rest.len() - after.len()).is_some_and(|n| n.contains(&b'.'));
        if comma_follows {
            if has_point || self.mark == Mark::Point {
                return Err(self.mixed_marks(rest));
            }
            let (end, value) = decimal_comma(rest).ok_or_else(|| self.not_a_number(rest))?;
            if !self.ends_field(end) {
                return Err(self.not_a_number(rest));
            }
            self.mark = Mark::Comma;
            return Ok((end, value));
        }
        if !self.ends_field(after) {
            return Err(self.not_a_number(rest));
        }
        if has_point {
            if self.mark == Mark::Comma {
                return Err(self.mixed_marks(rest));
            }
            self.mark = Mark::Point;
        }
        Ok((after, value))
    }

    /// Past padding: blanks, and tabs where a tab is no separator.
    #[inline]
    fn pad<'a>(&self, rest: &'a [u8]) -> &'a [u8] {
        let tab = self.separator != Separator::Byte(b'\t');
        skip_while(rest, |b| b == b' ' || (tab && b == b'\t'))
    }

    /// Past one separator and the padding around it.
    #[inline]
    fn separated<'a>(&self, rest: &'a [u8]) -> Option<&'a [u8]> {
        let padded = self.pad(rest);
        match self.separator {
            Separator::Byte(b) => match padded.split_first() {
                Some((&first, after)) if first == b => Some(after),
                _ => None,
            },
            Separator::Blanks => (padded.len() < rest.len() && !self.at_line_end(padded)).then_some(padded),
        }
    }

    /// Whether the cursor stands at a line's end or the comment before it.
    #[inline]
    fn at_line_end(&self, rest: &[u8]) -> bool {
        match rest {
            [] | [b'#', ..] | [b'\r'] => true,
            [b'\r', next, ..] => *next == self.end || self.end == b'\r',
            [b, ..] => *b == self.end,
        }
    }

    /// Whether a field may end here.
    #[inline]
    fn ends_field(&self, rest: &[u8]) -> bool {
        let blank = |b: u8| b == b' ' || b == b'\t';
        match self.separator {
            Separator::Blanks => self.at_line_end(rest) || rest.first().is_some_and(|&b| blank(b)),
            Separator::Byte(s) => {
                let padded = self.pad(rest);
                padded.first() == Some(&s) || self.at_line_end(padded)
            }
        }
    }

    /// Past a field that is read over.
    fn skip_field<'a>(&self, rest: &'a [u8]) -> &'a [u8] {
        let rest = self.pad(rest);
        let ends = |b: u8| match self.separator {
            Separator::Byte(s) => b == s || b == b'\r' || b == self.end || b == b'#',
            Separator::Blanks => b == b' ' || b == b'\t' || b == b'\r' || b == self.end || b == b'#',
        };
        skip_while(rest, |b| !ends(b))
    }

    /// Past the next line end.
    #[inline]
    fn next_line<'a>(&self, rest: &'a [u8]) -> &'a [u8] {
        let end = self.end;
        let at_end = skip_while(rest, |b| b != end);
        at_end.get(1..).unwrap_or_default()
    }

    /// The line that starts here, without its comment and trailing blanks.
    fn line_of<'a>(&self, start: &'a [u8]) -> &'a [u8] {
        let end = self.end;
        let line: IResult<_, _, ()> = take_till(|b| b == end || b == b'#').parse(start);
        line.map_or(start, |(_, text)| text.trim_ascii())
    }

    /// Whether a line is a header: no field of it is a number or a drop-out.
    fn is_header(&self, text: &[u8]) -> bool {
        self.fields_of(text).iter().all(|f| !is_number_or_gap(f))
    }

    fn fields_of<'a>(&self, text: &'a [u8]) -> Vec<&'a [u8]> {
        match self.separator {
            Separator::Byte(s) => text.split(|&b| b == s).map(<[u8]>::trim_ascii).collect(),
            Separator::Blanks => text.split(u8::is_ascii_whitespace).filter(|f| !f.is_empty()).collect(),
        }
    }

    fn agree_with_header(&self, start: &[u8], text: &[u8]) -> Result<(), Trouble> {
        match header::contradiction(&self.fields_of(text), self.measured) {
            None => Ok(()),
            Some(c) => Err(Trouble {
                left: start.len(),
                found: c.found,
                expected: c.expected,
                fix: "make `columns` and `x` in the job say what the scan holds".into(),
            }),
        }
    }

    fn not_a_number(&self, rest: &[u8]) -> Trouble {
        // A stray carriage return ends a field before it has begun; it is shown as what it is.
        let field = (rest.len() - self.skip_field(rest).len()).max(1);
        let text = shown(rest.get(..field).unwrap_or(rest));
        let fix = if text.starts_with(['"', '\'']) {
            "take the quotation marks out"
        } else if text.chars().filter(|c| matches!(c, '.' | ',')).count() > 1 {
            "take thousands marks out: one decimal mark in a number"
        } else if text.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '+' | '-' | '.')) {
            "write the bare number; the unit stands in the job"
        } else {
            "mend the line, take it out, or put # before it to make it a comment"
        };
        Trouble::new(rest, text, "a number", fix)
    }

    fn mixed_marks(&self, rest: &[u8]) -> Trouble {
        let field = rest.len() - self.skip_field(rest).len();
        let expected = match self.mark {
            Mark::Comma => "a decimal comma, as in the lines before",
            _ => "one decimal mark, the same in the whole file",
        };
        Trouble::new(
            rest,
            shown(rest.get(..field).unwrap_or(rest)),
            expected,
            "use one decimal mark in the whole file, and no thousands marks",
        )
    }

    /// A line with more or fewer fields than the job names.
    fn column_count(&self, start: &[u8], rest: &[u8]) -> Trouble {
        let text = self.line_of(start);
        let count = self.fields_of(text).len();
        let named = self.measured.columns.len();
        let commas = self.separator == Separator::Byte(b',') && !text.contains(&b'.');
        let fix = if commas && count > named {
            "if these are decimal commas, separate the columns by semicolons; if not, name every column in the job's `columns` (`other` for one that is read over)"
        } else if count > named {
            "name every column in the job's `columns` (`other` for one that is read over)"
        } else {
            "mend the line or take it out, or make the job's `columns` name what the scan holds"
        };
        Trouble::new(
            rest,
            format!("{count} column{} in `{}`", if count == 1 { "" } else { "s" }, shown(text)),
            format!("{named} columns with {} between", self.separator.name()),
            fix,
        )
    }
}

fn starts_utf16(input: &[u8]) -> bool {
    input.starts_with(b"\xFF\xFE") || input.starts_with(b"\xFE\xFF")
}

fn utf16(left: usize) -> Trouble {
    Trouble {
        left,
        found: "text in UTF-16".into(),
        expected: "plain text, ASCII or UTF-8".into(),
        fix: "save the scan as UTF-8".into(),
    }
}

fn too_few_points(scan: &Scan, left: usize) -> Trouble {
    let found = match (scan.points.len(), scan.missing.len()) {
        (0, 0) => "an empty scan".to_string(),
        (0, m) => format!("no measured point; {m} lines are drop-outs"),
        (_, 0) => "a single measured point".into(),
        (_, m) => format!("a single measured point; {m} lines are drop-outs"),
    };
    Trouble {
        left,
        found,
        expected: "at least two measured points".into(),
        fix: "measure the line again, or name another file in the job".into(),
    }
}
