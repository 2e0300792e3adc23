//! Readings round the wheel at one radius: what a dial indicator read, or a sensor while the wheel was turned.
//!
//! Few lines cannot show how the wheel runs between them; eight readings at the rim can. Their zero is unknown: an indicator is set
//! where it stands, so only their differences count.
//!
//! A scan round the wheel holds angle and height. It may be another program's than the lines are: where headings name both columns, they
//! say which is which, and the unit of the heights.

use super::above::{fields_of_headings, may_hold_pair};
use super::header::{Name, heading};
use super::stated_angle::{ANGLES, DEGREES};
use super::text;
use super::trouble::{Trouble, place, place_in};
use crate::diagnostics::InputError;
use crate::job::{Column, HeightSense, LengthUnit};
use std::path::Path;

/// Readings round the wheel at one radius.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RingReadings {
    /// Radius, millimetres.
    pub radius: f64,
    /// Angle of the wheel (radians) and height (millimetres, away from the chuck, from any zero) of each reading.
    pub heights: Vec<(f64, f64)>,
    /// Standard deviation of one reading, millimetres.
    pub noise: f64,
}

/// A dial indicator is read to half a hundredth; bearing and hand add as much (common practice, no source), millimetres.
pub const DIAL_NOISE: f64 = 0.007;

/// What the headings of a scan round the wheel say of its columns.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Headed {
    /// The columns, with the angle for x.
    pub columns: Vec<Column>,
    /// The unit of the heights, where it is said.
    pub unit: Option<LengthUnit>,
    /// Which way the heights grow, where it is said.
    pub z: Option<HeightSense>,
}

/// What stands over the columns of angle and height: the nearest line above the readings that names both; none where no line does.
///
/// # Errors
/// If the angles are said not to be degrees.
pub(super) fn headed(bytes: &[u8], file: &Path) -> Result<Option<Headed>, InputError> {
    let text = text::plain(bytes).map_err(|t| place_in(file, t))?;
    let end = if text.contains(&b'\n') { b'\n' } else { b'\r' };
    let above = text.split(|&b| b == end).map(<[u8]>::trim_ascii).take_while(|line| !is_reading(line));
    let mut found = None;
    for (line, text) in (1..).zip(above) {
        found = of_line(text, file, line)?.or(found);
    }
    Ok(found)
}

/// Whether a line begins with a number and may hold two.
fn is_reading(line: &[u8]) -> bool {
    line.first().is_some_and(|b| b.is_ascii_digit() || matches!(b, b'+' | b'-' | b'.')) && may_hold_pair(line)
}

fn of_line(text: &[u8], file: &Path, line: u32) -> Result<Option<Headed>, InputError> {
    let fields = fields_of_headings(text);
    let fields: Vec<&str> = fields.iter().map(String::as_str).collect();
    let along = |name| matches!(name, Name::Along | Name::Height | Name::Distance);
    let x = fields.iter().position(|field| is_angle(field));
    let z = fields.iter().rposition(|field| heading(field).0.is_some_and(along));
    let (Some(x), Some(z)) = (x, z) else { return Ok(None) };
    let says = fields.get(x).copied().unwrap_or_default();
    if words(says).iter().any(|word| RADIANS.contains(&word.as_str())) {
        let trouble = Trouble::new(
            text,
            format!("`{}`, angles in radians", says.trim()),
            "angles in degrees",
            "export the angles in degrees, and call them so",
        );
        return Err(place(file, line, text, trouble));
    }
    let column = |at: usize| match at {
        at if at == x => Column::X,
        at if at == z => Column::Z,
        _ => Column::Other,
    };
    let (name, unit) = heading(fields.get(z).copied().unwrap_or_default());
    let z = match name {
        Some(Name::Height) => Some(HeightSense::Height),
        Some(Name::Distance) => Some(HeightSense::Distance),
        _ => None,
    };
    Ok(Some(Headed { columns: (0..fields.len()).map(column).collect(), unit, z }))
}

/// Words for angles that are no degrees, in small letters.
const RADIANS: &[&str] = &["rad", "radian", "radians"];

/// Whether a field is the heading of angles.
fn is_angle(field: &str) -> bool {
    let known = |word: &String| ANGLES.contains(&word.as_str()) || DEGREES.contains(&word.as_str());
    words(field).iter().any(known)
}

fn words(field: &str) -> Vec<String> {
    let lower = field.to_lowercase().replace('°', " ° ");
    lower
        .split(|c: char| !c.is_alphanumeric() && c != '°')
        .filter(|w| !w.is_empty())
        .map(str::to_owned)
        .collect()
}
