//! Angles of lines, guessed from what their files and traces are called, and from the columns that tell traces apart.
//!
//! A name is believed only where it can be nothing else: beside those of the other lines it must be spread over the turn.

use super::guess::{Because, Trace};
use super::stated_angle::{ANGLES, DEGREES};
use super::traces::bare;
use std::path::Path;

/// The last number in the name of a file, where it can be an angle.
pub(super) fn angle_of_name(file: &Path) -> Option<Because<f64>> {
    let stem = file.file_stem()?.to_str()?;
    let digits = stem.rsplit(|c: char| !c.is_ascii_digit()).find(|part| !part.is_empty())?;
    // `wheel31` is a wheel's number; `line120` and `a 30` may be angles.
    let before = stem.rsplit_once(digits).and_then(|(before, _)| before.chars().next_back());
    if digits.len() < 3 && before.is_some_and(char::is_alphabetic) {
        return None;
    }
    let degrees = digits.parse::<u32>().ok().filter(|a| *a < 360)?;
    Some((f64::from(degrees), "the number in the file's name".to_owned()))
}

/// Lines of one wheel are never measured nearer to each other than this, degrees: numbers that are, count files.
const NEAREST: f64 = 5.0;

/// Lines of one wheel leave no more of the turn empty than two of three even ones do, degrees.
const EMPTY: f64 = 240.0;

/// Whether numbers can be the angles, in degrees, of lines spread over one turn; a single one has none beside it to tell.
#[must_use]
pub fn spread_over_turn(degrees: &[f64]) -> bool {
    let mut sorted: Vec<f64> = degrees.iter().map(|d| d.rem_euclid(360.0)).collect();
    sorted.sort_by(f64::total_cmp);
    let next = sorted.iter().skip(1).copied().chain(sorted.first().map(|first| first + 360.0));
    let mut gaps = sorted.iter().zip(next).map(|(a, b)| b - a);
    sorted.len() == 1 || gaps.all(|gap| gap > NEAREST && gap <= EMPTY)
}

/// The angles of traces that are named by them: by a heading that calls them angles, or by numbers that can be nothing else, since whoever
/// counts lines counts nearer ones.
pub(super) fn angles(traces: &mut [Trace], column: usize, heading: Option<&str>) {
    let heading = heading.unwrap_or_default();
    let named = if heading.is_empty() { (column + 1).to_string() } else { format!("`{heading}`") };
    let text = heading.to_lowercase();
    let says = text.contains('°')
        || text.split(|c: char| !c.is_alphabetic()).any(|w| ANGLES.contains(&w) || DEGREES.contains(&w));
    let values: Option<Vec<f64>> = traces.iter().map(|t| bare(&t.name).parse().ok()).collect();
    let spread = values.is_some_and(|all| all.len() > 1 && spread_over_turn(&all));
    let of = |name: &str| {
        let degrees = bare(name);
        let value = degrees.parse::<f64>().ok()?;
        (0.0..360.0).contains(&value).then_some(degrees)
    };
    if (says || spread) && traces.iter().all(|t| of(&t.name).is_some()) {
        let why = if says {
            format!("the column {named}")
        } else {
            format!("the column {named} holds numbers that are spread over a turn, as angles are")
        };
        for trace in &mut *traces {
            trace.angle = of(&trace.name).map(|a| (a, why.clone()));
        }
    }
}
