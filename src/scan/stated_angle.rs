//! The angle that a scan states above its readings, held against the one that the job gives its line.
//!
//! Two scans that change places in a job turn the face that is fitted to them: each is then believed to hold what another measured.
//! An angle is stated by a line that calls it one (`Angle: 72`, `# winkel = 72,0 deg`), or by degrees (`line at 120 degrees`) in a
//! line that speaks of no other angle: only of the line, the trace, the wheel. Every other number of degrees may be a probe's tilt.
//!
//! Limit: where the angles of all files count from another place than the job's, the file is refused too; a person then says which holds.

use super::dialect::number;
use super::text;
use super::trouble::{Trouble, place, place_in, shown};
use crate::diagnostics::InputError;
use crate::units::Angle;
use std::path::Path;

/// Angles of one line that are nearer than this agree, degrees: a person reads a scale on a chuck no finer.
const AGREE: f64 = 1.0;

/// Words that call what they stand beside an angle, in small letters: English, German, Italian, Spanish.
pub(super) const ANGLES: &[&str] = &["angle", "angles", "winkel", "angolo", "ángulo", "angulo"];

/// Words for degrees.
pub(super) const DEGREES: &[&str] = &["deg", "degree", "degrees", "grad", "°"];

/// Words that a line of prose may hold beside the angle at which it was measured.
const OF_A_LINE: &[&str] = &[
    "line", "trace", "scan", "measured", "taken", "position", "wheel", "spindle", "at", "the", "of", "this",
    "turned", "to", "by", "drawn", "outward", "inward", "hand", "linie", "spur", "bei", "gemessen", "rad",
    "felge",
];

/// An angle as it stands in a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stated<'a> {
    /// Degrees.
    pub degrees: f64,
    /// Byte of the line at which its number begins.
    pub at: usize,
    /// The number as it stands.
    pub number: &'a str,
}

/// The angle of the wheel that a line above the readings states.
pub(super) fn stated(line: &str) -> Option<Stated<'_>> {
    keyed(line).or_else(|| in_prose(line))
}

/// `Angle: 72`, where the key calls it an angle.
fn keyed(line: &str) -> Option<Stated<'_>> {
    // Between blanks nothing but the word parts the key from the angle: `Angle 72`.
    let word = |line: &str| {
        let end = line
            .find(' ')
            .filter(|&end| line.get(..end).is_some_and(|w| ANGLES.contains(&w.to_lowercase().as_str())));
        end.filter(|_| !line.contains([':', '=', ';', ',', '\t']))
    };
    let end = word(line).or_else(|| line.find([':', '=', ';', ',', '\t']))?;
    let (key, rest) = line.split_at_checked(end)?;
    let words = words(key);
    let of_wheel =
        |w: &str| OF_A_LINE.contains(&w) && w != "rad" || ANGLES.contains(&w) || DEGREES.contains(&w);
    let calls = words.iter().any(|w| ANGLES.contains(&w.as_str()));
    if !calls || !words.iter().all(|w| of_wheel(w)) {
        return None;
    }
    let value = rest.trim_start_matches([':', '=', ';', ',', '\t', ' ']);
    let written = value.split([' ', ';', '\t', '°', 'd']).next().unwrap_or(value).trim_end_matches(',');
    let after = value.get(written.len()..)?.trim_matches([' ', ';', ',', '\t']).to_lowercase();
    let at = line.len() - value.len();
    (after.is_empty() || DEGREES.contains(&after.as_str())).then(|| of(written, at)).flatten()
}

/// Degrees in a line that speaks of nothing but the line.
fn in_prose(line: &str) -> Option<Stated<'_>> {
    let lower = line.to_lowercase();
    // The place in small letters must be that in the line.
    if lower.len() != line.len() {
        return None;
    }
    let unit = DEGREES.iter().filter_map(|d| lower.find(d)).min()?;
    let before = line.get(..unit)?.trim_end();
    let begin = before.rfind(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',' | '+' | '-')));
    let at =
        begin.map_or(0, |b| b + before.get(b..).and_then(|t| t.chars().next()).map_or(1, char::len_utf8));
    let plain = |w: &String| {
        let w = w.as_str();
        OF_A_LINE.contains(&w)
            || ANGLES.contains(&w)
            || DEGREES.contains(&w)
            || w.starts_with(|c: char| c.is_ascii_digit())
    };
    let one = lower
        .split(|c: char| !c.is_ascii_digit() && !matches!(c, '.' | ','))
        .filter(|t| t.contains(|c: char| c.is_ascii_digit()));
    (words(line).iter().all(plain) && one.count() == 1).then(|| of(before.get(at..)?, at)).flatten()
}

fn of(written: &str, at: usize) -> Option<Stated<'_>> {
    let point = written.replace(',', ".");
    let (rest, degrees) = number(point.as_bytes()).ok()?;
    (rest.is_empty() && degrees.abs() <= 360.0).then_some(Stated { degrees, at, number: written })
}

fn words(text: &str) -> Vec<String> {
    let lower = text.to_lowercase();
    lower
        .split(|c: char| !c.is_alphanumeric() && c != '°')
        .filter(|w| !w.is_empty())
        .map(str::to_owned)
        .collect()
}

/// Refuses a scan whose lines above the first reading state another angle than the job: from one line, from 1, to before another.
///
/// # Errors
/// With the place of the angle, and both.
pub(super) fn check(bytes: &[u8], file: &Path, (from, to): (u32, u32), at: Angle) -> Result<(), InputError> {
    let input = text::plain(bytes).map_err(|t| place_in(file, t))?;
    let end = if input.contains(&b'\n') { b'\n' } else { b'\r' };
    let lines = (1..to).zip(input.split(|&b| b == end)).filter(|(number, _)| *number >= from);
    let found = lines.filter_map(|(number, line)| Some((number, line, std::str::from_utf8(line).ok()?)));
    for (number, line, text) in found {
        let Some(said) = stated(text.trim_end()) else { continue };
        let job = at.as_deg();
        let apart = (said.degrees - job).rem_euclid(360.0);
        if apart.min(360.0 - apart) <= AGREE {
            continue;
        }
        let trouble = Trouble {
            left: line.len().saturating_sub(said.at),
            line: 0,
            found: format!("`{}`, an angle of {} deg", shown(text.trim().as_bytes()), said.number),
            expected: format!("{} deg, the `at` of this line in the job", rounded(job)),
            fix: format!(
                "write `at: {} deg` in the job, or name the file that was measured at {} deg; if the angle in the file is wrong, correct it or take its line out",
                said.number.replace(',', "."),
                rounded(job)
            ),
        };
        return Err(place(file, number, line, trouble));
    }
    Ok(())
}

/// Degrees to the hundredth, which no turn of a hand is finer than.
fn rounded(degrees: f64) -> f64 {
    (degrees * 100.0).round() / 100.0
}
