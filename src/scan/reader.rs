//! The scan reader: text of columns becomes measured points, in measured order, in millimetres of radius and height.
//!
//! One cursor runs over the bytes once; nom gives the structure of a line, fast-float2 the numbers.
//! What is read:
//! - any encoding and any quotation marks that [`super::text`] makes plain;
//! - separators: `;`, tab, `,` or blanks, found from the first reading and kept; blanks beside a separator are padding;
//! - a decimal point, or a decimal comma where the separator is not a comma; never both in one file, no thousands marks;
//! - every reading holds exactly the columns that the job names (empty ones at the end are let pass);
//! - lines of text above the readings ([`super::above`]); where one names columns or units it must agree with the job;
//! - the same header again, and lines of text or of a summary ([`super::summary`]) below the last reading;
//! - a comment from `#` to the end of the line, and lines that begin with `%`, `//`, `!`, or with `;` and a word;
//! - several traces in one file, parted by empty lines or headings or told apart by a column ([`super::traces`]);
//! - BOM, LF, CRLF or CR, blank lines, leading and trailing blanks, exponents.
//!
//! A field that is empty, `NaN`, `inf`, a spreadsheet's or a C library's way to write them, or dashes only, or a height no wheel can
//! have (a sensor's -999 or 9999), is a drop-out: kept apart, no fault. So is a reading of exactly 0 and 0 far from its neighbours.
//! Everything else that is no number is a fault with its place.

// Whatever a file holds, no index may fail.
#![warn(clippy::indexing_slicing)]

mod fields;
mod refusals;

use super::above::{Lines, is_summary, may_hold_pair};
use super::dialect::{Mark, Separator, decimal_comma, is_number_or_gap, number};
use super::guess::unread;
use super::text;
use super::traces::{After, Parted, Traces};
use super::trouble::{Trouble, place, place_in, shown};
use crate::diagnostics::InputError;
use crate::job::{Column, HeightSense, LengthUnit, Measured, XMeaning};
use crate::units::in_full;
use nom::Parser;
use nom::bytes::complete::take_while1;
use refusals::too_few_points;
use std::path::Path;

/// Heights of this many millimetres and more are a sensor's way to say that it saw nothing: -999 and 9999 are common
/// sentinels, and no bench sensor reads a wheel from this far (common practice, no source).
const NO_HEIGHT: f64 = 900.0;

/// No wheel is this large, in millimetres of radius; wheels reach some 32 in across (common practice, no source).
const NO_RADIUS: f64 = 1000.0;

/// Whether a number is -999, 9999, 99.99 or their like, as many sensors write that they saw nothing (common practice, no source).
fn in_nines(value: f64) -> bool {
    /// What these numbers lie below, from 9.9 on; 9 alone is a height as any other.
    const ABOVE: [f64; 9] = [1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9];
    /// By how much: one unit of the last digit, at most the fourth decimal.
    const SHORT: [f64; 5] = [1.0, 0.1, 0.01, 0.001, 0.0001];
    let value = value.abs();
    // Most heights end here.
    if value < 9.9 {
        return false;
    }
    let above = ABOVE.iter().find(|above| value < **above);
    above.is_some_and(|above| SHORT.iter().any(|by| ((above - value) / by - 1.0).abs() < 1e-3))
}

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
    /// The lines whose height is written in nines alone, which in a small unit a wheel may have: a drop-out where it jumps
    /// or, at an end of the line, lies off the face.
    pub nines: Vec<u32>,
    /// How many lines of a summary below the readings were left aside.
    pub summary: usize,
    /// The first line above the readings that speaks of them, and that of the first reading, from 1; none where what stands above is not
    /// said of this trace alone.
    pub above: Option<(u32, u32)>,
}

type Step<'a, T> = Result<(&'a [u8], T), Trouble>;

/// One reading as it stands in its line.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Row<'a> {
    /// Radius, millimetres; not a number for a drop-out.
    pub x: f64,
    /// Height, millimetres; not a number for a drop-out.
    pub z: f64,
    /// Whether both columns hold zero.
    pub zeros: bool,
    /// Whether the height is written in nines alone.
    pub nines: bool,
    /// What stands in the column that tells traces apart.
    pub trace: &'a [u8],
}

/// Reads a scan that holds one trace.
///
/// # Errors
/// As [`read_trace`].
pub fn read(bytes: &[u8], file: &Path, measured: &Measured) -> Result<Scan, InputError> {
    read_trace(bytes, file, measured, None)
}

/// Reads one trace of a scan: the only one where none is named.
///
/// # Errors
/// The first fault of the text: text where a number must stand, too few or too many columns, a negative radius, mixed
/// decimal marks, a header that contradicts the job, several traces of which none is named, or fewer than two points.
pub fn read_trace(
    bytes: &[u8],
    file: &Path,
    measured: &Measured,
    trace: Option<&str>,
) -> Result<Scan, InputError> {
    let text = text::plain(bytes).map_err(|t| place_in(file, t))?;
    let input = text.as_ref();
    let read = Reader::new(input, measured).run(input, trace);
    read.map_err(|(line, start, t)| asked_by_headings(place(file, line, start, t), bytes, measured))
}

/// The traces of a scan that lines part, for the guess of a job file; none where it is one line or a column tells them apart.
///
/// # Errors
/// As [`read_trace`], but that several traces are no fault.
pub(super) fn parted(bytes: &[u8], file: &Path, measured: &Measured) -> Result<Vec<Parted>, InputError> {
    let text = text::plain(bytes).map_err(|t| place_in(file, t))?;
    let input = text.as_ref();
    let mut reader = Reader::new(input, measured);
    match reader.traces(input) {
        Ok((traces, _)) => Ok(traces.parted(&reader, input)),
        Err((line, start, t)) => Err(place(file, line, start, t)),
    }
}

/// A fault with all that the headings ask for in the job, not only what was found first: a job that is wrong in several of its keys is
/// mended at once.
fn asked_by_headings(fault: InputError, bytes: &[u8], measured: &Measured) -> InputError {
    let asked = unread(bytes, &fault.file, None).map(|guess| guess.over.asks(measured)).unwrap_or_default();
    let asked: Vec<String> = asked.into_iter().map(|key| format!("`{key}`")).collect();
    if asked.iter().all(|key| fault.fix.contains(key)) {
        return fault;
    }
    InputError { fix: format!("{}; in all, the headings ask for {}", fault.fix, asked.join(", ")), ..fault }
}

/// Reads a scan round the wheel, whose x are angles: several turns of it are one measurement.
///
/// # Errors
/// As [`read_trace`].
pub fn read_round(bytes: &[u8], file: &Path, measured: &Measured) -> Result<Scan, InputError> {
    let text = text::plain(bytes).map_err(|t| place_in(file, t))?;
    let input = text.as_ref();
    let mut reader = Reader { round: true, ..Reader::new(input, measured) };
    reader.run(input, None).map_err(|(line, start, t)| place(file, line, start, t))
}

/// The cursor's settings: what the job says, and what was found in the file.
pub(super) struct Reader<'m> {
    pub measured: &'m Measured,
    pub separator: Separator,
    /// Whether x runs round the wheel and not across it.
    pub round: bool,
    mark: Mark,
    /// The byte that ends a line: LF, or CR in a file without LF.
    end: u8,
    to_radius: f64,
    to_height: f64,
    offset: f64,
    /// Heights that the unit makes higher than any wheel, with the greatest as it stands.
    beyond: (usize, f64),
    /// The line of the first of them.
    first_beyond: Option<u32>,
}

impl<'m> Reader<'m> {
    fn new(input: &[u8], measured: &'m Measured) -> Self {
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
            round: false,
            mark: Mark::Unseen,
            end: if input.contains(&b'\n') { b'\n' } else { b'\r' },
            to_radius: measured.unit.as_mm() * half,
            to_height: measured.z_unit.unwrap_or(measured.unit).as_mm() * sign,
            offset: measured.x_offset.as_mm(),
            beyond: (0, 0.0),
            first_beyond: None,
        }
    }

    /// One trace of the file, the only one where none is named.
    fn run<'a>(&mut self, input: &'a [u8], trace: Option<&str>) -> Result<Scan, (u32, &'a [u8], Trouble)> {
        let (traces, passed) = self.traces(input)?;
        let whole_file = |t: Trouble| self.in_whole_file(input, t);
        if self.separator == Separator::Byte(b',') && self.mark == Mark::Unseen {
            self.refuse_dropped_decimals(input).map_err(whole_file)?;
        }
        let scan = traces.select(trace, self, input).map_err(whole_file)?;
        if scan.points.len() < 2 {
            let trouble = self.wrong_unit(&scan).unwrap_or_else(|| too_few_points(&scan, passed));
            return Err(whole_file(trouble));
        }
        Ok(scan)
    }

    /// The place of a fault that the file shows as a whole.
    fn in_whole_file<'a>(&self, input: &'a [u8], t: Trouble) -> (u32, &'a [u8], Trouble) {
        match t.line {
            0 => (0, input, t),
            line => {
                let start = (1..line).fold(input, |rest, _| self.next_line(rest));
                (line, start, Trouble { left: start.len(), ..t })
            }
        }
    }

    /// The whole file: text above and below passed over, readings taken. With it, how many lines were passed over.
    fn traces<'a>(&mut self, input: &'a [u8]) -> Result<(Traces, usize), (u32, &'a [u8], Trouble)> {
        // A line of data is rarely shorter than a dozen bytes; a wrong guess costs only a move.
        let mut traces = Traces::new(input.len() / 16, &self.measured.columns);
        let mut lines = Lines::default();
        let mut rest = input;
        let mut line: u32 = 0;
        while !rest.is_empty() {
            line = line.saturating_add(1);
            let start = rest;
            let at = |t| (line, start, t);
            rest = self.pad(rest);
            if self.at_line_end(rest) && !self.is_gap(rest) {
                if rest.starts_with(b"#") {
                    lines.commented(self, start, &mut traces).map_err(at)?;
                } else {
                    traces.part(After::EmptyLine);
                }
            } else if lines.above_readings(self, start, &mut traces).map_err(at)? {
                // Text above the readings is passed over.
            } else if lines.entry_again(self, start) {
                traces.part(After::Header);
            } else if is_summary(self, start) {
                traces.summary();
            } else {
                // The first reading told the separator: a tab before it may end an empty field.
                match self.row(self.pad(start), start) {
                    Ok((after, row)) => {
                        if self.beyond.0 > 0 {
                            self.first_beyond.get_or_insert(line);
                        }
                        lines.reading();
                        traces.add(row, line);
                        rest = after;
                    }
                    Err(trouble) => {
                        if !lines.below_readings(self, start, &mut traces).map_err(at)? {
                            return Err(at(self.other_layout(start).unwrap_or(trouble)));
                        }
                    }
                }
            }
            rest = self.next_line(rest);
        }
        Ok((traces, lines.passed))
    }

    /// Heights beyond all bounds on every line: the unit is wrong, and not the measurement.
    fn wrong_unit(&self, scan: &Scan) -> Option<Trouble> {
        let (beyond, greatest) = self.beyond;
        if 2 * beyond <= scan.missing.len() {
            return None;
        }
        let unit = self.measured.z_unit.unwrap_or(self.measured.unit);
        let fits = |u: &LengthUnit| greatest * u.as_mm() < NO_HEIGHT;
        let fitting: Vec<&str> = LengthUnit::ALL.iter().filter(|u| fits(u)).map(|u| u.key()).collect();
        let fix = if fitting.is_empty() {
            "see that `columns` names the column of heights `z`".to_owned()
        } else {
            format!(
                "write the `z_unit` that the heights are in: they would fit {}; the sensor's manual or the heading says which",
                fitting.join(", ")
            )
        };
        Some(Trouble {
            left: 0,
            line: self.first_beyond.unwrap_or(0),
            found: format!(
                "{beyond} heights up to {} {}, which are {} mm",
                in_full(greatest),
                unit.words(),
                in_full((greatest * unit.as_mm()).round())
            ),
            expected: format!("heights below {NO_HEIGHT} mm in the unit that is told"),
            fix,
        })
    }

    /// The lines of a text.
    pub fn lines<'a>(&self, input: &'a [u8]) -> impl Iterator<Item = &'a [u8]> + use<'a> {
        let end = self.end;
        input.split(move |&b| b == end)
    }

    /// Decimal commas beside commas between the columns, where the job reads over the decimals: they would be dropped in silence.
    fn refuse_dropped_decimals(&self, input: &[u8]) -> Result<(), Trouble> {
        let columns = &self.measured.columns;
        let after = |wanted: Column| {
            let at = columns.iter().position(|&c| c == wanted)? + 1;
            (columns.get(at) == Some(&Column::Other)).then_some(at)
        };
        let (Some(x), Some(z)) = (after(Column::X), after(Column::Z)) else { return Ok(()) };
        let digits = |f: &&[u8]| !f.is_empty() && f.iter().all(u8::is_ascii_digit);
        let rows = (1..).zip(self.lines(input).map(|line| self.fields_of(self.line_of(line))));
        let mut rows =
            rows.filter(|(_, row)| row.len() == columns.len() && row.iter().any(digits)).peekable();
        let decimals = |row: &[&[u8]]| [x, z].iter().all(|&i| row.get(i).is_some_and(digits));
        let Some(line) = rows.peek().map(|(line, _)| *line) else { return Ok(()) };
        if !rows.all(|(_, row)| decimals(&row)) {
            return Ok(());
        }
        Err(Trouble {
            left: 0,
            line,
            found: "whole numbers after x and after z, which `columns` reads over: they look like the decimals of decimal commas".into(),
            expected: "decimal points, or another separator than the comma".into(),
            fix: "export the scan with semicolons between the columns, or with decimal points; then name the columns anew".into(),
        })
    }

    /// One line of data; leaves the cursor at its line end.
    fn row<'a>(&mut self, mut rest: &'a [u8], start: &'a [u8]) -> Step<'a, Row<'a>> {
        let (mut x, mut z) = (f64::NAN, f64::NAN);
        let (mut zeros, mut nines) = (true, false);
        let mut trace: &[u8] = b"";
        for (i, column) in self.measured.columns.iter().enumerate() {
            if i > 0 {
                let Some(after) = self.separated(rest) else { return Err(self.column_count(start, rest)) };
                rest = after;
            }
            match column {
                Column::Other => rest = self.skip_field(rest),
                Column::Trace => {
                    let after = self.skip_field(rest);
                    trace = rest.get(..rest.len() - after.len()).unwrap_or_default().trim_ascii();
                    rest = after;
                }
                Column::X => {
                    let (after, value) = self.value(rest, start)?;
                    zeros &= value == 0.0;
                    x = self.radius(rest, value)?;
                    rest = after;
                }
                Column::Z => {
                    let (after, value) = self.value(rest, start)?;
                    zeros &= value == 0.0;
                    nines = in_nines(value);
                    let height = value * self.to_height;
                    z = if height.abs() < NO_HEIGHT { height } else { f64::NAN };
                    if height.is_finite() && z.is_nan() {
                        self.beyond = (self.beyond.0 + 1, self.beyond.1.max(value.abs()));
                    }
                    rest = after;
                }
            }
        }
        rest = self.pad(rest);
        // A spreadsheet writes empty columns to the end.
        while !self.at_line_end(rest) {
            let Some(after) = self.separated(rest).filter(|after| self.ends_field(after)) else {
                return Err(self.column_count(start, rest));
            };
            rest = self.pad(after);
        }
        Ok((rest, Row { x, z, zeros, nines, trace }))
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
                "check `unit`, `x`, `x_offset` and `columns` in the job; put # before a line that is no reading",
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
            let marked = self.marked_value(rest, after, value);
            return if marked.is_err() && self.is_gap(rest) {
                Ok((self.past_field(rest), f64::NAN))
            } else {
                marked
            };
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
        if self.is_gap(rest) {
            return Ok((self.past_field(rest), f64::NAN));
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
}
